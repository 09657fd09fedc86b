"""May this person start on this machine, now? Pure: frozen facts in, a clearance out.

Each condition is one small function that yields the reasons it finds. The machine part
asks what holds for everybody, the person part what holds for this person, the moment part
what holds just now; the strictest reason decides and all of them are kept. What is not known
is not cleared.

Only the standard library and pure modules are imported here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from app.clearance.codes import RULES, Code, Lifted, Reason, Verdict
from app.clearance.known import (
    AssessmentFact,
    BookingFact,
    CheckFact,
    Conditions,
    EquipmentFact,
    ExposureFact,
    Facts,
    Here,
    House,
    InductionFact,
    JobFact,
    MachineFacts,
    MarkFact,
    OverrideFact,
    PersonFacts,
    SuspensionFact,
    Worked,
)
from app.clearance.lifting import LIFTABLE, lifted
from app.clearance.machine_rules import MACHINE_PART
from app.clearance.moment_rules import (
    MOMENT_PART,
    free_supervisors,
    needs_supervisor,
    supervision_wanting,
)
from app.clearance.person_rules import PERSON_PART
from app.clearance.turning import holds_until
from app.machines.hours import next_opening

__all__ = [
    "LIFTABLE",
    "MACHINE_PART",
    "MOMENT_PART",
    "PERSON_PART",
    "RULES",
    "AssessmentFact",
    "BookingFact",
    "CheckFact",
    "Clearance",
    "Code",
    "Conditions",
    "EquipmentFact",
    "ExposureFact",
    "Facts",
    "Here",
    "House",
    "InductionFact",
    "JobFact",
    "Lifted",
    "MachineFacts",
    "MarkFact",
    "OverrideFact",
    "PersonFacts",
    "Reason",
    "SuspensionFact",
    "Verdict",
    "decide",
    "joined",
    "machine_part",
    "person_part",
    "reasons_of",
    "with_two_parts",
    "worst",
]


# What a test run lifts for the person who is let to prove the repair, and nothing else.
_TO_BE_PROVED = frozenset({Code.OUT_OF_USE, Code.CHECK_FAILED})


@dataclass(frozen=True, kw_only=True, slots=True)
class Clearance:
    """The answer for one person, machine and moment."""

    facts: Facts
    verdict: Verdict
    reasons: tuple[Reason, ...]  # danger first: the worst, and of those the machine's
    alarms: tuple[AssessmentFact, ...]  # review date passed: told to technicians, no verdict
    decided_at: datetime
    holds_until: datetime | None  # if nothing new is recorded; None: no date changes it
    lifted: tuple[Lifted, ...] = ()  # what an override answers more mildly
    supervisors: tuple[tuple[int, str], ...] = ()  # who may supervise here now, where that is asked

    @property
    def opens_at(self) -> datetime | None:
        """When the area opens again, where it is closed by its hours."""
        here = self.facts.here
        if here is None or here.calendar is None:
            return None
        if Code.CLOSED_NOW not in {reason.code for reason in self.reasons}:
            return None
        return next_opening(here.calendar, self.facts.zone, after=self.facts.now)


def decide(facts: Facts) -> Clearance:
    """Apply every rule, keep every reason; the strictest verdict wins."""
    reasons, by_override = _found(facts)
    return Clearance(
        facts=facts,
        verdict=worst(reasons),
        reasons=reasons,
        alarms=tuple(a for a in facts.machine.assessments if a.review_due_on < facts.today),
        decided_at=facts.now,
        holds_until=holds_until(facts, reasons, reasons_of),
        lifted=by_override,
        supervisors=_supervisors(facts, reasons),
    )


def reasons_of(facts: Facts) -> tuple[Reason, ...]:
    """Return the reasons of all parts, in the order of the rules, worst first."""
    return _found(facts)[0]


def worst(reasons: Iterable[Reason]) -> Verdict:
    """Return the strictest verdict; nothing found against it is cleared."""
    return max((reason.verdict for reason in reasons), default=Verdict.CLEARED)


def machine_part(machine: MachineFacts, now: datetime, zone: ZoneInfo) -> tuple[Reason, ...]:
    """Return what holds for everybody at a machine."""
    facts = Facts(machine=machine, person=None, now=now, zone=zone)
    return tuple(reason for rule in MACHINE_PART for reason in rule(facts))


def person_part(
    machine: MachineFacts, person: PersonFacts | None, now: datetime, zone: ZoneInfo
) -> tuple[Reason, ...]:
    """Return what holds for this person at this machine, with their overrides applied."""
    return _of_the_person(Facts(machine=machine, person=person, now=now, zone=zone))[0]


def joined(machine: Iterable[Reason], person: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return the reasons of a machine part and a person part together, worst first.

    A person who is let run the machine to prove its repair is not stopped by what it proves.
    """
    theirs, everybodys = tuple(person), tuple(machine)
    if any(reason.code is Code.TEST_RUN for reason in theirs):
        everybodys = tuple(r for r in everybodys if r.code not in _TO_BE_PROVED)
    return _sorted((*everybodys, *theirs))


def _sorted(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    return tuple(sorted(reasons, key=lambda reason: -reason.verdict))


def _of_the_person(facts: Facts) -> tuple[tuple[Reason, ...], tuple[Lifted, ...]]:
    return lifted(facts, (reason for rule in PERSON_PART for reason in rule(facts)))


def with_two_parts(facts: Facts) -> Facts:
    """Return the same facts with the machine part and the person part worked out."""
    reasons, by_override = _two_parts(facts)
    return replace(facts, worked=Worked(of=facts, reasons=reasons, lifted=by_override))


def _two_parts(facts: Facts) -> tuple[tuple[Reason, ...], tuple[Lifted, ...]]:
    kept = facts.worked
    if (
        kept is not None
        and kept.of.machine is facts.machine
        and kept.of.person is facts.person
        and (kept.of.now, kept.of.zone) == (facts.now, facts.zone)
    ):
        return kept.reasons, kept.lifted
    person, by_override = _of_the_person(facts)
    machine = (reason for rule in MACHINE_PART for reason in rule(facts))
    return joined(machine, person), by_override


def _found(facts: Facts) -> tuple[tuple[Reason, ...], tuple[Lifted, ...]]:
    """Return the reasons as they are left, and those that an override lifted."""
    both, lifted_theirs = _two_parts(facts)
    here = facts.here
    # Where nobody may use it the moment does not matter, and it was not even asked for.
    if here is None or worst(both) is Verdict.OUT_OF_USE:
        return both, lifted_theirs
    found = [reason for rule in MOMENT_PART for reason in rule(facts, here)]
    if needs_supervisor(both):
        found += supervision_wanting(facts, here)
    moment, lifted_now = lifted(facts, found)
    return _sorted((*both, *moment)), (*lifted_theirs, *lifted_now)


def _supervisors(facts: Facts, reasons: tuple[Reason, ...]) -> tuple[tuple[int, str], ...]:
    if facts.here is None or not needs_supervisor(reasons):
        return ()
    free = free_supervisors(facts, facts.here)
    return tuple(sorted(free.items(), key=lambda each: (each[1], each[0])))
