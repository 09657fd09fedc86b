"""Who may take the shorter path of an induction again, and who takes the full one. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from app.dates import add_months


class Path(StrEnum):
    """Which of an induction's two paths a sign-off was made on."""

    FULL = "full"
    REFRESHER = "refresher"


@dataclass(frozen=True, kw_only=True, slots=True)
class LastPass:
    """What the rule needs of a person's newest record in an induction."""

    alone: bool  # passed “on their own”, and nothing since took it back
    counts: bool  # under a revision whose sign-offs still count
    expires_on: date | None  # valid through this day


def last_day(expires_on: date, months: int) -> date:
    """Return the last day on which the shorter path is open.

    >>> last_day(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    return add_months(expires_on, months)


def path_offered(last: LastPass | None, *, months: int | None, today: date) -> Path:
    """Return the shorter path where it is open to somebody, and the full one otherwise.

    ``months``: how long after a pass ran out the shorter path is open; None: there is none.
    It is open to whoever passed on their own, under a wording that still counts, with nothing
    recorded against it since, until so many months after the pass ran out; before that day too.
    A pass that never runs out is not refreshed: there is no day to count from.
    """
    if months is None or last is None or not (last.alone and last.counts):
        return Path.FULL
    if last.expires_on is None or today > last_day(last.expires_on, months):
        return Path.FULL
    return Path.REFRESHER
