"""When an area is open, by the wall clock of the site. Pure.

A stretch is a piece of a weekday, from a wall time up to another one. The wall clock decides
and not the time that has passed: where the clocks go forward, a stretch of the hour that is
left out is not opened; where they go back, a stretch of the hour that comes twice is open
twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

DAY = timedelta(days=1)
MINUTES_OF_A_DAY = 24 * 60
# Wherever the calendar itself does not change, so many days hold each weekday once without a
# change of the clocks.
ALL_OF_THE_WEEK = 15


class Open(StrEnum):
    """How an area stands at a moment."""

    STAFFED = "staffed"
    UNSTAFFED = "unstaffed"
    CLOSED = "closed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Stretch:
    """A piece of a weekday in minutes from its midnight: from the first, up to the last."""

    weekday: int  # Monday is 0
    opens: int
    closes: int  # at most 1440, the midnight that ends the day
    staffed: bool
    in_term: bool | None = None  # None: all year


@dataclass(frozen=True, kw_only=True, slots=True)
class Days:
    """Days from the first through the last."""

    first_on: date
    last_on: date

    def hold(self, day: date) -> bool:
        return self.first_on <= day <= self.last_on


@dataclass(frozen=True, kw_only=True, slots=True)
class Calendar:
    """The hours of one area with the days off and the terms that it follows."""

    stretches: tuple[Stretch, ...]
    closed: tuple[Days, ...] = ()
    terms: tuple[Days, ...] = ()


def minutes(written: str) -> int | None:
    """Return a wall time such as 09:00 in minutes, up to 24:00; None for anything else."""
    hours, colon, rest = written.partition(":")
    digits = hours + rest
    if not (colon and len(hours) == len(rest) == 2 and digits.isascii() and digits.isdigit()):
        return None
    found = int(hours) * 60 + int(rest)
    return found if int(rest) < 60 and found <= MINUTES_OF_A_DAY else None


def stretch(
    *, weekday: int, opens: str, closes: str, staffed: bool, in_term: bool | None
) -> Stretch | None:
    """Return a stretch from what was written; None if that opens nothing on any day."""
    first, last = minutes(opens), minutes(closes)
    if first is None or last is None or first >= last or weekday not in range(7):
        return None
    return Stretch(weekday=weekday, opens=first, closes=last, staffed=staffed, in_term=in_term)


def opening(calendar: Calendar, at: datetime, zone: ZoneInfo) -> Open:
    """Return how the area stands at an instant.

    Where hours contradict one another the stricter holds: unstaffed before staffed. Hours of
    a season open nothing where no term is on record, since nobody knows which season it is.
    """
    wall = at.astimezone(zone)
    day, minute = wall.date(), wall.hour * 60 + wall.minute
    if any(days.hold(day) for days in calendar.closed):
        return Open.CLOSED
    found = {
        each.staffed
        for each in calendar.stretches
        if each.weekday == day.weekday()
        and each.opens <= minute < each.closes
        and _in_season(calendar, each, day)
    }
    if not found:
        return Open.CLOSED
    return Open.STAFFED if found == {True} else Open.UNSTAFFED


def _in_season(calendar: Calendar, each: Stretch, day: date) -> bool:
    if each.in_term is None:
        return True
    in_term = any(term.hold(day) for term in calendar.terms)
    return bool(calendar.terms) and in_term is each.in_term


def boundary_days(calendar: Calendar) -> set[date]:
    """Return the days on which days off and terms begin, and those after their ends."""
    found = set()
    for days in (*calendar.closed, *calendar.terms):
        found.add(days.first_on)
        if days.last_on < date.max:
            found.add(days.last_on + DAY)
    return found


def changes(
    calendar: Calendar, zone: ZoneInfo, *, after: datetime, days: int = ALL_OF_THE_WEEK
) -> Iterator[tuple[datetime, Open]]:
    """Yield each instant within those days at which the area comes to stand otherwise, in order."""
    known, until = opening(calendar, after, zone), after + days * DAY
    for at in _instants(calendar, zone, after, until):
        now = opening(calendar, at, zone)
        if now is not known:
            yield at, now
        known = now


def next_opening(calendar: Calendar, zone: ZoneInfo, *, after: datetime) -> datetime | None:
    """Return when a closed area opens again; None: not within a year."""
    try:
        found = changes(calendar, zone, after=after, days=366)
        return next((at for at, how in found if how is not Open.CLOSED), None)
    except OverflowError:
        return None


def _instants(
    calendar: Calendar, zone: ZoneInfo, after: datetime, until: datetime
) -> Iterator[datetime]:
    """Yield every instant at which the wall clock may pass a boundary, in order."""
    marks = {0}.union(*((each.opens, each.closes) for each in calendar.stretches))
    day, last = (after - DAY).astimezone(zone).date(), (until + DAY).astimezone(zone).date()
    pending: set[datetime] = set()
    while day <= last:
        pending |= {at for at in _of_one_day(day, marks, zone) if after < at <= until}
        # The clocks never move by as much as two days, so that nothing earlier is still to come.
        settled = datetime.combine(day, time(), UTC) - 2 * DAY
        yield from sorted(at for at in pending if at < settled)
        pending = {at for at in pending if at >= settled}
        day += DAY
    yield from sorted(pending)


def _of_one_day(day: date, marks: Iterable[int], zone: ZoneInfo) -> Iterator[datetime]:
    """Yield when a day's wall clock shows these minutes, both times where it does so twice.

    A wall time that is left out passes when the clocks change, so that instant is among them.
    """
    midnight = datetime.combine(day, time())
    for mark in marks:
        wall = midnight + timedelta(minutes=mark)
        for fold in (0, 1):
            yield wall.replace(fold=fold, tzinfo=zone).astimezone(UTC)
    yield from clock_changes(datetime.combine(day, time(), UTC), zone)


def clock_changes(begins: datetime, zone: ZoneInfo) -> Iterator[datetime]:
    """Yield the change of the clocks within the day after an instant, if there is one."""
    low, high = begins, begins + DAY
    before = low.astimezone(zone).utcoffset()
    if before == high.astimezone(zone).utcoffset():
        return
    while high - low > timedelta(seconds=1):  # the time zone database knows whole seconds only
        middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
        if middle.astimezone(zone).utcoffset() == before:
            low = middle
        else:
            high = middle
    yield high
