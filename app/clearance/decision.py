"""May this person start on this machine, now? Pure: frozen facts in, a clearance out.

Each condition is one small function that yields the reasons it finds. The machine part
asks what holds for everybody, the person part what holds for this person; the strictest
reason decides and all of them are kept. What is not known is not cleared.

Only the standard library and the pure `standing` and `run_mode` are imported here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import IntEnum, StrEnum
from zoneinfo import ZoneInfo

from app.dates import day_begins, local_date
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, State, standing

RULES = 1  # version of the rule set; kept with every start


class Verdict(IntEnum):
    """From the best to the worst. The worst wins."""

    CLEARED = 0
    SUPERVISED = 1
    NOT_CLEARED = 2
    OUT_OF_USE = 3

    @property
    def words(self) -> str:
        return ("cleared", "supervised", "not cleared", "out of use")[self]


class Code(StrEnum):
    """Why. Codes are stored with every start and never change their meaning."""

    RETIRED = "machine-retired"
    OUT_OF_USE = "out-of-use"
    SCENE_PRESERVED = "scene-preserved"
    AREA_CLOSED = "area-closed"
    NO_ASSESSMENT = "no-assessment-in-force"
    CHECK_FAILED = "check-failed"
    EXAMINATION_OVERDUE = "statutory-examination-overdue"
    CHECK_NOT_DONE = "check-not-done"
    NOT_SIGNED_IN = "not-signed-in"
    ACCOUNT_NOT_STARTED = "account-not-started"
    ACCOUNT_ENDED = "account-ended"
    SUSPENDED = "suspended"
    INDUCTION_MISSING = "induction-missing"
    INDUCTION_NOT_YET = "induction-not-yet-passed"
    INDUCTION_EXPIRED = "induction-expired"
    INDUCTION_REVOKED = "induction-revoked"
    INDUCTION_OUTDATED = "induction-outdated"
    INDUCTION_SUPERVISED = "induction-with-supervision"
    PREREQUISITE_LAPSED = "prerequisite-lapsed"
    PREREQUISITE_SUPERVISED = "prerequisite-with-supervision"
    ASSESSMENT_CHANGED = "assessment-changed"
    ACKNOWLEDGEMENT_OUTSTANDING = "acknowledgement-outstanding"
    TECHNICIAN_RUN = "technician-run"
    SUPERVISED_USE = "supervised-use"


@dataclass(frozen=True, kw_only=True, slots=True)
class Reason:
    """One condition that was found, and how bad it is. `wording` makes the sentence."""

    code: Code
    verdict: Verdict
    subject: str = ""  # the induction, check, assessment it is about
    subject_id: int | None = None


# --- facts -------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class CheckFact:
    """Where a check that the machine relies on stands."""

    id: int
    title: str
    statutory: bool
    failed: bool
    due_on: date | None  # good through this day; None: never done


@dataclass(frozen=True, kw_only=True, slots=True)
class AssessmentFact:
    """An assessment in force for the machine."""

    id: int
    reference: str
    number: int
    run_mode: RunMode
    material_number: int  # the latest revision in force whose change was material
    review_due_on: date


@dataclass(frozen=True, kw_only=True, slots=True)
class InductionFact:
    """An induction that is required, at once or behind another."""

    id: int
    title: str
    counts_from: int  # sign-offs under earlier revisions no longer count
    requires: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class MachineFacts:
    """What holds for everybody at one machine."""

    id: int
    name: str
    area_id: int
    retired_on: date | None = None
    out_of_use: bool = False
    scene_preserved: bool = False
    area_closed: bool = False
    assessment_withdrawn: bool = False  # one that covered it, with nothing approved since
    assessments: tuple[AssessmentFact, ...] = ()
    checks: tuple[CheckFact, ...] = ()
    required: tuple[int, ...] = ()
    inductions: Mapping[int, InductionFact] = field(default_factory=dict)  # with prerequisites


@dataclass(frozen=True, kw_only=True, slots=True)
class SuspensionFact:
    """Where a person is suspended; neither area nor machine: everywhere."""

    area_id: int | None = None
    machine_id: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PersonFacts:
    """What holds for one person, as far as a machine may ask."""

    id: int
    name: str
    starts_on: date | None  # None: no membership on record
    ends_on: date | None = None
    erased: bool = False
    suspensions: tuple[SuspensionFact, ...] = ()
    technician_of: frozenset[int | None] = frozenset()  # area ids; None: of every area
    records: Mapping[int, tuple[Record, ...]] = field(default_factory=dict)  # by induction
    briefed: Mapping[int, int] = field(default_factory=dict)  # assessment: latest revision
    acknowledged: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class Facts:
    """Everything the decision may know."""

    machine: MachineFacts
    person: PersonFacts | None
    now: datetime
    zone: ZoneInfo
    today: date = field(init=False)  # at the site

    def __post_init__(self) -> None:
        object.__setattr__(self, "today", local_date(self.now, self.zone))


# --- the machine part --------------------------------------------------------------------


def taken_out_of_use(facts: Facts) -> Iterator[Reason]:
    machine = facts.machine
    for holds, code in (
        (machine.retired_on is not None and machine.retired_on <= facts.today, Code.RETIRED),
        (machine.scene_preserved, Code.SCENE_PRESERVED),
        (machine.out_of_use, Code.OUT_OF_USE),
        (machine.area_closed, Code.AREA_CLOSED),
    ):
        if holds:
            yield Reason(code=code, verdict=Verdict.OUT_OF_USE, subject=machine.name)


def no_assessment_in_force(facts: Facts) -> Iterator[Reason]:
    if not facts.machine.assessments or facts.machine.assessment_withdrawn:
        yield Reason(
            code=Code.NO_ASSESSMENT, verdict=Verdict.OUT_OF_USE, subject=facts.machine.name
        )


def check_lapsed(facts: Facts) -> Iterator[Reason]:
    """A failed check, or a late examination that the law asks for, stops everybody.

    A routine check that nobody has done yet stops the start until somebody does it.
    """
    today = facts.today
    for check in facts.machine.checks:
        if check.failed:
            code, verdict = Code.CHECK_FAILED, Verdict.OUT_OF_USE
        elif check.due_on is not None and today <= check.due_on:
            continue
        elif check.statutory:
            code, verdict = Code.EXAMINATION_OVERDUE, Verdict.OUT_OF_USE
        else:
            code, verdict = Code.CHECK_NOT_DONE, Verdict.NOT_CLEARED
        yield Reason(code=code, verdict=verdict, subject=check.title, subject_id=check.id)


# --- the person part ---------------------------------------------------------------------


def not_a_member_now(facts: Facts) -> Iterator[Reason]:
    person, today = facts.person, facts.today
    if person is None:
        yield Reason(code=Code.NOT_SIGNED_IN, verdict=Verdict.NOT_CLEARED)
    elif person.erased or (person.ends_on is not None and person.ends_on < today):
        yield Reason(code=Code.ACCOUNT_ENDED, verdict=Verdict.NOT_CLEARED)
    elif person.starts_on is None or person.starts_on > today:
        yield Reason(code=Code.ACCOUNT_NOT_STARTED, verdict=Verdict.NOT_CLEARED)


def suspended(facts: Facts) -> Iterator[Reason]:
    machine = facts.machine
    if facts.person and any(
        s.area_id in (None, machine.area_id) and s.machine_id in (None, machine.id)
        for s in facts.person.suspensions
    ):
        yield Reason(code=Code.SUSPENDED, verdict=Verdict.NOT_CLEARED)


_DIRECT = {
    State.MISSING: Code.INDUCTION_MISSING,
    State.NOT_YET: Code.INDUCTION_NOT_YET,
    State.EXPIRED: Code.INDUCTION_EXPIRED,
    State.REVOKED: Code.INDUCTION_REVOKED,
    State.OUTDATED: Code.INDUCTION_OUTDATED,
}


def induction_lapsed(facts: Facts) -> Iterator[Reason]:
    """Every required induction, and whatever stands before it, to any depth."""
    if facts.person is None:
        return
    required = set(facts.machine.required)
    for induction in _with_prerequisites(facts.machine):
        state = _standing(facts, facts.person, induction)
        if state is State.CURRENT:
            continue
        direct = induction.id in required
        if state is State.SUPERVISED:
            verdict = Verdict.SUPERVISED
            code = Code.INDUCTION_SUPERVISED if direct else Code.PREREQUISITE_SUPERVISED
        else:
            verdict = Verdict.NOT_CLEARED
            code = _DIRECT[state] if direct else Code.PREREQUISITE_LAPSED
        yield Reason(code=code, verdict=verdict, subject=induction.title, subject_id=induction.id)


def assessment_not_acknowledged(facts: Facts) -> Iterator[Reason]:
    """A material change asks for a new briefing; a sign-off asks for the person's own word.

    Somebody who was never inducted here is told of the induction alone: the briefing and
    the acknowledgement come with it.
    """
    person = facts.person
    if person is None:
        return
    for assessment in facts.machine.assessments:
        acknowledged = person.acknowledged.get(assessment.id, 0)
        if acknowledged >= assessment.material_number:
            continue
        known = max(acknowledged, person.briefed.get(assessment.id, 0))
        if known == 0 and not _inducted(facts, person):
            continue
        changed = 0 < known < assessment.material_number
        yield Reason(
            code=Code.ASSESSMENT_CHANGED if changed else Code.ACKNOWLEDGEMENT_OUTSTANDING,
            verdict=Verdict.NOT_CLEARED,
            subject=assessment.reference,
            subject_id=assessment.id,
        )


def run_mode_forbids(facts: Facts) -> Iterator[Reason]:
    """Only a technician runs a technician-run machine; technicians too need their inductions."""
    person, machine = facts.person, facts.machine
    if person is None or person.technician_of & {None, machine.area_id}:
        return
    modes = {assessment.run_mode for assessment in machine.assessments}
    if RunMode.TECHNICIAN_RUN in modes:
        yield Reason(code=Code.TECHNICIAN_RUN, verdict=Verdict.NOT_CLEARED)
    elif RunMode.SUPERVISED in modes:
        yield Reason(code=Code.SUPERVISED_USE, verdict=Verdict.SUPERVISED)


def _with_prerequisites(machine: MachineFacts) -> list[InductionFact]:
    """Return what is required, then what stands before it, each once; a loop ends by itself."""
    found: dict[int, InductionFact] = {}
    queue = list(machine.required)
    for induction_id in queue:
        if induction_id not in found:
            # One that is required but unknown was never published: nobody can hold it.
            induction = machine.inductions.get(induction_id) or InductionFact(
                id=induction_id, title="an induction that is not published", counts_from=1
            )
            found[induction_id] = induction
            queue.extend(induction.requires)
    return list(found.values())


def _standing(facts: Facts, person: PersonFacts, induction: InductionFact) -> State:
    if induction.id not in facts.machine.inductions:
        return State.MISSING
    return standing(
        person.records.get(induction.id, ()),
        counts_from=induction.counts_from,
        now=facts.now,
        today=facts.today,
    )


def _inducted(facts: Facts, person: PersonFacts) -> bool:
    return all(
        _standing(facts, person, induction) in (State.CURRENT, State.SUPERVISED)
        for induction in _with_prerequisites(facts.machine)
    )


# --- the answer --------------------------------------------------------------------------

MACHINE_PART = (taken_out_of_use, no_assessment_in_force, check_lapsed)
PERSON_PART = (
    not_a_member_now,
    suspended,
    run_mode_forbids,
    induction_lapsed,
    assessment_not_acknowledged,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Clearance:
    """The answer for one person, machine and moment."""

    facts: Facts
    verdict: Verdict
    reasons: tuple[Reason, ...]  # danger first: the machine's, then the person's
    alarms: tuple[AssessmentFact, ...]  # review date passed: told to technicians, no verdict
    decided_at: datetime
    holds_until: datetime | None  # if nothing new is recorded; None: no date changes it


def decide(facts: Facts) -> Clearance:
    """Apply every rule, keep every reason; the strictest verdict wins."""
    reasons = reasons_of(facts)
    return Clearance(
        facts=facts,
        verdict=worst(reasons),
        reasons=reasons,
        alarms=tuple(a for a in facts.machine.assessments if a.review_due_on < facts.today),
        decided_at=facts.now,
        holds_until=_holds_until(facts, reasons),
    )


def reasons_of(facts: Facts) -> tuple[Reason, ...]:
    """Return the reasons of both parts, in the order of the rules, worst first."""
    found = [reason for rule in MACHINE_PART + PERSON_PART for reason in rule(facts)]
    return tuple(sorted(found, key=lambda reason: -reason.verdict))


def worst(reasons: Iterable[Reason]) -> Verdict:
    """Return the strictest verdict; nothing found against it is cleared."""
    return max((reason.verdict for reason in reasons), default=Verdict.CLEARED)


def _holds_until(facts: Facts, reasons: tuple[Reason, ...]) -> datetime | None:
    """Return the first instant at which the passing of time alone gives other reasons.

    Time enters the rules only where a day begins or where a record happened, so it is
    enough to ask again at those instants, in their order.
    """
    for instant in sorted(_turning_points(facts)):
        if instant > facts.now and reasons_of(replace(facts, now=instant)) != reasons:
            return instant
    return None


def _turning_points(facts: Facts) -> set[datetime]:
    first_days: set[date] = set()
    if facts.machine.retired_on is not None:
        first_days.add(facts.machine.retired_on)
    last_days = {check.due_on for check in facts.machine.checks}
    instants: set[datetime] = set()
    if facts.person is not None:
        last_days.add(facts.person.ends_on)
        if facts.person.starts_on is not None:
            first_days.add(facts.person.starts_on)
        for induction_id in facts.machine.inductions:
            for record in facts.person.records.get(induction_id, ()):
                last_days.add(record.expires_on)
                instants.add(record.occurred_at)
    # A last day of 9999-12-31, which people type for never, has no day after it.
    first_days |= {day + timedelta(days=1) for day in last_days if day and day < date.max}
    instants |= {day_begins(day, facts.zone) for day in first_days if day > facts.today}
    return instants
