"""When areas are open: weekly hours, days off, terms. Each a row that a later row can end."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, class_mapper

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.machines.models import Area, ClosedDays, During, OpeningHours, Staffing, Term

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_WALL_TIME = re.compile(r"(?:[01]\d|2[0-3]):[0-5]\d|24:00")


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """What says when an area is open, as it stands."""

    hours: list[OpeningHours]
    closed: list[ClosedDays]
    terms: list[Term]


def calendar_of(session: Session, area_id: int | None) -> Calendar:
    """Return the hours, days off and terms that stand; without an area: the site's own."""
    hours = (
        select(OpeningHours)
        .where(OpeningHours.area_id == area_id, stands(OpeningHours))
        .order_by(OpeningHours.weekday, OpeningHours.opens, OpeningHours.id)
    )
    closed = (
        select(ClosedDays)
        .where(or_(ClosedDays.area_id.is_(None), ClosedDays.area_id == area_id), stands(ClosedDays))
        .order_by(ClosedDays.first_on, ClosedDays.id)
    )
    terms = select(Term).where(stands(Term)).order_by(Term.first_on, Term.id)
    return Calendar(
        hours=list(session.execute(hours).scalars()),
        closed=list(session.execute(closed).scalars()),
        terms=list(session.execute(terms).scalars()),
    )


def add_hours(
    session: Session,
    area: Area,
    *,
    weekdays: list[int],
    opens: str,
    closes: str,
    staffing: Staffing,
    during: During,
    actor_id: int,
    now: datetime,
) -> None:
    """Open an area on these weekdays, by the site's wall clock, from then on."""
    for wall_time in (opens, closes):
        if not _WALL_TIME.fullmatch(wall_time):
            raise Refused(f"“{wall_time}” is not a time such as 09:00.", code="time", status=422)
    if not opens < closes:
        raise Refused(
            "Opening comes before closing. A stretch over midnight is two: until 24:00, and from "
            "00:00 on the next day.",
            code="time",
            status=422,
        )
    if not weekdays or not set(weekdays) <= set(range(7)):
        raise Refused("Choose at least one day of the week.", code="weekday", status=422)
    _insist_on_no_overlap(session, area, weekdays, opens, closes, during)
    for weekday in sorted(set(weekdays)):
        session.add(
            OpeningHours(
                area_id=area.id,
                weekday=weekday,
                opens=opens,
                closes=closes,
                staffing=staffing,
                during=during,
                recorded_by_id=actor_id,
                occurred_at=now,
                recorded_at=now,
            )
        )
    _log(session, "machines:hours:add", f"area:{area.id}", actor_id, now)


def _insist_on_no_overlap(
    session: Session, area: Area, weekdays: list[int], opens: str, closes: str, during: During
) -> None:
    """Refuse hours that say two things of one moment."""
    for other in calendar_of(session, area.id).hours:
        same_season = During.ALWAYS in (during, other.during) or during is other.during
        if (
            other.weekday in weekdays
            and same_season
            and other.opens < closes
            and opens < other.closes
        ):
            raise Refused(
                f"{WEEKDAYS[other.weekday]} {other.opens} to {other.closes} is on record already: "
                "end that first.",
                code="overlap",
                status=422,
            )


def end_hours(session: Session, hours_id: int, *, actor_id: int, now: datetime) -> None:
    """End one stretch of opening hours from now on."""
    row = session.get(OpeningHours, hours_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There are no such hours.")
    _end(session, row, actor_id, now)
    _log(session, "machines:hours:end", f"opening_hours:{row.id}", actor_id, now)


def close_days(
    session: Session,
    *,
    area_id: int | None,
    name: str,
    first_on: date,
    last_on: date,
    actor_id: int,
    now: datetime,
) -> None:
    """Keep an area, or the whole site, closed on these days."""
    _insist_on_days(name, first_on, last_on)
    session.add(
        ClosedDays(
            area_id=area_id,
            name=name,
            first_on=first_on,
            last_on=last_on,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    _log(session, "machines:closed-days:add", f"area:{area_id or 'all'}", actor_id, now)


def end_closed_days(session: Session, closed_id: int, *, actor_id: int, now: datetime) -> None:
    """Take days off back."""
    row = session.get(ClosedDays, closed_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There are no such days off.")
    _end(session, row, actor_id, now)
    _log(session, "machines:closed-days:end", f"closed_days:{row.id}", actor_id, now)


def add_term(
    session: Session, *, name: str, first_on: date, last_on: date, actor_id: int, now: datetime
) -> None:
    """Put a term of the year on record."""
    _insist_on_days(name, first_on, last_on)
    session.add(
        Term(
            name=name,
            first_on=first_on,
            last_on=last_on,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    _log(session, "machines:term:add", "term", actor_id, now)


def end_term(session: Session, term_id: int, *, actor_id: int, now: datetime) -> None:
    """Take a term back."""
    row = session.get(Term, term_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such term.")
    _end(session, row, actor_id, now)
    _log(session, "machines:term:end", f"term:{row.id}", actor_id, now)


def _insist_on_days(name: str, first_on: date, last_on: date) -> None:
    if not name.strip():
        raise Refused("Give it a name.", code="name-missing", status=422)
    if last_on < first_on:
        raise Refused("The last day comes before the first.", code="days", status=422)


def _end(
    session: Session, row: OpeningHours | ClosedDays | Term, actor_id: int, now: datetime
) -> None:
    """Add the row that ends another: the same words, naming it."""
    model = type(row)
    if session.execute(select(model.id).where(model.ends_id == row.id)).first():
        raise Refused("That has ended already.", code="ended")
    said = {
        column.key: getattr(row, column.key)
        for column in class_mapper(model).column_attrs
        if column.key not in ("id", "ends_id", "recorded_by_id", "occurred_at", "recorded_at")
    }
    session.add(
        model(**said, ends_id=row.id, recorded_by_id=actor_id, occurred_at=now, recorded_at=now)
    )


def _log(session: Session, action: str, subject: str, actor_id: int, now: datetime) -> None:
    session.flush()
    log.record(session, action=action, subject=subject, actor_id=actor_id, now=now)
