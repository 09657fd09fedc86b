"""When a check was done that is written up later: what the form says, as an instant."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from app.dates import local_date
from app.errors import BadInput, Refused
from app.forms import day_or_none, text

MOST_DAYS_AGO = 7  # what was done longer ago nobody remembers to the hour


def done_at(now: datetime, zone: ZoneInfo) -> datetime | None:
    """Return when it was done, by the wall clock of the site; None: just now."""
    words, day = text("done_time", most=5), day_or_none("done_on")
    today = local_date(now, zone)
    if not words:
        if day is None or day == today:
            return None
        raise Refused("Say at what time it was done.", code="time-missing", status=422)
    moment = instant(day or today, words, zone)
    if moment > now:
        raise Refused("A check cannot have been done in the future.", code="future", status=422)
    if now - moment > timedelta(days=MOST_DAYS_AGO):
        raise Refused(
            f"That is more than {MOST_DAYS_AGO} days ago: look again today.",
            code="long-ago",
            status=422,
        )
    return moment


def instant(day: date, words: str, zone: ZoneInfo) -> datetime:
    """Return the instant of a time of day that somebody typed, by the wall clock of the site.

    Of a time that comes twice, where the clocks go back, the first is meant.
    """
    try:
        hour = time.fromisoformat(words)
    except ValueError:
        raise BadInput(f"“{words}” is not a time of day, such as 08:15.", status=422) from None
    if hour.tzinfo is not None:
        raise BadInput("Give the time by the clock on the wall, without a zone.", status=422)
    return datetime.combine(day, hour, zone).astimezone(UTC)
