"""Gather the facts for the decision: a fixed number of statements, for one pair or for many.

Everything is read as of ``at``: what had happened by then, as the register knows it now.
The statements are built once and run on the connection itself, because a scan is made of
little else than their cost: `tests/bench` holds it against two plain SELECTs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    CompoundSelect,
    Connection,
    Date,
    Exists,
    Integer,
    String,
    bindparam,
    case,
    cast,
    func,
    literal_column,
    null,
    select,
    union_all,
)
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from app.audit.models import AuditHead
from app.clearance.decision import (
    AssessmentFact,
    CheckFact,
    Facts,
    InductionFact,
    MachineFacts,
    PersonFacts,
    SuspensionFact,
)
from app.db import AnyRow, AnySelect, UtcDateTime, constant, prepared, stands
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Outcome, Scope
from app.inductions.catalogue import VERSION, Catalogue, catalogue
from app.machines.models import Area, AreaClosure, Hold, Machine, MachineHold, Tag
from app.people.identity import Identity
from app.risk_assessments.in_force import in_force, material_number, withdrawn
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
from app.training.standing import Record, Result

AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
CODE: BindParameter[str] = bindparam("code")
MACHINE: BindParameter[int] = bindparam("machine")
MACHINES: BindParameter[Any] = bindparam("machines", expanding=True)
PERSON: BindParameter[int] = bindparam("person")
PEOPLE: BindParameter[Any] = bindparam("people", expanding=True)
INDUCTIONS: BindParameter[Any] = bindparam("inductions", expanding=True)
ASSESSMENTS: BindParameter[Any] = bindparam("assessments", expanding=True)


# --- the machine -------------------------------------------------------------------------


def _open_hold(hold: Hold) -> Exists:
    row = aliased(MachineHold)
    return (
        select(row.id)
        .where(row.machine_id == Machine.id, row.hold == constant(hold), stands(row, AT))
        .exists()
    )


def _open_closure() -> Exists:
    row = aliased(AreaClosure)
    return select(row.id).where(row.area_id == Machine.area_id, stands(row, AT)).exists()


def _withdrawn() -> Exists:
    tie = aliased(RevisionMachine)
    return (
        select(Revision.id)
        .join(tie, tie.revision_id == Revision.id)
        .where(tie.machine_id == Machine.id, withdrawn(AT))
        .correlate(Machine)
        .exists()
    )


_required = (
    select(func.aggregate_strings(cast(RevisionInduction.induction_id, String), ","))
    .where(RevisionInduction.revision_id == Revision.id)
    .correlate(Revision)
    .scalar_subquery()
)
# One row for each assessment in force; one with no revision where there is none.
_MACHINE = (
    select(
        Machine.id,
        Machine.name,
        Machine.form,
        Machine.place,
        Machine.area_id,
        Machine.retired_on,
        Area.name.label("area"),
        Area.help,
        _open_hold(Hold.OUT_OF_USE).label("out_of_use"),
        _open_hold(Hold.SCENE_PRESERVED).label("scene_preserved"),
        _open_closure().label("area_closed"),
        _withdrawn().label("assessment_withdrawn"),
        Revision.id.label("revision_id"),
        Revision.assessment_id,
        Revision.number,
        Revision.run_mode,
        Revision.review_due_on,
        Revision.digest,
        RiskAssessment.reference,
        material_number(AT).label("material_number"),
        _required.label("required"),
        *VERSION,
        select(AuditHead.recorded_at).scalar_subquery().label("log_at"),
    )
    .select_from(Machine)
    .join(Area, Area.id == Machine.area_id)
    .outerjoin(RevisionMachine, RevisionMachine.machine_id == Machine.id)
    .outerjoin(Revision, (Revision.id == RevisionMachine.revision_id) & in_force(AT))
    .outerjoin(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
)
BY_ID = prepared(
    _MACHINE.where(Machine.id.in_(MACHINES)).order_by(Machine.id, RiskAssessment.reference)
)
BY_CODE = prepared(
    _MACHINE.join(Tag, Tag.machine_id == Machine.id)
    .where(Tag.code == CODE, Tag.retired_at.is_(None))
    .order_by(RiskAssessment.reference)
)


def _checks(those: ColumnElement[bool]) -> AnySelect:
    terms, result = aliased(CheckTerms), aliased(CheckResult)
    latest_terms = (
        select(func.max(terms.id))
        .where(terms.check_id == Check.id, terms.recorded_at <= AT)
        .correlate(Check)
        .scalar_subquery()
    )
    unit = case((Check.scope == constant(Scope.MACHINE), RevisionMachine.machine_id), else_=null())
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
        .join(Revision, Revision.id == RevisionCheck.revision_id)
        .join(Check, Check.id == RevisionCheck.check_id)
        .outerjoin(CheckTerms, CheckTerms.id == latest_terms)
        .outerjoin(CheckResult, CheckResult.id == latest_result)
        .where(those, in_force(AT))
        .order_by(RevisionMachine.machine_id, Check.id)
    )


CHECKS = prepared(_checks(RevisionMachine.machine_id == MACHINE))
CHECKS_OF_MANY = prepared(_checks(RevisionMachine.machine_id.in_(MACHINES)))


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineFile:
    """What is known of one machine: its facts, and the rows that its page is drawn from."""

    facts: MachineFacts
    row: AnyRow
    revisions: tuple[AnyRow, ...]


def machine_files(
    session: Session, machine_ids: Iterable[int], *, at: datetime
) -> dict[int, MachineFile]:
    """Return the files of machines, by id. Two statements; two more after a publication."""
    asked = {"at": at, "machines": list(machine_ids)}
    connection = session.connection()
    return _files(session, connection, BY_ID(connection, asked).all(), at=at)


def machine_file_by_code(session: Session, code: str, *, at: datetime) -> MachineFile | None:
    """Return the file of the machine with this live tag. Statements as above."""
    connection = session.connection()
    rows = BY_CODE(connection, {"at": at, "code": code}).all()
    return next(iter(_files(session, connection, rows, at=at).values()), None)


def _files(
    session: Session, connection: Connection, found: Iterable[AnyRow], *, at: datetime
) -> dict[int, MachineFile]:
    by_machine: dict[int, list[AnyRow]] = defaultdict(list)
    for row in found:
        by_machine[row.id].append(row)
    revisions = {
        machine_id: tuple(row for row in rows if row.revision_id is not None)
        for machine_id, rows in by_machine.items()
    }
    checks: dict[int, list[CheckFact]] = defaultdict(list)
    for row in _checks_of(connection, list(by_machine), at):
        checks[row.machine_id].append(_check(row))
    taught: Catalogue = {}
    for rows in by_machine.values():
        taught = catalogue(session, (rows[0].inductions_count, rows[0].inductions_newest))
        break
    return {
        machine_id: MachineFile(
            facts=_machine_facts(rows[0], revisions[machine_id], checks[machine_id], taught, at),
            row=rows[0],
            revisions=revisions[machine_id],
        )
        for machine_id, rows in by_machine.items()
    }


def _checks_of(connection: Connection, machine_ids: list[int], at: datetime) -> Iterable[AnyRow]:
    if len(machine_ids) == 1:
        return CHECKS(connection, {"at": at, "machine": machine_ids[0]})
    return CHECKS_OF_MANY(connection, {"at": at, "machines": machine_ids})


def _machine_facts(
    row: AnyRow,
    revisions: tuple[AnyRow, ...],
    checks: list[CheckFact],
    taught: Catalogue,
    at: datetime,
) -> MachineFacts:
    required = {
        int(number) for r in revisions for number in (r.required or "").split(",") if number
    }
    return MachineFacts(
        id=row.id,
        name=row.name,
        area_id=row.area_id,
        retired_on=row.retired_on,
        out_of_use=row.out_of_use,
        scene_preserved=row.scene_preserved,
        area_closed=row.area_closed,
        assessment_withdrawn=row.assessment_withdrawn,
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
        checks=tuple(checks),
        required=tuple(sorted(required)),
        inductions=_inductions(taught, required, at),
    )


def _check(row: AnyRow) -> CheckFact:
    return CheckFact(
        id=row.id,
        title=row.title,
        statutory=row.basis is Basis.STATUTORY,
        failed=row.outcome is Outcome.FAILED,
        due_on=row.next_due_on,
    )


def _inductions(
    catalogue: Catalogue, required: Iterable[int], at: datetime
) -> dict[int, InductionFact]:
    """Return what is required and what stands before it, to any depth, as published by then."""
    found: dict[int, InductionFact] = {}
    queue = list(required)
    for induction_id in queue:
        entry = catalogue.get(induction_id)
        published = entry.published_by(at) if entry else ()
        if entry is None or not published or induction_id in found:
            continue
        found[induction_id] = InductionFact(
            id=entry.id,
            title=entry.title,
            counts_from=entry.counts_from(at),
            requires=published[-1].requires,
        )
        queue.extend(published[-1].requires)
    return found


# --- the person --------------------------------------------------------------------------


def _person_file(
    these: Callable[[InstrumentedAttribute[int]], ColumnElement[bool]],
) -> CompoundSelect[*tuple[Any, ...]]:
    """A person's records, acknowledgements, briefings and suspensions: four lists in one.

    ``about`` is the induction, the assessment or the area; ``number`` the revision of it,
    or the machine.
    """
    no_result, no_day = cast(null(), String), cast(null(), Date)
    no_moment = cast(null(), UtcDateTime())
    records = select(
        literal_column("'record'", String).label("what"),
        TrainingRecord.person_id,
        TrainingRecord.induction_id.label("about"),
        TrainingRecord.revision_number.label("number"),
        TrainingRecord.id.label("id"),
        cast(TrainingRecord.result, String).label("result"),
        TrainingRecord.expires_on.label("expires_on"),
        TrainingRecord.occurred_at.label("occurred_at"),
    ).where(these(TrainingRecord.person_id), TrainingRecord.induction_id.in_(INDUCTIONS))
    of_these = select(Revision.id).where(Revision.assessment_id.in_(ASSESSMENTS))
    acknowledged = (
        select(
            literal_column("'acknowledged'", String),
            Acknowledgement.person_id,
            Revision.assessment_id,
            Revision.number,
            Acknowledgement.id,
            no_result,
            no_day,
            no_moment,
        )
        .join(Revision, Revision.id == Acknowledgement.revision_id)
        .where(
            these(Acknowledgement.person_id),
            Acknowledgement.revision_id.in_(of_these),
            Acknowledgement.occurred_at <= AT,
        )
    )
    briefed = (
        select(
            literal_column("'briefed'", String),
            SignOff.person_id,
            Revision.assessment_id,
            Revision.number,
            SignOff.id,
            no_result,
            no_day,
            no_moment,
        )
        .join(SignOffBriefing, SignOffBriefing.sign_off_id == SignOff.id)
        .join(Revision, Revision.id == SignOffBriefing.revision_id)
        .where(
            these(SignOff.person_id),
            SignOffBriefing.revision_id.in_(of_these),
            SignOff.occurred_at <= AT,
        )
    )
    suspended = select(
        literal_column("'suspended'", String),
        Suspension.person_id,
        cast(Suspension.area_id, Integer),
        cast(Suspension.machine_id, Integer),
        Suspension.id,
        no_result,
        no_day,
        no_moment,
    ).where(these(Suspension.person_id), stands(Suspension, AT))
    return union_all(records, acknowledged, briefed, suspended)


PERSON_FILE = prepared(_person_file(lambda column: column == PERSON))
PEOPLE_FILES = prepared(_person_file(lambda column: column.in_(PEOPLE)))


@dataclass(slots=True)
class _Lists:
    """The four lists of one person, as they are read."""

    records: dict[int, list[Record]]
    acknowledged: dict[int, int]
    briefed: dict[int, int]
    suspensions: list[SuspensionFact]


def person_facts(
    session: Session,
    people: Mapping[int, Identity],
    *,
    inductions: Iterable[int],
    assessments: Iterable[int],
    at: datetime,
) -> dict[int, PersonFacts]:
    """Return the facts of people, as far as these inductions and assessments go. One statement."""
    lists = {person_id: _Lists({}, {}, {}, []) for person_id in people}
    asked: dict[str, Any] = {
        "at": at,
        "inductions": list(inductions),
        "assessments": list(assessments),
    }
    if len(people) == 1:
        statement, asked["person"] = PERSON_FILE, next(iter(people))
    else:
        statement, asked["people"] = PEOPLE_FILES, list(people)
    for row in statement(session.connection(), asked):
        _sort_in(lists[row.person_id], row)
    return {
        person_id: PersonFacts(
            id=person_id,
            name=person.name,
            starts_on=person.starts_on,
            ends_on=person.ends_on,
            erased=person.erased,
            technician_of=person.technician_of,
            records={k: tuple(v) for k, v in lists[person_id].records.items()},
            briefed=lists[person_id].briefed,
            acknowledged=lists[person_id].acknowledged,
            suspensions=tuple(lists[person_id].suspensions),
        )
        for person_id, person in people.items()
    }


def _sort_in(lists: _Lists, row: AnyRow) -> None:
    if row.what == "record":
        record = Record(
            id=row.id,
            result=Result(row.result),
            revision_number=row.number,
            occurred_at=row.occurred_at,
            expires_on=row.expires_on,
        )
        lists.records.setdefault(row.about, []).append(record)
    elif row.what == "suspended":
        lists.suspensions.append(SuspensionFact(area_id=row.about, machine_id=row.number))
    else:
        latest = lists.acknowledged if row.what == "acknowledged" else lists.briefed
        latest[row.about] = max(row.number, latest.get(row.about, 0))


# --- one pair ----------------------------------------------------------------------------


def gather(
    session: Session,
    file: MachineFile,
    person: Identity | None,
    *,
    now: datetime,
    zone: ZoneInfo,
) -> Facts:
    """Return the facts of one pair from the machine's file. At most one statement."""
    facts = None
    if person is not None:
        facts = person_facts(
            session,
            {person.id: person},
            inductions=file.facts.inductions,
            assessments=[a.id for a in file.facts.assessments],
            at=now,
        )[person.id]
    return Facts(machine=file.facts, person=facts, now=now, zone=zone)
