"""A day and a time of the site's wall clock, as an instant. Pure."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from app.errors import BadInput, Refused


def instant(day: date, written: str, zone: ZoneInfo, *, end: bool = False) -> datetime:
    """Return when the wall clock of the site shows this time on this day, in UTC.

    Of an hour that comes twice the first counts, and the second for an ``end``. A time that is
    left out when the clocks go forward is refused, as nobody could say what it meant.

    Raises BadInput where it is no time of day, such as 09:00.
    """
    try:
        wall = time.fromisoformat(written)
        local = datetime.combine(day, wall.replace(tzinfo=None, fold=int(end)), zone)
        found = local.astimezone(UTC)
        shown = found.astimezone(zone)
    except ValueError:
        words = f"“{written[:20]}” is not a time of day, such as 09:00."
        raise BadInput(words, status=422) from None
    except OverflowError:
        raise BadInput("There is no such day.", status=422) from None
    if shown.replace(tzinfo=None) != local.replace(tzinfo=None):
        raise Refused(
            f"{written} does not exist on that day: the clocks go forward over it.",
            code="no-such-time",
            status=422,
        )
    return found
