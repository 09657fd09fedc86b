"""Gather the facts for the decision: a fixed number of statements, for one pair or for many.

Everything is read as of ``at``: what had happened by then, as the register knows it now.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import (
    BindParameter,
    CompoundSelect,
    Exists,
    Integer,
    String,
    and_,
    bindparam,
    case,
    cast,
    func,
    literal,
    null,
    select,
    union_all,
)
from sqlalchemy.orm import Session, aliased

from app.clearance.decision import (
    AssessmentFact,
    CheckFact,
    Facts,
    InductionFact,
    MachineFacts,
    PersonFacts,
    SuspensionFact,
)
from app.db import AnyRow, AnySelect, UtcDateTime
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Outcome, Scope
from app.inductions.models import Induction, InductionPrerequisite, InductionRevision
from app.inductions.published import counts_from, latest_revision_id
from app.machines.models import AreaClosure, Hold, Machine, MachineHold
from app.people.identity import Identity
from app.risk_assessments.in_force import in_force, material_number
from app.risk_assessments.models import (
    Revision,
    RevisionCheck,
    RevisionInduction,
    RevisionMachine,
    RiskAssessment,
)
from app.training.models import (
    Acknowledgement,
    SignOff,
    SignOffBriefing,
    Suspension,
    TrainingRecord,
)
from app.training.standing import Record

# The statements are built once; only these values change between scans.
AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
MACHINES: BindParameter[Any] = bindparam("machines", expanding=True)
REVISIONS: BindParameter[Any] = bindparam("revisions", expanding=True)
PEOPLE: BindParameter[Any] = bindparam("people", expanding=True)
INDUCTIONS: BindParameter[Any] = bindparam("inductions", expanding=True)
ASSESSMENTS: BindParameter[Any] = bindparam("assessments", expanding=True)


# --- the machine -------------------------------------------------------------------------


def _open_hold(hold: Hold) -> Exists:
    row, ending = aliased(MachineHold), aliased(MachineHold)
    return (
        select(row.id)
        .where(
            row.machine_id == Machine.id,
            row.hold == hold,
            row.ends_id.is_(None),
            row.occurred_at <= AT,
            ~select(ending.id).where(ending.ends_id == row.id, ending.occurred_at <= AT).exists(),
        )
        .exists()
    )


def _open_closure() -> Exists:
    row, ending = aliased(AreaClosure), aliased(AreaClosure)
    return (
        select(row.id)
        .where(
            row.area_id == Machine.area_id,
            row.ends_id.is_(None),
            row.occurred_at <= AT,
            ~select(ending.id).where(ending.ends_id == row.id, ending.occurred_at <= AT).exists(),
        )
        .exists()
    )


MACHINE_STATE = (
    Machine.id,
    Machine.name,
    Machine.area_id,
    Machine.retired_on,
    _open_hold(Hold.OUT_OF_USE).label("out_of_use"),
    _open_hold(Hold.SCENE_PRESERVED).label("scene_preserved"),
    _open_closure().label("area_closed"),
)
MACHINES_BY_ID = select(*MACHINE_STATE).where(Machine.id.in_(MACHINES))

_REQUIRED = (
    select(func.aggregate_strings(cast(RevisionInduction.induction_id, String), ","))
    .where(RevisionInduction.revision_id == Revision.id)
    .correlate(Revision)
    .scalar_subquery()
)
ASSESSMENTS_IN_FORCE = (
    select(
        RevisionMachine.machine_id,
        Revision.id.label("revision_id"),
        Revision.assessment_id,
        Revision.number,
        Revision.run_mode,
        Revision.review_due_on,
        Revision.digest,
        RiskAssessment.reference,
        material_number(AT).label("material_number"),
        _REQUIRED.label("required"),
    )
    .join(Revision, Revision.id == RevisionMachine.revision_id)
    .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
    .where(RevisionMachine.machine_id.in_(MACHINES), in_force(AT))
    .order_by(RevisionMachine.machine_id, RiskAssessment.reference)
)


def _checks() -> AnySelect:
    terms, result = aliased(CheckTerms), aliased(CheckResult)
    latest_terms = (
        select(func.max(terms.id))
        .where(terms.check_id == Check.id, terms.recorded_at <= AT)
        .correlate(Check)
        .scalar_subquery()
    )
    unit = case((Check.scope == Scope.MACHINE, RevisionMachine.machine_id), else_=null())
    latest_result = (
        select(result.id)
        .where(
            result.check_id == Check.id,
            result.machine_id.is_not_distinct_from(unit),
            result.occurred_at <= AT,
        )
        # Of two at the same instant a failure counts.
        .order_by(result.occurred_at.desc(), result.outcome, result.id.desc())
        .limit(1)
        .correlate(Check, RevisionMachine)
        .scalar_subquery()
    )
    return (
        select(
            RevisionMachine.machine_id,
            Check.id,
            Check.title,
            CheckTerms.basis,
            CheckResult.outcome,
            CheckResult.next_due_on,
        )
        .select_from(RevisionCheck)
        .join(RevisionMachine, RevisionMachine.revision_id == RevisionCheck.revision_id)
        .join(Check, Check.id == RevisionCheck.check_id)
        .outerjoin(CheckTerms, CheckTerms.id == latest_terms)
        .outerjoin(CheckResult, CheckResult.id == latest_result)
        .where(RevisionCheck.revision_id.in_(REVISIONS), RevisionMachine.machine_id.in_(MACHINES))
        .order_by(RevisionMachine.machine_id, Check.id)
    )


CHECKS = _checks()


def _needed_inductions() -> AnySelect:
    """Everything that is required, and what stands before it, to any depth."""
    needed = (
        select(RevisionInduction.induction_id.label("id"))
        .where(RevisionInduction.revision_id.in_(REVISIONS))
        .cte("needed", recursive=True)
    )
    step = aliased(InductionPrerequisite)
    needed = needed.union(  # UNION, not UNION ALL: a loop ends by itself
        select(step.requires_id)
        .select_from(needed)
        .join(Induction, Induction.id == needed.c.id)
        .join(step, step.revision_id == latest_revision_id(AT))
    )
    return (
        select(
            Induction.id,
            Induction.title,
            counts_from(AT).label("counts_from"),
            InductionPrerequisite.requires_id,
        )
        .select_from(needed)
        .join(Induction, Induction.id == needed.c.id)
        .join(InductionRevision, InductionRevision.id == latest_revision_id(AT))
        .outerjoin(InductionPrerequisite, InductionPrerequisite.revision_id == InductionRevision.id)
        .order_by(Induction.id, InductionPrerequisite.id)
    )


NEEDED_INDUCTIONS = _needed_inductions()


@dataclass(frozen=True, kw_only=True)
class MachineFile:
    """The facts of one machine, with the revisions that its page is drawn from."""

    facts: MachineFacts
    revisions: tuple[AnyRow, ...]


def machine_files(
    session: Session, machines: Iterable[AnyRow], *, at: datetime
) -> dict[int, MachineFile]:
    """Return the files of machines whose state was read by `MACHINE_STATE`. Three statements."""
    rows = {row.id: row for row in machines}
    ids = {"at": at, "machines": list(rows)}
    assessments = session.execute(ASSESSMENTS_IN_FORCE, ids).all()
    by_revision = {**ids, "revisions": list({row.revision_id for row in assessments})}
    checks = _by_machine(session.execute(CHECKS, by_revision))
    inductions = _inductions(session.execute(NEEDED_INDUCTIONS, by_revision))
    in_force_by_machine = _by_machine(assessments)
    day = at.date()
    files = {}
    for machine_id, row in rows.items():
        revisions = tuple(in_force_by_machine.get(machine_id, ()))
        required = sorted(
            {int(number) for r in revisions for number in (r.required or "").split(",") if number}
        )
        files[machine_id] = MachineFile(
            facts=MachineFacts(
                id=machine_id,
                name=row.name,
                area_id=row.area_id,
                retired=row.retired_on is not None and row.retired_on <= day,
                out_of_use=row.out_of_use,
                scene_preserved=row.scene_preserved,
                area_closed=row.area_closed,
                assessments=tuple(
                    AssessmentFact(
                        id=r.assessment_id,
                        reference=r.reference,
                        number=r.number,
                        run_mode=r.run_mode,
                        material_number=r.material_number,
                        review_due_on=r.review_due_on,
                    )
                    for r in revisions
                ),
                checks=tuple(_check(c) for c in checks.get(machine_id, ())),
                required=tuple(required),
                inductions=inductions,
            ),
            revisions=revisions,
        )
    return files


def _check(row: AnyRow) -> CheckFact:
    return CheckFact(
        id=row.id,
        title=row.title,
        statutory=row.basis is Basis.STATUTORY,
        failed=row.outcome is Outcome.FAILED,
        due_on=row.next_due_on,
    )


def _by_machine(
    rows: Iterable[AnyRow],
) -> dict[int, list[AnyRow]]:
    found: dict[int, list[AnyRow]] = defaultdict(list)
    for row in rows:
        found[row.machine_id].append(row)
    return found


def _inductions(rows: Iterable[AnyRow]) -> dict[int, InductionFact]:
    found: dict[int, InductionFact] = {}
    for row in rows:
        before = found[row.id].requires if row.id in found else ()
        found[row.id] = InductionFact(
            id=row.id,
            title=row.title,
            counts_from=row.counts_from,
            requires=before if row.requires_id is None else (*before, row.requires_id),
        )
    return found


# --- the person --------------------------------------------------------------------------

RECORDS = select(
    TrainingRecord.person_id,
    TrainingRecord.induction_id,
    TrainingRecord.id,
    TrainingRecord.result,
    TrainingRecord.revision_number,
    TrainingRecord.occurred_at,
    TrainingRecord.expires_on,
).where(TrainingRecord.person_id.in_(PEOPLE), TrainingRecord.induction_id.in_(INDUCTIONS))


def _standing_orders() -> CompoundSelect[*tuple[Any, ...]]:
    """What was acknowledged and briefed, and where the person is suspended: three short lists."""
    ending = aliased(Suspension)
    acknowledged = (
        select(
            literal("acknowledged").label("what"),
            Acknowledgement.person_id,
            Revision.assessment_id.label("where_a"),
            func.max(Revision.number).label("where_b"),
        )
        .join(Revision, Revision.id == Acknowledgement.revision_id)
        .where(
            Acknowledgement.person_id.in_(PEOPLE),
            Acknowledgement.occurred_at <= AT,
            Revision.assessment_id.in_(ASSESSMENTS),
        )
        .group_by(Acknowledgement.person_id, Revision.assessment_id)
    )
    briefed = (
        select(
            literal("briefed"),
            SignOff.person_id,
            Revision.assessment_id,
            func.max(Revision.number),
        )
        .join(SignOffBriefing, SignOffBriefing.sign_off_id == SignOff.id)
        .join(Revision, Revision.id == SignOffBriefing.revision_id)
        .where(
            SignOff.person_id.in_(PEOPLE),
            SignOff.occurred_at <= AT,
            Revision.assessment_id.in_(ASSESSMENTS),
        )
        .group_by(SignOff.person_id, Revision.assessment_id)
    )
    suspended = select(
        literal("suspended"),
        Suspension.person_id,
        cast(Suspension.area_id, Integer),
        cast(Suspension.machine_id, Integer),
    ).where(
        Suspension.person_id.in_(PEOPLE),
        Suspension.ends_id.is_(None),
        Suspension.occurred_at <= AT,
        ~select(ending.id)
        .where(and_(ending.ends_id == Suspension.id, ending.occurred_at <= AT))
        .exists(),
    )
    return union_all(acknowledged, briefed, suspended)


STANDING_ORDERS = _standing_orders()


def person_facts(
    session: Session,
    people: Mapping[int, Identity],
    *,
    inductions: Iterable[int],
    assessments: Iterable[int],
    at: datetime,
) -> dict[int, PersonFacts]:
    """Return the facts of people, as far as these inductions and assessments go. Two statements."""
    ids = list(people)
    records: dict[int, dict[int, list[Record]]] = defaultdict(lambda: defaultdict(list))
    for row in session.execute(RECORDS, {"people": ids, "inductions": list(inductions)}):
        records[row.person_id][row.induction_id].append(
            Record(
                id=row.id,
                result=row.result,
                revision_number=row.revision_number,
                occurred_at=row.occurred_at,
                expires_on=row.expires_on,
            )
        )
    orders: dict[str, dict[int, list[Any]]] = {
        what: defaultdict(list) for what in ("acknowledged", "briefed", "suspended")
    }
    asked = {"people": ids, "assessments": list(assessments), "at": at}
    for what, person_id, first, second in session.execute(STANDING_ORDERS, asked):
        orders[what][person_id].append((first, second))
    return {
        person.id: PersonFacts(
            id=person.id,
            name=person.name,
            starts_on=person.starts_on,
            ends_on=person.ends_on,
            erased=person.erased,
            technician_of=person.technician_of,
            records={k: tuple(v) for k, v in records[person.id].items()},
            briefed=dict(orders["briefed"][person.id]),
            acknowledged=dict(orders["acknowledged"][person.id]),
            suspensions=tuple(
                SuspensionFact(area_id=area, machine_id=machine)
                for area, machine in orders["suspended"][person.id]
            ),
        )
        for person in people.values()
    }


# --- one pair ----------------------------------------------------------------------------


def gather(
    session: Session,
    machine: AnyRow,
    person: Identity | None,
    *,
    now: datetime,
    zone: ZoneInfo,
) -> tuple[Facts, MachineFile]:
    """Return the facts of one pair, and the machine's file. At most five statements."""
    file = machine_files(session, [machine], at=now)[machine.id]
    facts = None
    if person is not None:
        facts = person_facts(
            session,
            {person.id: person},
            inductions=file.facts.inductions,
            assessments=[a.id for a in file.facts.assessments],
            at=now,
        )[person.id]
    return Facts(machine=file.facts, person=facts, now=now, zone=zone), file
