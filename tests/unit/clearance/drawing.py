"""How generated facts are drawn: the number of examples, choices, days, instants, zones.

An example is drawn from dice, which Hypothesis throws: so thousands of whole workshops are
made in a minute. What it shows of one that fails is everything about it, and it throws it again.
"""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

T = TypeVar("T")
Dice = random.Random

# `CHUCKKEY_TEST_EXAMPLES=thorough` asks every property 2,000 times instead of 300, and so does a
# server that runs every change; there the examples are the same each time.
for _name, _count in (("everyday", 300), ("thorough", 2000)):
    settings.register_profile(
        _name,
        max_examples=_count,
        deadline=None,
        derandomize=bool(os.environ.get("CI")),
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
many_examples = settings.get_profile(
    os.environ.get("CHUCKKEY_TEST_EXAMPLES", "thorough" if os.environ.get("CI") else "everyday")
)

# Of a property that is asked about each of many changes: together they are many thousands.
many_together = settings(many_examples, max_examples=many_examples.max_examples // 4)

# Clock changes that have broken calendars, from the IANA time zone database (tzdata):
# each zone with the instant of the change.
CLOCK_CHANGES = [
    ("Europe/London", datetime(2026, 3, 29, 1, tzinfo=UTC)),
    ("Europe/London", datetime(2026, 10, 25, 1, tzinfo=UTC)),
    ("America/Sao_Paulo", datetime(2018, 11, 4, 3, tzinfo=UTC)),  # 00:00 does not exist
    ("America/Sao_Paulo", datetime(2019, 2, 17, 2, tzinfo=UTC)),  # 00:00 back to 23:00
    ("Africa/Cairo", datetime(2023, 4, 27, 22, tzinfo=UTC)),  # 00:00 does not exist
    ("Africa/Cairo", datetime(2023, 10, 26, 21, tzinfo=UTC)),
    ("Asia/Beirut", datetime(2026, 3, 28, 22, tzinfo=UTC)),  # 00:00 does not exist
    ("Asia/Beirut", datetime(2026, 10, 24, 21, tzinfo=UTC)),
    ("America/Havana", datetime(2026, 11, 1, 5, tzinfo=UTC)),  # 00:00 comes twice
    ("Atlantic/Azores", datetime(2026, 10, 25, 1, tzinfo=UTC)),  # 00:00 comes twice
    ("America/St_Johns", datetime(2010, 11, 7, 2, 31, tzinfo=UTC)),  # back across midnight
    ("Antarctica/Casey", datetime(2010, 3, 4, 15, tzinfo=UTC)),  # three hours back across it
    ("Pacific/Apia", datetime(2011, 12, 30, 10, tzinfo=UTC)),  # a day that never was
    ("Australia/Lord_Howe", datetime(2026, 4, 4, 15, tzinfo=UTC)),  # half an hour
]
ODD_ZONES = ("UTC", "Asia/Kathmandu", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kolkata")

DAY_SECONDS = 24 * 3600
_PLACES = [
    *CLOCK_CHANGES,
    *((zone, datetime(2026, 3, 10, 9, tzinfo=UTC)) for zone in ODD_ZONES),
]


def throws() -> st.SearchStrategy[Dice]:
    """Throw dice: every choice of an example follows from them."""
    return st.integers(0, 2**64 - 1).map(random.Random)


def mostly(dice: Dice, good: T, other: Callable[[], T]) -> T:
    """Give the good value nine times in ten, else the other."""
    return good if dice.randrange(10) < 9 else other()


def some(dice: Dice, things: list[T] | tuple[T, ...] | range, most: int) -> tuple[T, ...]:
    """Give up to so many different ones of these, in any order."""
    return tuple(dice.sample(list(things), dice.randint(0, min(most, len(things)))))


def a_day(dice: Dice, today: date) -> date:
    """Draw a day, mostly near today; at times the last there is, which people type for never."""
    away = dice.choice((dice.randint(-3, 3), dice.randint(-2500, 2500), None))
    return date.max if away is None else today + timedelta(days=away)


def an_instant(dice: Dice, now: datetime) -> datetime:
    """Draw when something happened, or will have; often at the very same instant."""
    seconds = dice.choice(
        (
            dice.choice((-3600, -1, 0, 1, 3600)),
            dice.randint(-3 * DAY_SECONDS, 3 * DAY_SECONDS),
            dice.randint(-1000, 0) * DAY_SECONDS,
        )
    )
    return now + timedelta(seconds=seconds)


def a_moment(dice: Dice) -> tuple[datetime, ZoneInfo]:
    """Draw an instant in UTC and a zone, often within two days of a change of the clocks."""
    name, change = dice.choice(_PLACES)
    away = dice.choice(
        (
            timedelta(seconds=dice.randint(-7200, 7200)),
            timedelta(seconds=dice.randint(-2 * DAY_SECONDS, 2 * DAY_SECONDS)),
            timedelta(microseconds=dice.randint(-1, 1)),
        )
    )
    return change + away, ZoneInfo(name)


def moments() -> st.SearchStrategy[tuple[datetime, ZoneInfo]]:
    """Draw an instant and a zone."""
    return throws().map(a_moment)
