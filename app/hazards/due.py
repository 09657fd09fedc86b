"""When a check is due again. Pure."""

from __future__ import annotations

from datetime import date, timedelta
from enum import StrEnum

from app.dates import add_months


class IntervalUnit(StrEnum):
    USE = "use"  # before each use, by whoever starts
    DAY = "day"
    WEEK = "week"
    MONTH = "month"


def next_due(done_on: date, *, every: int, unit: IntervalUnit) -> date:
    """Return the last day through which a check done on ``done_on`` keeps its control alive.

    A daily check holds for its own day; a weekly one through the seventh day after it, so
    that "every Monday" works; a monthly one through the same day of the month.
    """
    if unit is IntervalUnit.DAY:
        return done_on + timedelta(days=every - 1)
    if unit is IntervalUnit.WEEK:
        return done_on + timedelta(weeks=every)
    return add_months(done_on, every)


def interval_words(every: int, unit: IntervalUnit) -> str:
    """Return the interval as people say it."""
    if every == 1:
        return {"day": "each day of use", "week": "every week", "month": "every month"}[unit]
    return f"every {every} {unit}s"
