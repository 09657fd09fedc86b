"""Whom and what a submitted revision touches once it is in force: asked before it is published.

The rules of the one decision are asked twice about the same people: from the facts as they are,
and from the same facts with this revision in the place of the one before it. Pure; `coming`
reads the facts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from app.clearance.decision import (
    Code,
    MachineFacts,
    PersonFacts,
    Reason,
    Verdict,
    machine_part,
    person_part,
    worst,
)
from app.clearance.wording import words
from app.risk_assessments.models import Revision
from app.site import Site

_TO_READ = frozenset({Code.ASSESSMENT_CHANGED, Code.ACKNOWLEDGEMENT_OUTSTANDING})
_TRAINING = frozenset(
    {
        Code.INDUCTION_MISSING,
        Code.INDUCTION_NOT_YET,
        Code.INDUCTION_EXPIRED,
        Code.INDUCTION_REVOKED,
        Code.INDUCTION_OUTDATED,
        Code.PREREQUISITE_LAPSED,
    }
)


@dataclass(frozen=True, kw_only=True)
class Touched:
    """One person for whom something changes."""

    id: int
    name: str
    reads: tuple[int, ...]  # machines before whose next use they read and acknowledge it
    stopped: tuple[int, ...]  # machines that they may use now, and not then for another reason
    why: tuple[str, ...]  # they are stopped, in sentences


@dataclass(frozen=True, kw_only=True)
class MachineChange:
    """A machine of which something else holds for everybody then, even if its word stays."""

    id: int
    name: str
    before: Verdict
    after: Verdict
    why: tuple[str, ...]  # what stands against it then


@dataclass(frozen=True, kw_only=True)
class Affected:
    """What comes of putting a revision in force."""

    people: tuple[Touched, ...]  # by name
    machines: tuple[MachineChange, ...]
    by_area: tuple[tuple[str, int], ...]  # people who read it anew
    by_cohort: tuple[tuple[str, int], ...]

    @property
    def reading(self) -> list[Touched]:
        return [each for each in self.people if each.reads]

    @property
    def stopped(self) -> list[Touched]:
        return [each for each in self.people if each.stopped]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Everything that is read for the question. It is then asked as often as one likes."""

    revision: Revision
    now: datetime
    site: Site
    before: Mapping[int, MachineFacts]
    as_material: Mapping[int, MachineFacts]
    as_not_material: Mapping[int, MachineFacts]
    inductions: frozenset[int]  # that this revision asks for, with what stands before them
    people: Mapping[int, PersonFacts]
    areas: Mapping[int, str]  # by machine
    cohorts: Mapping[int, tuple[str, ...]]  # by person


def affected(ground: Ground, *, material: bool) -> Affected:
    """Return whom and what the revision touches, if the change is material or is not. Pure."""
    after = ground.as_material if material else ground.as_not_material
    people = [
        found
        for person in ground.people.values()
        if (found := _touched(ground, person, after)) is not None
    ]
    people.sort(key=lambda each: (each.name.casefold(), each.id))
    readers = [each for each in people if each.reads]
    by_area = Counter(area for each in readers for area in {ground.areas[m] for m in each.reads})
    by_cohort = Counter(name for each in readers for name in ground.cohorts.get(each.id, ()))
    return Affected(
        people=tuple(people),
        machines=tuple(_machines(ground, after)),
        by_area=tuple(sorted(by_area.items())),
        by_cohort=tuple(sorted(by_cohort.items())),
    )


def _touched(
    ground: Ground, person: PersonFacts, after: Mapping[int, MachineFacts]
) -> Touched | None:
    reads, stopped, why = [], [], dict[str, None]()
    for machine_id, machine in after.items():
        then = person_part(machine, person, ground.now, ground.site.tz)
        if worst(then) <= Verdict.SUPERVISED:
            continue
        mine = {r for r in then if r.code in _TO_READ and _is_of(r, ground.revision)}
        if mine and not any(_lacks(reason, ground) for reason in then):
            reads.append(machine_id)
        others = [r for r in then if r.verdict > Verdict.SUPERVISED and r not in mine]
        if others and _may_now(ground, person, machine_id):
            stopped.append(machine_id)
            why |= dict.fromkeys(words(reason).sentence for reason in others)
    if not (reads or stopped):
        return None
    return Touched(
        id=person.id, name=person.name, reads=tuple(reads), stopped=tuple(stopped), why=tuple(why)
    )


def _is_of(reason: Reason, revision: Revision) -> bool:
    return reason.subject_id == revision.assessment_id


def _lacks(reason: Reason, ground: Ground) -> bool:
    """Say whether an induction that this assessment asks for is wanting: it comes first."""
    return reason.code in _TRAINING and reason.subject_id in ground.inductions


def _may_now(ground: Ground, person: PersonFacts, machine_id: int) -> bool:
    now = person_part(ground.before[machine_id], person, ground.now, ground.site.tz)
    return worst(now) <= Verdict.SUPERVISED


def _machines(ground: Ground, after: Mapping[int, MachineFacts]) -> Iterable[MachineChange]:
    for machine_id, machine in after.items():
        now, then = (
            machine_part(each, ground.now, ground.site.tz)
            for each in (ground.before[machine_id], machine)
        )
        if set(now) != set(then):
            yield MachineChange(
                id=machine_id,
                name=machine.name,
                before=worst(now),
                after=worst(then),
                why=tuple(words(reason).sentence for reason in then),
            )
