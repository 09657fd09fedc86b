"""What is going on at a machine beside its use: locks, test runs, what is to be put right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.models import Action
from app.clearance.decision import MachineFacts
from app.hazards.remedial import open_remedial
from app.machines.isolation import open_isolations
from app.machines.models import Isolation, TestRun
from app.machines.test_runs import open_test_runs
from app.people.identity import Actor
from app.people.models import Person
from app.people.rights import Act


@dataclass(frozen=True, kw_only=True, slots=True)
class Upkeep:
    """As one person sees it."""

    isolations: tuple[Isolation, ...]
    test_runs: tuple[TestRun, ...]
    actions: tuple[Action, ...]
    names: dict[int, str]  # of the people who stand in these rows
    me: int
    may_isolate: bool
    may_return: bool


def upkeep(session: Session, machine: MachineFacts, me: Actor, *, at: datetime) -> Upkeep:
    """Gather what the machine's page shows of it."""
    isolations = open_isolations(session, machine.id)
    runs = open_test_runs(session, machine.id, at=at)
    people = {lock.recorded_by_id for lock in isolations}
    people |= {each for run in runs for each in (run.recorded_by_id, run.person_id)}
    names = session.execute(select(Person.id, Person.name).where(Person.id.in_(people)))
    return Upkeep(
        isolations=tuple(isolations),
        test_runs=tuple(runs),
        actions=tuple(open_remedial(session, [c.id for c in machine.checks], machine.id)),
        names=dict(names.all()),
        me=me.id,
        may_isolate=me.may(Act.ISOLATE, area_id=machine.area_id),
        may_return=me.may(Act.RETURN_TO_USE, area_id=machine.area_id),
    )
