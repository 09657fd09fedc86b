"""The bookings of a machine, bench or room, day by day."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import day_begins, local_date
from app.errors import BadInput, Forbidden, Refused
from app.forms import day as day_field
from app.forms import text
from app.machines.hours import Calendar, Days, Open, changes, opening, stretch
from app.machines.models import During, Form, Machine, Staffing
from app.machines.opening import calendar_of
from app.machines.tags import tag_of
from app.machines.views import machine_or_404
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.register import find
from app.people.rights import Act
from app.presence.bookings import (
    DAYS_AHEAD,
    book,
    booking_or_404,
    bookings_between,
    give_up,
    reassign,
)
from app.presence.models import Booking
from app.presence.wall import instant

bp = Blueprint("bookings", __name__)

ONE = timedelta(days=1)


@bp.get("/machines/<int:machine_id>/bookings")
@access(SIGNED_IN)
def day(machine_id: int) -> str:
    """Show one day of a machine: what is kept, when the area is open, and a form."""
    session, zone = reading(), this_site().tz
    machine = machine_or_404(session, machine_id)
    today = local_date(now(), zone)
    shown = _day_asked(today)
    since, until = day_begins(shown, zone), day_begins(shown + ONE, zone)
    return render_template(
        "scan/bookings.html",
        me=actor(),
        machine=machine,
        code=tag_of(session, machine_id),
        bookable=machine.form is not Form.LOAN_TOOL,
        day=shown,
        days=[today + timedelta(days=n) for n in range(DAYS_AHEAD + 1)],
        kept=bookings_between(session, machine_id, since=since, until=until),
        hours=_hours(_calendar(session, machine), since, until),
        may_reassign=actor().may(Act.SUPERVISE, area_id=machine.area_id),
        zone=zone,
        now=now(),
    )


def _day_asked(today: date) -> date:
    """Return the day of the address, within the days that can be booked; else today."""
    try:
        asked = date.fromisoformat(request.args.get("day", ""))
    except ValueError:
        return today
    return min(max(asked, today), today + timedelta(days=DAYS_AHEAD))


_IN_TERM = {During.ALWAYS: None, During.IN_TERM: True, During.OUT_OF_TERM: False}


def _calendar(session: Session, machine: Machine) -> Calendar | None:
    """Return when the machine's area is open; None where it has no hours."""
    found = calendar_of(session, machine.area_id)
    stretches = (
        stretch(
            weekday=row.weekday,
            opens=row.opens,
            closes=row.closes,
            staffed=row.staffing is Staffing.STAFFED,
            in_term=_IN_TERM[row.during],
        )
        for row in found.hours
    )
    if not found.hours:
        return None
    return Calendar(
        stretches=tuple(each for each in stretches if each is not None),
        closed=tuple(Days(first_on=row.first_on, last_on=row.last_on) for row in found.closed),
        terms=tuple(Days(first_on=row.first_on, last_on=row.last_on) for row in found.terms),
    )


def _hours(
    calendar: Calendar | None, since: datetime, until: datetime
) -> list[tuple[datetime, datetime, str]] | None:
    """Return the stretches of a day in which the area is open; None where there are no hours."""
    if calendar is None:
        return None
    zone = this_site().tz
    found, begun, how = [], since, opening(calendar, since, zone)
    for at, next_how in changes(calendar, zone, after=since, days=2):
        if at >= until:
            break
        found.append((begun, at, how))
        begun, how = at, next_how
    found.append((begun, until, how))
    return [(b, e, each.value) for b, e, each in found if each is not Open.CLOSED]


@bp.post("/machines/<int:machine_id>/bookings")
@access(SIGNED_IN)
def make(machine_id: int) -> Response:
    """Keep a machine for whoever asks."""
    with writing() as session:
        machine, me = machine_or_404(session, machine_id), actor()
        if not me.here:
            raise Forbidden("Only whoever belongs here today books. Nothing was recorded.")
        zone, on = parts().site(session).tz, day_field("day")
        book(
            session,
            machine,
            person_id=me.id,
            starts_at=instant(on, text("from", most=5), zone),
            ends_at=_end(on, text("to", most=5), zone),
            calendar=_calendar(session, machine),
            zone=zone,
            actor_id=me.id,
            now=now(),
        )
    flash(f"{machine.name} is kept for you. Whether you may start is asked when you scan it.")
    return _back(machine_id, on)


def _end(on: date, written: str, zone: ZoneInfo) -> datetime:
    """Return the end of a stretch; 24:00 is the midnight that ends the day."""
    if written != "24:00":
        return instant(on, written, zone, end=True)
    if on == date.max:
        raise BadInput("There is no such day.", status=422)
    return day_begins(on + ONE, zone)


def _back(machine_id: int, on: date) -> Response:
    return redirect(url_for("bookings.day", machine_id=machine_id, day=on.isoformat()), 303)


def _day_of(booking: Booking, session: Session) -> date:
    return local_date(booking.starts_at, parts().site(session).tz)


@bp.post("/machines/<int:machine_id>/bookings/<int:booking_id>/give-up")
@access(SIGNED_IN)
def give_up_booking(machine_id: int, booking_id: int) -> Response:
    with writing() as session:
        machine, me = machine_or_404(session, machine_id), actor()
        booking = booking_or_404(session, machine_id, booking_id)
        if booking.person_id != me.id and not me.may(Act.SUPERVISE, area_id=machine.area_id):
            raise Forbidden("That is the booking of somebody else. Nothing was recorded.")
        first = give_up(session, booking, actor_id=me.id, now=now())
        on = _day_of(booking, session)
    flash("It is free again." if first else "It was given up already.")
    return _back(machine_id, on)


@bp.post("/machines/<int:machine_id>/bookings/<int:booking_id>/reassign")
@access(Act.SUPERVISE)
def reassign_booking(machine_id: int, booking_id: int) -> Response:
    """Keep the stretch for somebody else from now on."""
    with writing() as session:
        machine = machine_or_404(session, machine_id)
        insist(Act.SUPERVISE, area_id=machine.area_id)
        booking = booking_or_404(session, machine_id, booking_id)
        found = find(session, text("person", most=200))
        if len(found) != 1:
            raise Refused(
                "Name exactly one person: by the whole name, the card number or the e-mail.",
                code="person",
                status=422,
            )
        reassign(session, booking, person_id=found[0].id, actor_id=actor().id, now=now())
        on = _day_of(booking, session)
    flash(f"It is kept for {found[0].name} now.")
    return _back(machine_id, on)
