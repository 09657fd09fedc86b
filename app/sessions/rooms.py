"""The rooms where sessions can be held: areas, their seats, and when they are free."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.machines import hours as opening_hours
from app.machines.areas import terms_of_area
from app.machines.hours import Days, Open
from app.machines.models import Area, During, Staffing
from app.machines.opening import calendar_of
from app.planning.offers import joined
from app.planning.plan import DAY, Room, Span
from app.sessions.wall import without

_IN_TERM = {During.ALWAYS: None, During.IN_TERM: True, During.OUT_OF_TERM: False}


def room_of(
    session: Session,
    area: Area,
    first_on: date,
    last_on: date,
    zone: ZoneInfo,
    *,
    taken: list[Span],
) -> Room:
    """Return the room with its seats, and when it is open and not taken on these days.

    As many seats as the area holds people at work; none where nobody said how many.
    """
    terms = terms_of_area(session, area.id)
    days = [first_on + timedelta(days=n) for n in range((last_on - first_on).days + 1)]
    return Room(
        id=area.id,
        name=area.name,
        seats=terms.capacity if terms is not None and terms.capacity is not None else 0,
        free=without(joined(_open(_calendar(session, area.id), days, zone)), taken),
    )


def _calendar(session: Session, area_id: int) -> opening_hours.Calendar:
    kept = calendar_of(session, area_id)
    stretches = (
        opening_hours.stretch(
            weekday=row.weekday,
            opens=row.opens,
            closes=row.closes,
            staffed=row.staffing is Staffing.STAFFED,
            in_term=_IN_TERM[row.during],
        )
        for row in kept.hours
    )
    return opening_hours.Calendar(
        stretches=tuple(it for it in stretches if it is not None),
        closed=tuple(Days(first_on=it.first_on, last_on=it.last_on) for it in kept.closed),
        terms=tuple(Days(first_on=it.first_on, last_on=it.last_on) for it in kept.terms),
    )


def _open(calendar: opening_hours.Calendar, days: list[date], zone: ZoneInfo) -> Iterator[Span]:
    """Yield when a room is open; one without hours of its own is open on all but days off."""
    for number, day in enumerate(days):
        if any(off.hold(day) for off in calendar.closed):
            continue
        if not calendar.stretches:
            yield Span(number * DAY, (number + 1) * DAY)
            continue
        marks = {0, DAY}.union(*((each.opens, each.closes) for each in calendar.stretches))
        for opens, closes in pairwise(sorted(marks)):
            at = datetime.combine(day, time(opens // 60, opens % 60), zone)
            if opening_hours.opening(calendar, at, zone) is not Open.CLOSED:
                yield Span(number * DAY + opens, number * DAY + closes)
