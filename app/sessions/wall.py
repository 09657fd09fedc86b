"""Minutes on the wall of the site, and the instants that they are. Pure.

A plan counts minutes on the wall from the midnight of its first day (`planning.plan`); what is
published is kept as instants. Between the two stands the zone, with its two odd nights a year.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from app.errors import BadInput
from app.machines.hours import minutes
from app.planning.plan import DAY, Span, moment_of


def instant(first_on: date, minute: int, zone: ZoneInfo) -> datetime:
    """Return when the wall clock shows this minute; the first time, where it does so twice."""
    return moment_of(first_on, minute).replace(tzinfo=zone).astimezone(UTC)


def is_shown(first_on: date, minute: int, zone: ZoneInfo) -> bool:
    """Say whether the wall clock ever shows this minute: one hour is left out in spring."""
    wall = moment_of(first_on, minute)
    return instant(first_on, minute, zone).astimezone(zone).replace(tzinfo=None) == wall


def minute_at(first_on: date, at: datetime, zone: ZoneInfo) -> int:
    """Return the minute on the wall at an instant, from the midnight of `first_on` on."""
    wall = at.astimezone(zone)
    return (wall.date() - first_on).days * DAY + wall.hour * 60 + wall.minute


def day_of(first_on: date, minute: int) -> date:
    return first_on + timedelta(days=minute // DAY)


def clock_of(minute: int) -> str:
    """Return 09:00 for the minute of any day."""
    return f"{minute % DAY // 60:02}:{minute % 60:02}"


def read_clock(written: str) -> int:
    """Return the minute of the day of a time such as 09:00.

    Raises:
        BadInput: it is none.
    """
    found = minutes(written)
    if found is None:
        raise BadInput(f"“{written[:10]}” is not a time such as 09:00.", status=422)
    return found


def without(spans: tuple[Span, ...], taken: list[Span]) -> tuple[Span, ...]:
    """Return what is left of these stretches."""
    for gone in taken:
        spans = tuple(
            piece
            for span in spans
            for piece in (
                Span(span.start, min(span.end, gone.start)),
                Span(max(span.start, gone.end), span.end),
            )
            if piece.start < piece.end
        )
    return spans
