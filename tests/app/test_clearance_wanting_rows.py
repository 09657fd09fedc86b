"""What is wanting until a row is there: dated ahead it supports nobody yet, twice no more.

For each table that the decision reads and that supports somebody.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest

from app.clearance.decision import Verdict
from app.clearance.models import Override
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, CheckResult, CheckTerms, Outcome
from app.machines.models import (
    AreaTerms,
    During,
    Hold,
    OpeningHours,
    Staffing,
    TestRun,
)
from app.people.models import Membership, RoleGrant, Visit, VisitKind
from app.people.rights import Role
from app.presence.models import (
    Duty,
)
from app.risk_assessments.models import Lone
from app.risk_assessments.run_mode import RunMode
from app.site import SiteSetting
from app.training.models import (
    Acknowledgement,
    EquipmentIssue,
    Ground,
    TrainingRecord,
    Way,
)
from app.training.standing import Result
from tests.app.place import (
    DAY,
    HOUR,
    REGISTERED,
    THEN,
    Place,
    a_hold,
    a_record,
    a_result,
    a_use,
    in_order,
)
from tests.app.rows import add, conditions
from tests.factories import NOW


@pytest.fixture
def long_ago(clock):
    clock.at = REGISTERED


@pytest.fixture
def place(long_ago, clock, shop, bay, saw, drill, basics, hold, tess):
    return in_order(shop, clock, bay=bay, saw=saw, drill=drill, basics=basics, hold=hold, tess=tess)


def _without_membership(p):
    return p.add(
        Membership,
        NOW - HOUR,
        person_id=p.ada.id,
        starts_on=NOW.date() - 9 * DAY,
        ends_on=NOW.date() - DAY,
    )


def _asking(**asked):
    return lambda p: conditions(p.shop, p.revision, **asked)


def _late(p):
    """Let the induction have run out a day ago."""
    record = a_record(Result.ALONE)(p, NOW - timedelta(minutes=5))
    return add(
        p.shop,
        TrainingRecord,
        person_id=p.ada.id,
        induction_id=p.basics.id,
        revision_number=record.revision_number,
        result=Result.ALONE,
        ground=Ground.SIGN_OFF,
        expires_on=NOW.date() - DAY,
        occurred_at=NOW - timedelta(minutes=1),
    )


def _by_technicians(p):
    revision = p.shop.assess(p.saw, run_mode=RunMode.TECHNICIAN_RUN)
    p.shop.acknowledge(p.ada, revision)


def _missed(p):
    a_result(Outcome.PASSED)(p, NOW - timedelta(minutes=5))
    return add(
        p.shop,
        CheckResult,
        check_id=p.check.id,
        machine_id=p.saw.id,
        outcome=Outcome.PASSED,
        reading="",
        note="",
        next_due_on=NOW.date() - DAY,
    )


def _changed(p):
    return p.shop.assess(p.saw)


def _full(p):
    a_use(p, NOW - HOUR, machine_id=p.drill.id)
    p.add(AreaTerms, NOW - HOUR, area_id=p.bay.id, capacity=1)


def _unsupervised(p):
    revision = p.shop.assess(p.saw, run_mode=RunMode.SUPERVISED)
    for person in (p.ada, p.tess):
        p.shop.acknowledge(person, revision)


def _closed(p):
    hours = {"area_id": p.bay.id, "staffing": Staffing.STAFFED, "during": During.ALWAYS}
    p.add(OpeningHours, NOW - DAY, weekday=5, opens="09:00", closes="10:00", **hours)


def _held(p):
    return a_hold(Hold.OUT_OF_USE)(p, NOW - HOUR)


@dataclass(frozen=True)
class Wants:
    """What Ada wants, and the row that gives it."""

    name: str
    want: Callable[[Place], Any]
    give: Callable[[Place, Any, Any], Any]


WANTS = [
    Wants(
        "membership",
        _without_membership,
        lambda p, at, _: p.add(Membership, at, person_id=p.ada.id, starts_on=NOW.date() - 9 * DAY),
    ),
    Wants(
        "visit",
        _without_membership,
        lambda p, at, _: (
            p.add(
                Visit,
                at,
                person_id=p.ada.id,
                host_id=p.bob.id,
                kind=VisitKind.VISITOR,
                day=NOW.date(),
            )
            and p.add(Duty, NOW, person_id=p.tess.id, area_id=p.bay.id, runs_out_at=NOW + DAY)
        ),
    ),
    Wants("record", lambda p: a_record(Result.NOT_YET)(p, NOW - HOUR), a_record(Result.ALONE)),
    Wants("check", _missed, lambda p, at, _: a_result(Outcome.PASSED)(p, at)),
    Wants(
        "terms of a check",
        _missed,
        lambda p, at, _: p.add(
            CheckTerms,
            at,
            check_id=p.check.id,
            every=1,
            unit=IntervalUnit.USE,
            basis=Basis.MAKER,
            basis_source="",
            done_by="",
            passes_when="",
        ),
    ),
    Wants(
        "acknowledgement",
        _changed,
        lambda p, at, revision: p.add(
            Acknowledgement, at, person_id=p.ada.id, revision_id=revision, way=Way.OWN_PHONE
        ),
    ),
    Wants(
        "equipment",
        _asking(equipment=["Mask"]),
        lambda p, at, _: p.add(EquipmentIssue, at, person_id=p.ada.id, equipment="Mask"),
    ),
    Wants(
        "company",
        _asking(lone=Lone.NEVER, companions=1),
        lambda p, at, _: a_use(p, at, machine_id=p.drill.id),
    ),
    Wants(
        "somebody on duty",
        _unsupervised,
        lambda p, at, _: p.add(
            Duty, at, person_id=p.tess.id, area_id=p.bay.id, runs_out_at=at + DAY
        ),
    ),
    Wants(
        "role",
        _by_technicians,
        lambda p, at, _: p.add(RoleGrant, at, person_id=p.ada.id, role=Role.TECHNICIAN),
    ),
    Wants(
        "setting",
        _late,
        lambda p, at, _: (
            p.add(SiteSetting, at, name="grace_days", value=30),
            p.add(Duty, NOW, person_id=p.tess.id, area_id=p.bay.id, runs_out_at=NOW + DAY),
        ),
    ),
    Wants(
        "override",
        lambda p: a_record(Result.NOT_YET)(p, NOW - HOUR),
        lambda p, at, _: (
            p.add(
                Override,
                at,
                person_id=p.ada.id,
                machine_id=p.saw.id,
                lifts="induction-not-yet-passed",
                until=NOW + DAY,
            ),
            p.add(Duty, NOW, person_id=p.tess.id, area_id=p.bay.id, runs_out_at=NOW + DAY),
        ),
    ),
    Wants(
        "test run",
        _held,
        lambda p, at, _: p.add(
            TestRun, at, machine_id=p.saw.id, person_id=p.ada.id, why="", until=NOW + DAY
        ),
    ),
    Wants(
        "room",
        _full,
        lambda p, at, _: p.add(AreaTerms, at, area_id=p.bay.id, capacity=9),
    ),
    Wants(
        "hours",
        _closed,
        lambda p, at, _: p.add(
            OpeningHours,
            at,
            area_id=p.bay.id,
            weekday=1,
            opens="00:00",
            closes="24:00",
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
        ),
    ),
]


def named(case) -> str:
    return case.name


@pytest.mark.parametrize("case", WANTS, ids=named)
def test_support_that_is_dated_ahead_supports_nobody_yet(place, case):
    state = case.want(place)
    before = place.verdict()
    assert before >= Verdict.NOT_CLEARED
    case.give(place, THEN, state)
    assert place.verdict() is before
    assert place.verdict(THEN) <= Verdict.SUPERVISED


@pytest.mark.parametrize("case", WANTS, ids=named)
def test_support_that_is_there_twice_is_worth_no_more(place, case):
    state = case.want(place)
    for _ in range(1 if case.name == "acknowledgement" else 2):
        case.give(place, NOW, state)
        found = place.verdict()
        assert found <= Verdict.SUPERVISED
    assert place.verdict() is found
