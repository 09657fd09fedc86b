"""Calendar days and months, the way people count them."""

from __future__ import annotations

from calendar import monthrange
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def add_months(day: date, months: int) -> date:
    """Return the same day of the month that many months later, or the last day it has.

    >>> add_months(date(2026, 1, 31), 1)
    datetime.date(2026, 2, 28)
    """
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def local_date(at: datetime, zone: ZoneInfo) -> date:
    """Return the latest calendar day that has begun at the site by that instant.

    Where the clocks go back across midnight, the day before is not brought back: what ran
    out with it stays run out.
    """
    day = at.astimezone(zone).date()
    if day == date.max:
        return day
    tomorrow = day + timedelta(days=1)
    return tomorrow if day_begins(tomorrow, zone) <= at else day


def day_begins(day: date, zone: ZoneInfo) -> datetime:
    """Return the first instant of that day at the site, in UTC.

    Where the clocks go forward at midnight, 00:00 does not exist; reading it with the
    offset from before the change gives the instant of the change itself.
    """
    return datetime.combine(day, time(), zone).astimezone(UTC)
