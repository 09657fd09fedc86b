"""Generated facts for the clearance rules: machines, people, zones and moments of every sort.

Most pieces are drawn good and some bad, so that the generated answers are spread over all
four verdicts; `test_generator.py` proves that every verdict and every code is reached.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from app.clearance.decision import (
    AssessmentFact,
    CheckFact,
    Facts,
    InductionFact,
    MachineFacts,
    PersonFacts,
    SuspensionFact,
)
from app.dates import local_date
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, Result

T = TypeVar("T")
Draw = Callable[[st.SearchStrategy[Any]], Any]

# `CHUCKKEY_TEST_EXAMPLES=thorough` asks every property 2,000 times instead of 300.
# On a server that runs every change the examples are the same each time.
for _name, _count in (("everyday", 300), ("thorough", 2000)):
    settings.register_profile(
        _name,
        max_examples=_count,
        deadline=None,
        derandomize=bool(os.environ.get("CI")),
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
many_examples = settings.get_profile(os.environ.get("CHUCKKEY_TEST_EXAMPLES", "everyday"))

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
INDUCTIONS = range(1, 4)
NEVER_PUBLISHED = 4  # an induction that may be required although nobody can hold it
HOLDS = ("out_of_use", "scene_preserved", "area_closed")
UNIT, AREA = 1, 1  # the generated machine and where it stands

# Built once: a strategy that is made anew for every draw is slow.
_TENTHS = st.integers(0, 9)
_FEW = st.integers(0, 3)
_REVISION = st.integers(1, 3)
_COUNTING = st.sampled_from((3, 3, 3, 2, 1))
_REVISIONS = st.dictionaries(st.integers(1, 3), _REVISION)
_MODES = st.sampled_from((RunMode.SUPERVISED, RunMode.SUPERVISED, RunMode.TECHNICIAN_RUN))
_POORER = st.sampled_from((*[Result.SUPERVISED] * 3, Result.NOT_YET, Result.REVOKED))
_REQUIRED = st.lists(
    st.sampled_from([*INDUCTIONS] * 4 + [NEVER_PUBLISHED]), max_size=3, unique=True
).map(tuple)
_HELD = st.frozensets(st.sampled_from(("retired", *HOLDS)), min_size=1)
_SUSPENDED = st.lists(
    st.builds(
        SuspensionFact,
        area_id=st.sampled_from((None, AREA, AREA + 1)),
        machine_id=st.sampled_from((None, UNIT, UNIT + 1)),
    ),
    min_size=1,
    max_size=2,
).map(tuple)
_TECHNICIAN_OF = st.frozensets(st.sampled_from((None, AREA, AREA + 1)))
# Days from today; None: the last day there is, which people type for never.
_DAYS = st.one_of(st.integers(-3, 3), st.integers(-2500, 2500), st.none())
_SECONDS = st.one_of(
    st.sampled_from((-3600, -1, 0, 1, 3600)),  # often at the very same instant
    st.integers(-3 * DAY_SECONDS, 3 * DAY_SECONDS),
    st.integers(-1000, 0).map(lambda days: days * DAY_SECONDS),
)
_PLACES = st.one_of(
    st.sampled_from(CLOCK_CHANGES),
    st.sampled_from([(zone, datetime(2026, 3, 10, 9, tzinfo=UTC)) for zone in ODD_ZONES]),
)
_AWAY = st.one_of(
    st.integers(-7200, 7200).map(lambda s: timedelta(seconds=s)),
    st.integers(-2 * DAY_SECONDS, 2 * DAY_SECONDS).map(lambda s: timedelta(seconds=s)),
    st.sampled_from((-1, 0, 1)).map(lambda us: timedelta(microseconds=us)),
)


def mostly(draw: Draw, good: T, other: Callable[[], T]) -> T:
    """Give the good value nine times in ten, else the other; shrinks to the good one."""
    return good if draw(_TENTHS) < 9 else other()


def a_day(draw: Draw, today: date) -> date:
    """Draw a day, mostly near today."""
    away = draw(_DAYS)
    return date.max if away is None else today + timedelta(days=away)


def an_instant(draw: Draw, now: datetime) -> datetime:
    """Draw when something happened, or will have."""
    return now + timedelta(seconds=draw(_SECONDS))


def a_check(draw: Draw, number: int, today: date) -> CheckFact:
    """Draw a check that passed lately, or failed, lapsed or was never done."""
    good = today + timedelta(days=2)
    return CheckFact(
        id=number,
        title=f"check {number}",
        statutory=draw(st.booleans()),
        failed=mostly(draw, False, lambda: True),
        due_on=(good, good, None, a_day(draw, today))[draw(_FEW)],
    )


def an_assessment(draw: Draw, number: int, today: date) -> AssessmentFact:
    """Draw an assessment in force, of its third revision."""
    return AssessmentFact(
        id=number,
        reference=f"RA-{number}",
        number=3,
        run_mode=mostly(draw, RunMode.OPEN, lambda: draw(_MODES)),
        material_number=draw(_REVISION),
        review_due_on=a_day(draw, today),
    )


def a_machine(draw: Draw, today: date) -> MachineFacts:
    """Draw a machine whose inductions stand on one another, in loops and on air too."""
    covering = mostly(draw, 1, lambda: draw(_FEW))
    held: frozenset[str] = mostly(draw, frozenset(), lambda: draw(_HELD))
    holds: dict[str, Any] = dict.fromkeys(held - {"retired"}, True)
    return MachineFacts(
        id=UNIT,
        name="Panel saw",
        area_id=AREA,
        **holds,
        retired_on=a_day(draw, today) if "retired" in held else None,
        assessments=tuple(an_assessment(draw, number, today) for number in range(1, covering + 1)),
        checks=tuple(a_check(draw, number, today) for number in range(draw(_FEW))),
        required=draw(_REQUIRED),
        inductions={
            number: InductionFact(
                id=number,
                title=f"induction {number}",
                counts_from=mostly(draw, 1, lambda: 2 + draw(st.integers(0, 1))),
                requires=draw(_REQUIRED),
            )
            for number in INDUCTIONS
            if mostly(draw, True, lambda: False)
        },
    )


def a_record(draw: Draw, now: datetime, today: date) -> Record:
    """Draw a training record of any result, of the past or the future."""
    return Record(
        id=draw(st.integers(1, 99)),
        result=mostly(draw, Result.ALONE, lambda: draw(_POORER)),
        revision_number=draw(_COUNTING),
        occurred_at=an_instant(draw, now),
        expires_on=mostly(draw, None, lambda: a_day(draw, today)),
    )


def a_person(draw: Draw, now: datetime, today: date) -> PersonFacts:
    """Draw a person with a history, who may be ended, erased, suspended or a technician."""
    always = dict.fromkeys(range(1, 4), 3)
    started = today - timedelta(days=90)
    return PersonFacts(
        id=7,
        name="Ada Quill",
        starts_on=mostly(draw, started, lambda: draw(st.sampled_from((None, a_day(draw, today))))),
        ends_on=mostly(draw, None, lambda: a_day(draw, today)),
        erased=mostly(draw, False, lambda: True),
        suspensions=mostly(draw, (), lambda: draw(_SUSPENDED)),
        technician_of=mostly(draw, frozenset(), lambda: draw(_TECHNICIAN_OF)),
        records={
            number: tuple(a_record(draw, now, today) for _ in range(1 + draw(st.integers(0, 2))))
            for number in (*INDUCTIONS, NEVER_PUBLISHED)
            if mostly(draw, True, lambda: False)
        },
        briefed=draw(st.one_of(st.just(always), _REVISIONS)),
        acknowledged=draw(st.one_of(st.just(always), st.just(always), _REVISIONS)),
    )


@st.composite
def moments(draw: Draw) -> tuple[datetime, ZoneInfo]:
    """Draw an instant in UTC and a zone, often within two days of a change of the clocks."""
    name, change = draw(_PLACES)
    return change + draw(_AWAY), ZoneInfo(name)


@st.composite
def sites(draw: Draw, *, signed_in: bool = False) -> Facts:
    """Draw everything the decision may know."""
    now, zone = draw(moments())
    today = local_date(now, zone)
    person = a_person(draw, now, today)
    return Facts(
        machine=a_machine(draw, today),
        person=person if signed_in or draw(_TENTHS) < 9 else None,
        now=now,
        zone=zone,
    )
