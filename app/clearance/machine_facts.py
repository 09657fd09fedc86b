"""Gather what holds for everybody at machines: a fixed number of statements, for one or for many.

Everything is read as of ``at``: what had happened by then; with ``known``, only what had been
written down by then. The statements are built once and run on the connection itself, because
a scan is made of little else than their cost: `tests/bench` holds it against two plain SELECTs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Connection,
    Exists,
    String,
    bindparam,
    case,
    cast,
    func,
    null,
    or_,
    select,
)
from sqlalchemy.orm import Session, aliased

from app.audit.models import AuditHead
from app.clearance.decision import (
    AssessmentFact,
    CheckFact,
    Conditions,
    House,
    InductionFact,
    MachineFacts,
)
from app.dates import local_date
from app.db import AnyRow, AnySelect, Moment, UtcDateTime, by_then, constant, prepared, stands
from app.hazards.due import IntervalUnit, good_through
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Outcome, Scope
from app.inductions.catalogue import VERSION, Catalogue, catalogue, remember_version
from app.machines.models import (
    Area,
    AreaClosure,
    AreaTerms,
    Form,
    Hold,
    Isolation,
    Machine,
    MachineHold,
    OpeningHours,
    Tag,
)
from app.machines.where import area_at
from app.presence.models import Booking, Loan, Start, UnattendedJob, UseExtended
from app.risk_assessments.in_force import in_force, material_number, withdrawn
from app.risk_assessments.models import (
    Lone,
    Revision,
    RevisionCheck,
    RevisionConditions,
    RevisionInduction,
    RevisionMachine,
    RiskAssessment,
)
from app.site import VERSION as SETTINGS
from app.site import Site, site_of

AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
KNOWN: BindParameter[datetime] = bindparam("known", type_=UtcDateTime())
CODE: BindParameter[str] = bindparam("code")
MACHINE: BindParameter[int] = bindparam("machine")
MACHINES: BindParameter[Any] = bindparam("machines", expanding=True)

_SHARED = frozenset({Form.BENCH, Form.ROOM})


def _open(model: Any, known: Moment | None, *which: Hold) -> Exists:
    """Say, for a row of `Machine`, whether a row about it stands."""
    row = aliased(model)
    return (
        select(row.id)
        .where(
            row.machine_id == Machine.id,
            *(row.hold == constant(hold) for hold in which),
            stands(row, AT, known),
        )
        .correlate(Machine)
        .exists()
    )


def _open_closure(known: Moment | None) -> Exists:
    row = aliased(AreaClosure)
    return (
        select(row.id)
        .where(row.area_id == Area.id, stands(row, AT, known))
        .correlate(Area)
        .exists()
    )


def _withdrawn(known: Moment | None) -> Exists:
    tie = aliased(RevisionMachine)
    return (
        select(Revision.id)
        .join(tie, tie.revision_id == Revision.id)
        .where(tie.machine_id == Machine.id, withdrawn(AT, known))
        .correlate(Machine)
        .exists()
    )


def _loaned_to(known: Moment | None) -> ColumnElement[int | None]:
    row = aliased(Loan)
    holder = (
        select(row.person_id)
        .where(row.machine_id == Machine.id, stands(row, AT, known))
        .order_by(row.id.desc())
        .limit(1)
        .correlate(Machine)
        .scalar_subquery()
    )
    return case((Machine.form == constant(Form.LOAN_TOOL), holder))


def _moment_matters() -> ColumnElement[bool]:
    """Say whether a rule of the moment may find something: rather too often than too seldom."""
    more = aliased(Start)
    return or_(
        select(OpeningHours.id).where(OpeningHours.area_id == Area.id).correlate(Area).exists(),
        select(AreaTerms.id).where(AreaTerms.area_id == Area.id).correlate(Area).exists(),
        select(Start.id)
        .where(Start.machine_id == Machine.id, Start.runs_out_at > AT)
        .correlate(Machine)
        .exists(),
        select(UseExtended.id)
        .join(more, more.id == UseExtended.start_id)
        .where(UseExtended.runs_out_at > AT, more.machine_id == Machine.id)
        .correlate(Machine)
        .exists(),
        select(Booking.id)
        .where(Booking.machine_id == Machine.id, Booking.ends_at > AT)
        .correlate(Machine)
        .exists(),
        select(UnattendedJob.id)
        .where(UnattendedJob.machine_id == Machine.id)
        .correlate(Machine)
        .exists(),
    )


_required = (
    select(func.aggregate_strings(cast(RevisionInduction.induction_id, String), ","))
    .where(RevisionInduction.revision_id == Revision.id)
    .correlate(Revision)
    .scalar_subquery()
)


def _machine(known: Moment | None) -> AnySelect:
    """One row for each assessment in force; one with no revision where there is none."""
    return (
        select(
            Machine.id,
            Machine.name,
            Machine.form,
            Machine.place,
            Area.id.label("area_id"),
            Machine.retired_on,
            Area.name.label("area"),
            Area.help,
            _open(MachineHold, known, Hold.OUT_OF_USE).label("out_of_use"),
            _open(MachineHold, known, Hold.SCENE_PRESERVED).label("scene_preserved"),
            _open(Isolation, known).label("isolated"),
            _open_closure(known).label("area_closed"),
            _loaned_to(known).label("loaned_to"),
            _withdrawn(known).label("assessment_withdrawn"),
            _moment_matters().label("moment_matters"),
            Revision.id.label("revision_id"),
            Revision.assessment_id,
            Revision.number,
            Revision.run_mode,
            Revision.review_due_on,
            Revision.digest,
            RiskAssessment.reference,
            material_number(AT, known).label("material_number"),
            _required.label("required"),
            RevisionConditions.lone,
            RevisionConditions.companions,
            RevisionConditions.unstaffed,
            RevisionConditions.first_aider,
            RevisionConditions.minimum_age,
            RevisionConditions.supervised_under,
            RevisionConditions.disuse_months,
            RevisionConditions.equipment,
            *VERSION,
            *SETTINGS,
            select(AuditHead.recorded_at).scalar_subquery().label("log_at"),
        )
        .select_from(Machine)
        .join(Area, Area.id == area_at(AT, known))
        .outerjoin(RevisionMachine, RevisionMachine.machine_id == Machine.id)
        .outerjoin(Revision, (Revision.id == RevisionMachine.revision_id) & in_force(AT, known))
        .outerjoin(RevisionConditions, RevisionConditions.revision_id == Revision.id)
        .outerjoin(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
    )


def _checks(those: ColumnElement[bool], known: Moment | None) -> AnySelect:
    terms, result = aliased(CheckTerms), aliased(CheckResult)
    latest_terms = (
        select(func.max(terms.id))
        .where(terms.check_id == Check.id, *by_then(terms, AT, known))
        .correlate(Check)
        .scalar_subquery()
    )
    unit = case((Check.scope == constant(Scope.MACHINE), RevisionMachine.machine_id), else_=null())
    latest_result = (
        select(result.id)
        .where(
            result.check_id == Check.id,
            result.machine_id.is_not_distinct_from(unit),
            *by_then(result, AT, known),
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
            CheckTerms.unit,
            CheckTerms.every,
            CheckTerms.recorded_at.label("terms_at"),
            CheckResult.outcome,
            CheckResult.next_due_on,
            CheckResult.occurred_at,
            CheckResult.recorded_at,
        )
        .select_from(RevisionCheck)
        .join(RevisionMachine, RevisionMachine.revision_id == RevisionCheck.revision_id)
        .join(Revision, Revision.id == RevisionCheck.revision_id)
        .join(Check, Check.id == RevisionCheck.check_id)
        .outerjoin(CheckTerms, CheckTerms.id == latest_terms)
        .outerjoin(CheckResult, CheckResult.id == latest_result)
        .where(those, in_force(AT, known))
        .order_by(RevisionMachine.machine_id, Check.id)
    )


@dataclass(frozen=True, kw_only=True)
class _Statements:
    by_id: prepared
    by_code: prepared
    checks: prepared
    checks_of_many: prepared


@cache
def _statements(as_known: bool) -> _Statements:
    known = KNOWN if as_known else None
    return _Statements(
        by_id=prepared(
            _machine(known)
            .where(Machine.id.in_(MACHINES))
            .order_by(Machine.id, RiskAssessment.reference)
        ),
        by_code=prepared(
            _machine(known)
            .join(Tag, Tag.machine_id == Machine.id)
            .where(Tag.code == CODE, Tag.retired_at.is_(None))
            .order_by(RiskAssessment.reference)
        ),
        checks=prepared(_checks(RevisionMachine.machine_id == MACHINE, known)),
        checks_of_many=prepared(_checks(RevisionMachine.machine_id.in_(MACHINES), known)),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineFile:
    """What is known of one machine: its facts, and the rows that its page is drawn from."""

    facts: MachineFacts
    row: AnyRow
    revisions: tuple[AnyRow, ...]
    taught: Catalogue


@dataclass(frozen=True, kw_only=True, slots=True)
class _Moment:
    """As of when it is asked."""

    at: datetime
    known: datetime | None

    @property
    def bound(self) -> datetime:
        return self.at if self.known is None else min(self.at, self.known)

    def asked(self, **more: Any) -> dict[str, Any]:
        return {"at": self.at, "known": self.known or self.at, **more}


def machine_files(
    session: Session,
    machine_ids: Iterable[int],
    *,
    at: datetime,
    known: datetime | None = None,
) -> dict[int, MachineFile]:
    """Return the files of machines, by id. Two statements.

    Two more after a publication, and one more after a setting was changed.
    """
    connection, when = session.connection(), _Moment(at=at, known=known)
    found = _statements(known is not None).by_id(connection, when.asked(machines=list(machine_ids)))
    return _files(session, connection, found.all(), when)


def machine_file_by_code(session: Session, code: str, *, at: datetime) -> MachineFile | None:
    """Return the file of the machine with this live tag. Statements as above."""
    connection, when = session.connection(), _Moment(at=at, known=None)
    rows = _statements(False).by_code(connection, when.asked(code=code)).all()
    return next(iter(_files(session, connection, rows, when).values()), None)


def _files(
    session: Session, connection: Connection, found: Iterable[AnyRow], when: _Moment
) -> dict[int, MachineFile]:
    by_machine: dict[int, list[AnyRow]] = defaultdict(list)
    for row in found:
        by_machine[row.id].append(row)
    if not by_machine:
        return {}
    checked = _checks_of(connection, list(by_machine), when)
    first = next(iter(by_machine.values()))[0]
    version = (first.inductions_count, first.inductions_newest)
    taught = catalogue(session, version)
    remember_version(session, version)
    site = site_of(session, (first.settings_count, first.settings_newest), when.at, when.known)
    house = house_of(site)
    checks: dict[int, list[CheckFact]] = defaultdict(list)
    for row in checked:
        checks[row.machine_id].append(_check(row, site))
    files = {}
    for machine_id, rows in by_machine.items():
        revisions = tuple(row for row in rows if row.revision_id is not None)
        required = {
            int(number) for r in revisions for number in (r.required or "").split(",") if number
        }
        files[machine_id] = MachineFile(
            facts=_machine_facts(
                rows[0],
                assessments=tuple(_assessment(row) for row in revisions),
                checks=tuple(checks[machine_id]),
                required=tuple(sorted(required)),
                inductions=inductions_by(taught, required, when.bound),
                house=house,
            ),
            row=rows[0],
            revisions=revisions,
            taught=taught,
        )
    return files


def _checks_of(connection: Connection, machine_ids: list[int], when: _Moment) -> Iterable[AnyRow]:
    statements = _statements(when.known is not None)
    if len(machine_ids) == 1:
        return statements.checks(connection, when.asked(machine=machine_ids[0]))
    return statements.checks_of_many(connection, when.asked(machines=machine_ids))


def _machine_facts(row: AnyRow, **gathered: Any) -> MachineFacts:
    return MachineFacts(
        id=row.id,
        name=row.name,
        area_id=row.area_id,
        shared=row.form in _SHARED,
        loan_tool=row.form is Form.LOAN_TOOL,
        retired_on=row.retired_on,
        out_of_use=row.out_of_use,
        isolated=row.isolated,
        scene_preserved=row.scene_preserved,
        area_closed=row.area_closed,
        loaned_to=row.loaned_to,
        assessment_withdrawn=row.assessment_withdrawn,
        **gathered,
    )


def _assessment(row: AnyRow) -> AssessmentFact:
    return AssessmentFact(
        id=row.assessment_id,
        reference=row.reference,
        number=row.number,
        run_mode=row.run_mode,
        material_number=row.material_number,
        review_due_on=row.review_due_on,
        conditions=None if row.lone is None else _conditions(row),
    )


def _conditions(row: AnyRow) -> Conditions:
    return Conditions(
        never_alone=row.lone is Lone.NEVER,
        check_in=row.lone is Lone.CHECK_IN,
        companions=row.companions,
        unstaffed=row.unstaffed,
        first_aider=row.first_aider,
        minimum_age=row.minimum_age,
        supervised_under=row.supervised_under,
        disuse_months=row.disuse_months,
        equipment=tuple(row.equipment),
    )


def _check(row: AnyRow, site: Site) -> CheckFact:
    due_on = row.next_due_on
    if due_on is not None and row.terms_at is not None and row.terms_at >= row.recorded_at:
        # A shorter interval holds at once, counted from when the check was last done.
        done_on = local_date(row.occurred_at, site.tz)
        due_on = good_through(due_on, done_on, every=row.every, unit=row.unit)
    return CheckFact(
        id=row.id,
        title=row.title,
        statutory=row.basis is Basis.STATUTORY,
        failed=row.outcome is Outcome.FAILED,
        due_on=due_on,
        each_use=row.unit is IntervalUnit.USE,
    )


def house_of(site: Site) -> House:
    """Return the rules of the house, of a site's settings."""
    return House(
        grace_days=site.grace_days,
        review_grace_days=site.review_grace_days,
        disuse_months=site.disuse_months,
        people_per_supervisor=site.people_per_supervisor,
        red_list=frozenset(site.red_list),
        action_value_stops=site.action_value_stops,
        first_aid_induction=site.first_aid_induction,
        presence_minutes=site.presence_minutes,
    )


def inductions_by(
    taught: Catalogue, required: Iterable[int], at: datetime
) -> dict[int, InductionFact]:
    """Return what is required and what stands before it, to any depth, as published by then."""
    found: dict[int, InductionFact] = {}
    queue = list(required)
    for induction_id in queue:
        entry = taught.get(induction_id)
        published = entry.published_by(at) if entry else ()
        if entry is None or not published or induction_id in found:
            continue
        found[induction_id] = InductionFact(
            id=entry.id,
            title=entry.title,
            counts_from=entry.counts_from(at),
            requires=published[-1].requires,
            supervised_uses=published[-1].supervised_uses,
        )
        queue.extend(published[-1].requires)
    return found
