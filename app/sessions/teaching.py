"""Hours that technicians can give to inductions: put in for days, and taken back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.sessions.asked import MOST_DAYS
from app.sessions.models import TeachingHours
from app.sessions.wall import read_clock


def hours_between(
    session: Session, people: Iterable[int], first_on: date, last_on: date
) -> list[TeachingHours]:
    """Return the hours that stand, in order of day and time. One statement."""
    return list(
        session.execute(
            select(TeachingHours)
            .where(
                TeachingHours.person_id.in_(list(people)),
                TeachingHours.day >= first_on,
                TeachingHours.day <= last_on,
                stands(TeachingHours),
            )
            .order_by(TeachingHours.day, TeachingHours.opens, TeachingHours.id)
        ).scalars()
    )


def give_hours(
    session: Session,
    *,
    person_id: int,
    first_on: date,
    last_on: date,
    weekdays: frozenset[int],  # Monday is 0; none: every day
    opens: str,
    closes: str,
    now: datetime,
    today: date,
) -> int:
    """Put hours in for each of these days; return for how many days.

    Raises:
        BadInput: a time that is none.
        Refused: the days are past, too many or none, or hours overlap what is on record.
    """
    _insist_on_times(opens, closes)
    days = _days(first_on, last_on, weekdays, today)
    for other in hours_between(session, [person_id], days[0], days[-1]):
        if other.day in days and other.opens < closes and opens < other.closes:
            raise Refused(
                f"{other.day:%a} {other.day.day} {other.day:%b}, {other.opens} to {other.closes} "
                "is on record already: take that back first. Nothing was recorded.",
                code="overlap",
                status=422,
            )
    session.add_all(
        TeachingHours(
            person_id=person_id,
            day=day,
            opens=opens,
            closes=closes,
            recorded_by_id=person_id,
            occurred_at=now,
            recorded_at=now,
        )
        for day in days
    )
    _log(session, "sessions:hours:give", person_id, len(days), now)
    return len(days)


def _insist_on_times(opens: str, closes: str) -> None:
    if read_clock(opens) >= read_clock(closes):
        raise Refused("The end comes after the beginning.", code="time", status=422)


def _days(first_on: date, last_on: date, weekdays: frozenset[int], today: date) -> list[date]:
    if last_on < first_on:
        raise Refused("The last day comes before the first.", code="days", status=422)
    if first_on < today:
        raise Refused("Hours are put in for days to come.", code="days", status=422)
    if (last_on - first_on).days >= MOST_DAYS:
        raise Refused(f"At most {MOST_DAYS} days at a time.", code="days", status=422)
    every = (first_on + timedelta(days=n) for n in range((last_on - first_on).days + 1))
    days = [day for day in every if not weekdays or day.weekday() in weekdays]
    if not days:
        raise Refused("None of these days is such a weekday.", code="days", status=422)
    return days


def take_back(session: Session, teaching_id: int, *, person_id: int, now: datetime) -> None:
    """Take the hours of one day back. Whose they are does so."""
    row = session.get(TeachingHours, teaching_id)
    if row is None or row.ends_id is not None or row.person_id != person_id:
        raise NotFound("You have no such hours.")
    if session.execute(select(TeachingHours.id).where(TeachingHours.ends_id == row.id)).first():
        raise Refused("Those hours were taken back already.", code="ended")
    _end(session, [row], now)
    _log(session, "sessions:hours:take-back", person_id, 1, now)


def take_all_back(
    session: Session, *, person_id: int, first_on: date, last_on: date, now: datetime
) -> int:
    """Take all hours of these days back; return of how many stretches."""
    rows = hours_between(session, [person_id], first_on, last_on)
    if not rows:
        raise Refused("You have put in no hours for these days.", code="none", status=422)
    _end(session, rows, now)
    _log(session, "sessions:hours:take-back", person_id, len(rows), now)
    return len(rows)


def _end(session: Session, rows: Iterable[TeachingHours], now: datetime) -> None:
    session.add_all(
        TeachingHours(
            person_id=row.person_id,
            day=row.day,
            opens=row.opens,
            closes=row.closes,
            ends_id=row.id,
            recorded_by_id=row.person_id,
            occurred_at=now,
            recorded_at=now,
        )
        for row in rows
    )


def _log(session: Session, action: str, person_id: int, count: int, now: datetime) -> None:
    log.record(
        session,
        action=action,
        subject=f"person:{person_id}",
        actor_id=person_id,
        now=now,
        detail={"stretches": count},
    )
