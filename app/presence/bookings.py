"""A machine, bench or room kept for somebody for a stretch of a day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import AnyRow, stands
from app.errors import NotFound, Refused
from app.machines.hours import Calendar, Open, changes, opening
from app.machines.models import Form, Machine
from app.people.models import Person
from app.presence.models import Booking

DAYS_AHEAD = 14
SHORTEST = timedelta(minutes=5)
LONGEST = timedelta(hours=24)


def bookings_between(
    session: Session, machine_id: int, *, since: datetime, until: datetime
) -> list[AnyRow]:
    """Return what is kept at a machine in that stretch, in order, with whom it is kept for."""
    return list(
        session.execute(
            select(
                Booking.id,
                Booking.person_id,
                Booking.starts_at,
                Booking.ends_at,
                Person.name.label("person"),
            )
            .join(Person, Person.id == Booking.person_id)
            .where(
                Booking.machine_id == machine_id,
                Booking.starts_at < until,
                Booking.ends_at > since,
                stands(Booking),
            )
            .order_by(Booking.starts_at, Booking.id)
        )
    )


def book(
    session: Session,
    machine: Machine,
    *,
    person_id: int,
    starts_at: datetime,
    ends_at: datetime,
    calendar: Calendar | None,
    zone: ZoneInfo,
    actor_id: int,
    now: datetime,
) -> Booking:
    """Keep a machine for somebody. The very same booking again is the one that is there."""
    if machine.form is Form.LOAN_TOOL:
        raise Refused("A loan tool is taken out and not booked.", code="loan-tool")
    _insist_on_stretch(starts_at, ends_at, now)
    for kept in bookings_between(session, machine.id, since=starts_at, until=ends_at):
        if (kept.person_id, kept.starts_at, kept.ends_at) == (person_id, starts_at, ends_at):
            return session.get_one(Booking, kept.id)
        whom = "you" if kept.person_id == person_id else "somebody else"
        raise Refused(f"It is kept for {whom} in that stretch already.", code="booked")
    if calendar is not None and not _is_open(calendar, zone, starts_at, ends_at):
        raise Refused("The area is not open for all of that stretch.", code="closed")
    row = _row(machine.id, person_id, starts_at, ends_at, actor_id, now)
    session.add(row)
    session.flush()
    _log(session, "presence:booking:make", row, actor_id, now)
    return row


def _insist_on_stretch(starts_at: datetime, ends_at: datetime, now: datetime) -> None:
    if starts_at < now - timedelta(minutes=1):
        raise Refused("That has passed already.", code="past", status=422)
    if starts_at > now + timedelta(days=DAYS_AHEAD):
        raise Refused(f"At most {DAYS_AHEAD} days ahead.", code="far-ahead", status=422)
    if not SHORTEST <= ends_at - starts_at <= LONGEST:
        raise Refused(
            "It ends after it begins: from five minutes up to a day.", code="stretch", status=422
        )


def _is_open(calendar: Calendar, zone: ZoneInfo, starts_at: datetime, ends_at: datetime) -> bool:
    if opening(calendar, starts_at, zone) is Open.CLOSED:
        return False
    return all(
        how is not Open.CLOSED
        for at, how in _until(changes(calendar, zone, after=starts_at, days=2), ends_at)
    )


def _until(
    found: Iterator[tuple[datetime, Open]], ends_at: datetime
) -> Iterator[tuple[datetime, Open]]:
    for at, how in found:
        if at >= ends_at:
            return
        yield at, how


def booking_or_404(session: Session, machine_id: int, booking_id: int) -> Booking:
    row = session.get(Booking, booking_id)
    if row is None or row.ends_id is not None or row.machine_id != machine_id:
        raise NotFound("There is no such booking of this machine.")
    return row


def give_up(session: Session, booking: Booking, *, actor_id: int, now: datetime) -> bool:
    """Give a booking up; return False where that had been done before."""
    ended = select(Booking.id).where(Booking.ends_id == booking.id)
    if session.execute(ended).first() is not None:
        return False
    row = _row(
        booking.machine_id, booking.person_id, booking.starts_at, booking.ends_at, actor_id, now
    )
    row.ends_id = booking.id
    session.add(row)
    session.flush()
    _log(session, "presence:booking:give-up", booking, actor_id, now)
    return True


def reassign(
    session: Session, booking: Booking, *, person_id: int, actor_id: int, now: datetime
) -> Booking:
    """Keep the same stretch for somebody else from now on."""
    if booking.ends_at <= now:
        raise Refused("That booking is over.", code="past", status=422)
    if not give_up(session, booking, actor_id=actor_id, now=now):
        raise Refused("That booking was given up already.", code="ended")
    row = _row(booking.machine_id, person_id, booking.starts_at, booking.ends_at, actor_id, now)
    session.add(row)
    session.flush()
    _log(session, "presence:booking:reassign", row, actor_id, now)
    return row


def _row(
    machine_id: int,
    person_id: int,
    starts_at: datetime,
    ends_at: datetime,
    actor_id: int,
    now: datetime,
) -> Booking:
    return Booking(
        machine_id=machine_id,
        person_id=person_id,
        starts_at=starts_at,
        ends_at=ends_at,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )


def _log(session: Session, action: str, row: Booking, actor_id: int, now: datetime) -> None:
    log.record(
        session,
        action=action,
        subject=f"booking:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": row.machine_id, "person": row.person_id},
    )
