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
    that "every Monday" works; a monthly one through the same day of the month. One before each
    use holds for that use alone; its day is that of the use, and no rule asks for it by date.
    """
    if unit is IntervalUnit.USE:
        return done_on
    if unit is IntervalUnit.DAY:
        return done_on + timedelta(days=every - 1)
    if unit is IntervalUnit.WEEK:
        return done_on + timedelta(weeks=every)
    return add_months(done_on, every)


def good_through(counted: date, done_on: date, *, every: int, unit: IntervalUnit) -> date:
    """Return through which day a check counts that was done under other terms than today's.

    ``counted`` is the day that was told when it was done. A shorter interval holds at once; a
    longer one holds from the next time on, since nothing is put off by changing its terms.
    """
    if unit is IntervalUnit.USE:
        return counted
    return min(counted, next_due(done_on, every=every, unit=unit))


def is_due(*, good_through: date | None, done_on: date | None, today: date) -> bool:
    """Say whether a check belongs to this day's round: it has lapsed, or would lapse tonight.

    What was done today is not asked for again today.
    """
    if good_through is None or good_through < today:
        return True
    return good_through == today and done_on != today


def interval_words(every: int, unit: IntervalUnit) -> str:
    """Return the interval as people say it."""
    if unit is IntervalUnit.USE:
        return "before each use"
    if every == 1:
        return {"day": "each day of use", "week": "every week", "month": "every month"}[unit]
    return f"every {every} {unit}s"
