"""The machines that a draft covers, the inductions that it asks for, the numbers it suggests."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from app.audit import log
from app.authoring.begin import join
from app.authoring.locking import mark
from app.calculations.form import pairs, typed_as
from app.calculations.suggested import suggested
from app.errors import NotFound, Refused
from app.hazards.models import Hazard
from app.inductions.models import Induction
from app.machines.models import Area, Machine
from app.machines.views import machine_or_404
from app.people.access import actor, insist
from app.people.rights import Act
from app.risk_assessments.models import AssessmentInduction, AssessmentMachine, RiskAssessment
from assessments.describe import describe
from assessments.method import Method
from assessments.methods import catalogue


def units_of(session: Session, draft_id: int) -> list[tuple[Machine, Area, str]]:
    """Return the machines of a draft by name, with what sets each apart."""
    rows = session.execute(
        select(Machine, Area, AssessmentMachine.differences)
        .join(AssessmentMachine, AssessmentMachine.machine_id == Machine.id)
        .join(Area, Area.id == Machine.area_id)
        .where(AssessmentMachine.assessment_id == draft_id)
        .order_by(Machine.name)
    )
    return [(machine, area, differences) for machine, area, differences in rows]


def free_machines(session: Session, draft_id: int) -> list[Machine]:
    """Return the machines that the draft could cover too, of the areas where one may write."""
    covered = select(AssessmentMachine.machine_id).where(
        AssessmentMachine.assessment_id == draft_id
    )
    rows = session.execute(
        select(Machine)
        .where(Machine.retired_on.is_(None), Machine.id.not_in(covered))
        .order_by(Machine.name)
    ).scalars()
    return [row for row in rows if actor().may(Act.WRITE, area_id=row.area_id)]


def join_machine(
    session: Session, draft: RiskAssessment, machine_id: int, *, differences: str, now: datetime
) -> None:
    machine = machine_or_404(session, machine_id)
    insist(Act.WRITE, area_id=machine.area_id)
    if session.get(AssessmentMachine, (draft.id, machine_id)) is not None:
        raise Refused(f"The draft covers {machine.name} already.", code="covered", status=422)
    join(session, draft, machine, differences=differences, actor_id=actor().id, now=now)


def differ(
    session: Session,
    draft: RiskAssessment,
    machine_id: int,
    *,
    differences: str,
    actor_id: int,
    now: datetime,
) -> None:
    """Say what sets a unit apart from its twins."""
    _unit(session, draft, machine_id).differences = differences
    _log(session, draft, "differ", machine_id, actor_id, now)


def leave_out(
    session: Session, draft: RiskAssessment, machine_id: int, *, actor_id: int, now: datetime
) -> None:
    """Let the draft cover a machine no more; until it is approved the older wording holds."""
    session.delete(_unit(session, draft, machine_id))
    _log(session, draft, "leave-out", machine_id, actor_id, now)


def _unit(session: Session, draft: RiskAssessment, machine_id: int) -> AssessmentMachine:
    found = session.get(AssessmentMachine, (draft.id, machine_id))
    if found is None:
        raise NotFound("The draft does not cover that machine.")
    return found


def required_of(session: Session, draft_id: int) -> set[int]:
    """Return the inductions that a draft asks for, by id."""
    return set(
        session.execute(
            select(AssessmentInduction.induction_id).where(
                AssessmentInduction.assessment_id == draft_id
            )
        ).scalars()
    )


def require(
    session: Session,
    draft: RiskAssessment,
    induction_ids: Collection[int],
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Ask for exactly these inductions."""
    known = set(session.execute(select(Induction.id)).scalars())
    if not set(induction_ids) <= known:
        raise NotFound("There is no such induction.")
    session.execute(
        delete(AssessmentInduction).where(AssessmentInduction.assessment_id == draft.id)
    )
    session.add_all(
        AssessmentInduction(assessment_id=draft.id, induction_id=each)
        for each in sorted(induction_ids)
    )
    _log(session, draft, "require", len(induction_ids), actor_id, now)


def require_published(
    session: Session, draft_id: int, induction_id: int, *, actor_id: int, now: datetime
) -> list[str]:
    """Let the drafts that waited for this draft of an induction ask for it; return whose they are.

    A draft that began from a kind names the draft of its induction.
    """
    found = []
    for draft in session.execute(
        select(RiskAssessment).order_by(RiskAssessment.reference)
    ).scalars():
        waits = draft.prose.get("induction_draft") == draft_id
        if waits and session.get(AssessmentInduction, (draft.id, induction_id)) is None:
            session.add(AssessmentInduction(assessment_id=draft.id, induction_id=induction_id))
            _log(session, draft, "require", induction_id, actor_id, now)
            found.append(draft.reference)
    return found


def _log(
    session: Session, draft: RiskAssessment, verb: str, about: int, actor_id: int, now: datetime
) -> None:
    mark(draft, actor_id=actor_id, now=now)
    session.flush()
    log.record(
        session,
        action=f"risk_assessments:draft:{verb}",
        subject=f"risk_assessment:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"about": about, "version": draft.version},
    )


@dataclass(frozen=True, kw_only=True)
class Start:
    """A method to compute beside a line, with the values to start from as hidden fields."""

    method: Method
    why: str
    source: str
    ask: tuple[str, ...]
    typed: tuple[tuple[str, str], ...]


def methods_of(line: Hazard) -> list[Start]:
    """Return the methods for a line: those suggested with it, then those that its words suggest."""
    found = {each["id"]: _start(each) for each in line.suggested if each["id"] in catalogue()}
    for method in suggested(line.kind):
        found.setdefault(method.id, Start(method=method, why="", source="", ask=(), typed=()))
    return list(found.values())


def _start(each: dict[str, object]) -> Start:
    method = catalogue()[str(each["id"])]
    described = describe(method)
    given = dict(each.get("inputs") or {})  # type: ignore[call-overload]
    for field in described["fields"]:
        if field["kind"] in ("rows", "series") and field["name"] in given:
            given[field["name"]] = json.loads(given[field["name"]])
    return Start(
        method=method,
        why=str(each.get("why", "")),
        source=str(each.get("source", "")),
        ask=tuple(each.get("ask") or ()),  # type: ignore[arg-type]
        typed=tuple(pairs(typed_as(described, given))),
    )
