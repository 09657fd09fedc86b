"""A place where everything is in order, and rows that stop somebody in it or mend that."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from app.clearance.decision import Verdict
from app.hazards.due import IntervalUnit
from app.hazards.models import CheckResult, Outcome
from app.machines.models import (
    Hold,
    MachineHold,
)
from app.presence.models import (
    Start,
    UseFinished,
)
from app.training.models import (
    Ground,
    TrainingRecord,
)
from app.training.standing import Result
from tests.app.rows import add, ask, end
from tests.factories import NOW

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
THEN = NOW + HOUR
REGISTERED = NOW - 2 * DAY  # when all that is in order was put on record


@dataclass(frozen=True)
class Place:
    """Where everything is in order: Ada at the saw, Bob beside her."""

    shop: Any
    bay: Any
    saw: Any
    drill: Any
    basics: Any
    revision: int
    check: Any
    ada: Any
    bob: Any
    tess: Any

    def verdict(self, at=NOW) -> Verdict:
        return ask(self.shop, self.ada, self.saw, at).verdict

    def add(self, model, at, **values):
        return add(self.shop, model, **_dated(model, at), **values)

    def end(self, row, at, **values):
        return end(self.shop, row, **_dated(type(row), at), **values)


def _dated(model, at):
    """Date a row: where only the time of writing is kept, that is when it happened too."""
    happened = "occurred_at" if hasattr(model, "occurred_at") else "recorded_at"
    return {happened: at}


def a_hold(hold: Hold):
    return lambda p, at: p.add(MachineHold, at, machine_id=p.saw.id, hold=hold, why="Smoke")


def a_result(outcome: Outcome):
    def row(p, at, _stopped=None):
        return p.add(
            CheckResult,
            at,
            check_id=p.check.id,
            machine_id=p.saw.id,
            outcome=outcome,
            reading="",
            note="",
            next_due_on=(at + DAY).date(),
        )

    return row


def a_record(result: Result):
    def row(p, at, _stopped=None):
        return p.add(
            TrainingRecord,
            at,
            person_id=p.ada.id,
            induction_id=p.basics.id,
            revision_number=1,
            result=result,
            ground=Ground.SIGN_OFF,
        )

    return row


def a_use(p, at, **values):
    usual = {"machine_id": p.saw.id, "person_id": p.bob.id, "verdict": "cleared"}
    return p.add(
        Start,
        at,
        key=f"row-of-a-start-{p.shop._next():06}",
        reasons=[],
        rules=2,
        material="",
        runs_out_at=at + 9 * HOUR,
        **{**usual, **values},
    )


def a_finish(p, at, use):
    return p.add(UseFinished, at, start_id=use.id)


def its_end(p, at, row):
    return p.end(row, at)


def in_order(shop, clock, **fixtures) -> Place:
    """Put everything in order as of two days ago, and wait until now."""
    saw, basics, hold = fixtures["saw"], fixtures["basics"], fixtures.pop("hold")
    check = shop.check(unit=IntervalUnit.MONTH)
    shop.do(check, saw)
    revision = shop.assess(saw, inductions=[basics], checks=[check])
    ada, bob = hold(), hold()
    for person in (ada, bob, fixtures["tess"]):
        shop.acknowledge(person, revision)
    clock.at = NOW
    return Place(shop=shop, revision=revision, check=check, ada=ada, bob=bob, **fixtures)
