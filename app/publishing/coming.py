"""The facts of machines as they will be once a submitted revision is in force, with its people."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from app.clearance.decision import (
    AssessmentFact,
    CheckFact,
    Conditions,
    MachineFacts,
    PersonFacts,
)
from app.clearance.facts import MachineFile, machine_files, person_facts
from app.clearance.machine_facts import inductions_by
from app.clearance.person_facts import asks_more
from app.dates import local_date
from app.hazards.due import IntervalUnit
from app.hazards.models import Check
from app.hazards.status import Status, statuses, unit
from app.machines.models import Area, Machine
from app.people.identity import identities
from app.people.models import Cohort, CohortMember
from app.publishing.affected import Ground
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
from app.site import Site
from app.training.models import Acknowledgement, TrainingRecord


def ground_of(session: Session, revision: Revision, *, site: Site, now: datetime) -> Ground:
    """Read what the question needs. A fixed number of statements, however many people there are."""
    covered = set(_machines_of(session, revision.id))
    ids = covered | _covered_now(session, revision.assessment_id, now)
    files = machine_files(session, sorted(ids), at=now)
    coming = _Coming(session, revision, files, covered, site=site, now=now)
    material, not_material = (
        {machine_id: coming.facts(machine_id, number) for machine_id in files}
        for number in (revision.number, coming.material_before)
    )
    before = {machine_id: file.facts for machine_id, file in files.items()}
    people = _people(session, revision, (before, material), site=site, now=now)
    return Ground(
        revision=revision,
        now=now,
        site=site,
        before=before,
        as_material=material,
        as_not_material=not_material,
        inductions=frozenset(coming.inductions()),
        people=people,
        areas=_areas(session, ids),
        cohorts=_cohorts(session, local_date(now, site.tz)),
    )


class _Coming:
    """A machine's facts once this revision is in force."""

    def __init__(
        self,
        session: Session,
        revision: Revision,
        files: Mapping[int, MachineFile],
        covered: set[int],
        *,
        site: Site,
        now: datetime,
    ) -> None:
        self.revision, self.files, self.covered, self.now = revision, files, covered, now
        self.required = _inductions_of(session, revision.id)
        self.checks = _checks_in(session, revision.id)
        self.conditions = session.execute(
            select(RevisionConditions).where(RevisionConditions.revision_id == revision.id)
        ).scalar_one_or_none()
        self.reference = session.get_one(RiskAssessment, revision.assessment_id).reference
        self.material_before = _material_before(session, revision, now)
        self.checks_of = _checks_of(session, files)
        self.withdrawn = _withdrawn(session, revision, files, now)
        self.states = _states(session, self.checks, covered, site, now)

    def facts(self, machine_id: int, material_number: int) -> MachineFacts:
        file, ours = self.files[machine_id], self.revision.assessment_id
        others = [row for row in file.revisions if row.assessment_id != ours]
        required = {int(n) for row in others for n in (row.required or "").split(",") if n}
        checks = {c for row in others for c in self.checks_of.get(row.revision_id, ())}
        assessments = [each for each in file.facts.assessments if each.id != ours]
        if machine_id in self.covered:
            required |= set(self.required)
            assessments.append(self._assessment(material_number))
        found = {each.id: each for each in file.facts.checks if each.id in checks}
        if machine_id in self.covered:
            found |= {check: self.states[check, machine_id] for check in self.checks}
        return replace(
            file.facts,
            assessments=tuple(assessments),
            required=tuple(sorted(required)),
            inductions=inductions_by(file.taught, required, self.now),
            checks=tuple(found.values()),
            assessment_withdrawn=machine_id in self.withdrawn,
        )

    def inductions(self) -> Iterable[int]:
        """Return what this revision asks for, and what stands before it to any depth."""
        taught = next(iter(self.files.values())).taught
        return inductions_by(taught, self.required, self.now)

    def _assessment(self, material_number: int) -> AssessmentFact:
        return AssessmentFact(
            id=self.revision.assessment_id,
            reference=self.reference,
            number=self.revision.number,
            run_mode=self.revision.run_mode,
            material_number=material_number,
            review_due_on=self.revision.review_due_on,
            conditions=_conditions(self.conditions) if self.conditions is not None else None,
        )


def _conditions(row: RevisionConditions) -> Conditions:
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


def _numbers(session: Session, asked: Select[int]) -> list[int]:
    return sorted(session.execute(asked).scalars())


def _machines_of(session: Session, revision_id: int) -> list[int]:
    asked = select(RevisionMachine.machine_id)
    return _numbers(session, asked.where(RevisionMachine.revision_id == revision_id))


def _inductions_of(session: Session, revision_id: int) -> list[int]:
    asked = select(RevisionInduction.induction_id)
    return _numbers(session, asked.where(RevisionInduction.revision_id == revision_id))


def _checks_in(session: Session, revision_id: int) -> list[int]:
    asked = select(RevisionCheck.check_id)
    return _numbers(session, asked.where(RevisionCheck.revision_id == revision_id))


def _covered_now(session: Session, assessment_id: int, now: datetime) -> set[int]:
    return set(
        session.execute(
            select(RevisionMachine.machine_id)
            .join(Revision, Revision.id == RevisionMachine.revision_id)
            .where(Revision.assessment_id == assessment_id, in_force(now))
        ).scalars()
    )


def _material_before(session: Session, revision: Revision, now: datetime) -> int:
    """Return the number from which an acknowledgement counts now; without one it is this."""
    found = session.execute(
        select(material_number(now)).where(
            Revision.assessment_id == revision.assessment_id, in_force(now)
        )
    ).scalar_one_or_none()
    return revision.number if found is None else found


def _checks_of(session: Session, files: Mapping[int, MachineFile]) -> dict[int, set[int]]:
    """Return the checks of each revision that is in force for one of the machines."""
    wanted = {row.revision_id for file in files.values() for row in file.revisions}
    found: dict[int, set[int]] = defaultdict(set)
    rows = session.execute(
        select(RevisionCheck.revision_id, RevisionCheck.check_id).where(
            RevisionCheck.revision_id.in_(wanted)
        )
    )
    for revision_id, check_id in rows:
        found[revision_id].add(check_id)
    return found


def _withdrawn(
    session: Session, revision: Revision, files: Mapping[int, MachineFile], now: datetime
) -> set[int]:
    """Return the machines that another assessment covered which was withdrawn."""
    return set(
        session.execute(
            select(RevisionMachine.machine_id)
            .join(Revision, Revision.id == RevisionMachine.revision_id)
            .where(
                RevisionMachine.machine_id.in_(files),
                Revision.assessment_id != revision.assessment_id,
                withdrawn(now),
            )
        ).scalars()
    )


def _states(
    session: Session, check_ids: list[int], machines: set[int], site: Site, now: datetime
) -> dict[tuple[int, int], CheckFact]:
    """Return where each check stands at each machine."""
    checks = session.execute(select(Check).where(Check.id.in_(check_ids))).scalars().all()
    units = {(c.id, machine_id): unit(c, machine_id) for c in checks for machine_id in machines}
    found = statuses(session, units.values(), at=now, zone=site.tz)
    return {pair: _check(found[each]) for pair, each in units.items()}


def _check(status: Status) -> CheckFact:
    return CheckFact(
        id=status.check.id,
        title=status.check.title,
        statutory=status.statutory,
        failed=status.failed,
        due_on=status.good_through,
        each_use=status.terms.unit is IntervalUnit.USE,
    )


# --- people --------------------------------------------------------------------------------


def _people(
    session: Session,
    revision: Revision,
    sites: Iterable[Mapping[int, MachineFacts]],
    *,
    site: Site,
    now: datetime,
) -> dict[int, PersonFacts]:
    """Return those who belong here and were ever trained for these machines, or read this."""
    machines = [machine for each in sites for machine in each.values()]
    inductions = {i for machine in machines for i in machine.inductions}
    read = select(Revision.id).where(Revision.assessment_id == revision.assessment_id)
    trained = select(TrainingRecord.person_id).where(TrainingRecord.induction_id.in_(inductions))
    readers = select(Acknowledgement.person_id).where(Acknowledgement.revision_id.in_(read))
    today = local_date(now, site.tz)
    ids = session.execute(trained.union(readers)).scalars().all()
    found = identities(session, ids, today, at=now)
    members = {i: each for i, each in found.items() if each.belongs_on(today)}
    if not members:
        return {}
    return person_facts(
        session,
        members,
        inductions=inductions,
        assessments={a.id for machine in machines for a in machine.assessments},
        at=now,
        more=any(asks_more(machine) for machine in machines),
    )


def _areas(session: Session, machine_ids: set[int]) -> dict[int, str]:
    return dict(
        session.execute(
            select(Machine.id, Area.name)
            .join(Area, Area.id == Machine.area_id)
            .where(Machine.id.in_(machine_ids))
        ).all()
    )


def _cohorts(session: Session, today: date) -> dict[int, tuple[str, ...]]:
    """Return the groups of this day that each person came with."""
    found: dict[int, list[str]] = defaultdict(list)
    rows = session.execute(
        select(CohortMember.person_id, Cohort.name)
        .join(Cohort, Cohort.id == CohortMember.cohort_id)
        .where(Cohort.starts_on <= today, Cohort.ends_on.is_(None) | (Cohort.ends_on >= today))
        .order_by(Cohort.name)
    )
    for person_id, name in rows:
        found[person_id].append(name)
    return {person_id: tuple(names) for person_id, names in found.items()}
