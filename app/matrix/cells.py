"""Every person at every machine: the person part and the machine part of the decision, joined.

No rule is written a second time. Each rule of `app.clearance` is asked once for every distinct
piece of what it reads (a standing, a membership, an age), and its answer is spread over all
people who share that piece; for what few people have (a suspension, a mark, an override,
somebody's guest) the whole person part is asked for the very pairs it can touch. The tests hold
every cell against the single decision.

The moment is not asked: a matrix says who may come, and not who may start this minute.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from app.clearance import person_rules as rules
from app.clearance.decision import (
    AssessmentFact,
    Facts,
    House,
    InductionFact,
    MachineFacts,
    PersonFacts,
    Reason,
    Verdict,
    joined,
    machine_part,
    person_part,
    worst,
)
from app.dates import local_date
from app.matrix.columns import SHIFT, People, told_apart
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, Result, State, standing

Column = npt.NDArray[np.uint8]
Rule = Callable[[Facts], Iterator[Reason]]

# Asked for distinct pieces and spread over everybody.
SPREAD: tuple[Rule, ...] = (
    rules.not_a_member_now,
    rules.too_young,
    rules.run_mode_forbids,
    rules.induction_lapsed,
    rules.supervised_uses_wanting,
    rules.lapsed_by_disuse,
    rules.assessment_not_acknowledged,
    rules.equipment_missing,
    rules.on_loan,
)
# Yield something only for people of whom something particular is on record.
PARTICULAR: tuple[Rule, ...] = (
    rules.suspended,
    rules.speaks_to_a_technician,
    rules.over_the_action_value,
    rules.runs_to_prove_a_repair,
)
_SUPERVISED = np.uint8(Verdict.SUPERVISED)
NOBODY = PersonFacts(id=0, name="", starts_on=None)


@dataclass(frozen=True, kw_only=True)
class Matrix:
    """The verdicts: a row for each person, a column for each machine."""

    people: list[int]
    machines: list[int]
    verdicts: Column  # [people, machines], values of `Verdict`
    row: dict[int, int]
    column: dict[int, int]

    def at(self, person_id: int, machine_id: int) -> Verdict:
        return Verdict(int(self.verdicts[self.row[person_id], self.column[machine_id]]))


def matrix(
    people: People,
    machines: Mapping[int, MachineFacts],
    particular: Mapping[int, PersonFacts],
    *,
    now: datetime,
    zone: ZoneInfo,
    only: Iterable[int] | None = None,
    machine_part_too: bool = True,
) -> Matrix:
    """Return every verdict. ``particular`` holds the whole facts of those who need them.

    ``machines`` are all that there are, since a use of one counts for another; ``only`` says
    which columns are asked for. Without the machine part it is about people alone.
    """
    spread = _Spread(people, machines, now, zone)
    asked = list(machines) if only is None else [each for each in only if each in machines]
    found = np.empty((len(people.ids), len(asked)), dtype=np.uint8)
    for column, machine_id in enumerate(asked):
        machine = machines[machine_id]
        everybodys = machine_part(machine, now, zone) if machine_part_too else ()
        of_machine = worst(everybodys)
        if of_machine is Verdict.OUT_OF_USE:
            found[:, column] = of_machine  # nothing is worse
        else:
            np.maximum(spread.person_part(machine), np.uint8(of_machine), out=found[:, column])
    for column, machine_id in enumerate(asked):
        machine = machines[machine_id]
        everybodys = machine_part(machine, now, zone) if machine_part_too else ()
        for person in _touched(particular, machine):
            theirs = person_part(machine, person, now, zone)
            found[spread.row[person.id], column] = worst(joined(everybodys, theirs))
    return Matrix(
        people=people.ids,
        machines=asked,
        verdicts=found,
        row=spread.row,
        column={machine_id: i for i, machine_id in enumerate(asked)},
    )


def _touched(particular: Mapping[int, PersonFacts], machine: MachineFacts) -> Iterator[PersonFacts]:
    """Give the people whose particular facts can matter at this machine."""
    for person in particular.values():
        scopes = [(s.area_id, s.machine_id) for s in person.suspensions]
        scopes += [(m.area_id, m.machine_id) for m in person.marks]
        if (
            any(
                area_id in (None, machine.area_id) and machine_id in (None, machine.id)
                for area_id, machine_id in scopes
            )
            or person.visits
            or (person.equipment and any(c.equipment for c in machine.conditions))
            or (person.watched and any(i.supervised_uses for i in machine.inductions.values()))
            or (person.exposures and machine.loan_tool)
            or machine.id in person.test_runs
            or any(each.machine_id == machine.id for each in person.overrides)
            or machine.loaned_to == person.id
        ):
            yield person


@dataclass
class _Spread:
    """The rules, asked for distinct pieces and spread over everybody."""

    people: People
    machines: Mapping[int, MachineFacts]
    now: datetime
    zone: ZoneInfo
    row: dict[int, int] = field(init=False)
    today: date = field(init=False)

    def __post_init__(self) -> None:
        self.row = {person: i for i, person in enumerate(self.people.ids)}
        self.today = local_date(self.now, self.zone)
        self.size = len(self.people.ids)
        self.inductions = {
            each.id: each for m in self.machines.values() for each in m.inductions.values()
        }
        self.house = next((m.house for m in self.machines.values()), House())
        self._members()
        self._standings()
        self._ages: dict[tuple[int, int], Column] = {}
        self._acknowledging: dict[tuple[int, bool, bool, bool], int] = {}
        self._disused: dict[int, dict[int, npt.NDArray[np.bool_]]] = {}

    # --- one machine ---------------------------------------------------------------------

    def person_part(self, machine: MachineFacts) -> Column:
        """Return the worst verdict of the spread rules for everybody at one machine."""
        closure = [each.id for each in rules._with_prerequisites(machine)]
        taught = self._inductions(machine, closure)
        worst_of = np.maximum(self.membership, taught)
        np.maximum(worst_of, self._run_mode(machine), out=worst_of)
        np.maximum(worst_of, self._age(machine), out=worst_of)
        self._uses(machine, closure, worst_of)
        self._disuse(machine, worst_of)
        let_in = taught < Verdict.NOT_CLEARED
        for assessment in machine.assessments:
            np.maximum(worst_of, self._acknowledged(assessment, let_in), out=worst_of)
        for rule in (rules.equipment_missing, rules.on_loan):  # who has it is particular
            np.maximum(worst_of, np.uint8(self._verdict(rule, machine, NOBODY)), out=worst_of)
        return worst_of

    def _verdict(self, rule: Rule, machine: MachineFacts, person: PersonFacts) -> int:
        facts = Facts(machine=machine, person=person, now=self.now, zone=self.zone)
        return int(worst(rule(facts)))

    # --- membership, roles, age ----------------------------------------------------------

    def _members(self) -> None:
        nothing = MachineFacts(id=0, name="", area_id=0)
        kinds: dict[tuple[Any, ...], tuple[int, bool]] = {}
        verdicts, member = np.empty(self.size, np.uint8), np.empty(self.size, bool)
        for i, span in enumerate(self.people.spans):
            if span not in kinds:
                starts_on, ends_on, erased = span
                person = replace(NOBODY, starts_on=starts_on, ends_on=ends_on, erased=erased)
                kinds[span] = (
                    self._verdict(rules.not_a_member_now, nothing, person),
                    person.member_on(self.today),
                )
            verdicts[i], member[i] = kinds[span]
        self.membership, self.member = verdicts, member

    def _run_mode(self, machine: MachineFacts) -> Column:
        here = replace(NOBODY, starts_on=date.min, technician_of=frozenset({machine.area_id}))
        for_others = self._verdict(rules.run_mode_forbids, machine, NOBODY)
        for_technicians = self._verdict(rules.run_mode_forbids, machine, here)
        found = np.full(self.size, for_others, np.uint8)
        for person, areas in self.people.roles.items():
            i = self.row.get(person)
            if i is not None and areas & {None, machine.area_id} and self.member[i]:
                found[i] = for_technicians
        return found

    def _age(self, machine: MachineFacts) -> Column:
        asked = (
            max((c.minimum_age or 0 for c in machine.conditions), default=0),
            max((c.supervised_under or 0 for c in machine.conditions), default=0),
        )
        if asked not in self._ages:
            found = np.empty(self.size, np.uint8)
            kinds: dict[date | None, int] = {}
            for i, adult_on in enumerate(self.people.adult_on):
                if adult_on not in kinds:
                    person = replace(NOBODY, adult_on=adult_on)
                    kinds[adult_on] = self._verdict(rules.too_young, machine, person)
                found[i] = kinds[adult_on]
            self._ages[asked] = found
        return self._ages[asked]

    # --- inductions ----------------------------------------------------------------------

    def _standings(self) -> None:
        """Ask, for each induction, what each distinct newest record is worth."""
        self.standing: dict[int, Column] = {}
        self.current: dict[int, npt.NDArray[np.bool_]] = {}
        kinds: dict[tuple[int, str], tuple[int, bool]] = {}
        self._worths: dict[tuple[int, tuple[Any, ...]], tuple[int, bool]] = {}
        for induction in self.inductions.values():
            nothing = self._worth(induction, ())
            self.standing[induction.id] = np.full(self.size, nothing[0], np.uint8)
            self.current[induction.id] = np.full(self.size, nothing[1], bool)
        row = self.row.get
        for pair, (_at, said) in self.people.records.items():
            person, induction_id = divmod(pair, SHIFT)
            i = row(person)
            if i is None or induction_id not in self.standing:
                continue
            worth = kinds.get((induction_id, said))
            if worth is None:
                worth = kinds[induction_id, said] = self._cheaply(induction_id, said)
            self.standing[induction_id][i], self.current[induction_id][i] = worth

    def _cheaply(self, induction_id: int, said: str) -> tuple[int, bool]:
        """Ask only once for days of expiry that the rules cannot tell apart."""
        grace = max(self.house.grace_days, 0)
        longest = self.today - timedelta(days=grace + 1)
        records = tuple(
            (result, number, day and min(max(day, longest), self.today))
            for result, number, day in told_apart(said)
        )
        if (induction_id, records) not in self._worths:
            self._worths[induction_id, records] = self._worth(
                self.inductions[induction_id], records
            )
        return self._worths[induction_id, records]

    def _worth(
        self, induction: InductionFact, said: tuple[tuple[str, int, date | None], ...]
    ) -> tuple[int, bool]:
        """Return the verdict of an induction for somebody with these newest records."""
        alone = replace(induction, requires=())
        machine = MachineFacts(
            id=0,
            name="",
            area_id=0,
            required=(alone.id,),
            inductions={alone.id: alone},
            house=self.house,
        )
        records = tuple(
            Record(
                id=i,
                result=Result(result),
                revision_number=number,
                occurred_at=self.now,
                expires_on=expires_on,
            )
            for i, (result, number, expires_on) in enumerate(said)
        )
        person = replace(NOBODY, records={alone.id: records})
        state = standing(records, counts_from=alone.counts_from, now=self.now, today=self.today)
        return self._verdict(rules.induction_lapsed, machine, person), state is State.CURRENT

    def _inductions(self, machine: MachineFacts, closure: list[int]) -> Column:
        found = np.zeros(self.size, np.uint8)
        for induction_id in closure:
            if induction_id not in machine.inductions:  # never published: nobody can hold it
                only = replace(machine, required=(induction_id,))
                found[:] = self._verdict(rules.induction_lapsed, only, NOBODY)
                return found
            np.maximum(found, self.standing[induction_id], out=found)
        return found

    def _uses(self, machine: MachineFacts, closure: list[int], worst_of: Column) -> None:
        """Where watched uses are asked for, whoever has none wants them; others are particular."""
        for induction_id in closure:
            induction = machine.inductions.get(induction_id)
            if induction is not None and induction.supervised_uses:
                current = self.current[induction_id]
                worst_of[current] = np.maximum(worst_of[current], _SUPERVISED)

    def _disuse(self, machine: MachineFacts, worst_of: Column) -> None:
        if machine.disuse_months is None:
            return
        for induction_id in machine.required:
            if induction_id in self.current:
                unused = self.current[induction_id] & self._unused(
                    induction_id, machine.disuse_months
                )
                worst_of[unused] = np.maximum(worst_of[unused], _SUPERVISED)

    def _unused(self, induction_id: int, months: int) -> npt.NDArray[np.bool_]:
        """Say who was neither signed off nor used it since the day that a lapse counts from."""
        if months not in self._disused:
            self._disused[months] = self._all_unused(months)
        return self._disused[months].get(induction_id, np.zeros(self.size, bool))

    def _all_unused(self, months: int) -> dict[int, npt.NDArray[np.bool_]]:
        since = self._lapses_before(months)
        unused: dict[int, npt.NDArray[np.bool_]] = {
            each: np.zeros(self.size, bool) for each in self.inductions
        }
        for pair, (at, _said) in self.people.records.items():
            person, induction_id = divmod(pair, SHIFT)
            i = self.row.get(person)
            if i is not None and induction_id in unused and instant(at) < since:
                unused[induction_id][i] = True
        asks = {m.id: m.required for m in self.machines.values()}
        for person, machine_id, at in self.people.used:
            i = self.row.get(person)
            if i is not None and instant(at) >= since:
                for induction_id in asks.get(machine_id, ()):
                    if induction_id in unused:
                        unused[induction_id][i] = False
        return unused

    def _lapses_before(self, months: int) -> datetime:
        """Return the instant before which the last use is too long ago, as the rule counts it."""
        day = self.today - timedelta(days=31 * months + 3)
        while True:
            noon = datetime(day.year, day.month, day.day, 12, tzinfo=self.zone)
            if rules.unused_after(noon, months, self.zone) >= self.today:
                return datetime(day.year, day.month, day.day, tzinfo=self.zone).astimezone(UTC)
            day += timedelta(days=1)

    # --- acknowledgements ----------------------------------------------------------------

    def _acknowledged(self, assessment: AssessmentFact, let_in: npt.NDArray[np.bool_]) -> Column:
        needed = assessment.material_number
        acknowledged = self._newest(self.people.acknowledged, assessment.id)
        known = np.maximum(acknowledged, self._newest(self.people.briefed, assessment.id))
        found = np.empty(self.size, np.uint8)
        for read in (False, True):
            for heard in (False, True):
                for let in (False, True):
                    those = ((acknowledged >= needed) == read) & ((known > 0) == heard)
                    those &= let_in == let
                    if those.any():
                        found[those] = self._asked(needed, read=read, heard=heard, let=let)
        return found

    def _newest(
        self, by_assessment: Mapping[int, Iterable[tuple[int, int]]], assessment_id: int
    ) -> npt.NDArray[np.int32]:
        newest = np.zeros(self.size, np.int32)
        for person, number in by_assessment.get(assessment_id, ()):
            i = self.row.get(person)
            if i is not None:
                newest[i] = number
        return newest

    def _asked(self, needed: int, *, read: bool, heard: bool, let: bool) -> int:
        """Ask the rule for somebody who read or heard so much and is or is not let in."""
        key = (needed, read, heard, let)
        if key not in self._acknowledging:
            induction = InductionFact(id=1, title="", counts_from=1)
            machine = MachineFacts(
                id=0,
                name="",
                area_id=0,
                required=() if let else (1,),
                inductions={} if let else {1: induction},
                assessments=(
                    AssessmentFact(
                        id=1,
                        reference="",
                        number=needed,
                        run_mode=RunMode.OPEN,
                        material_number=needed,
                        review_due_on=date.max,
                    ),
                ),
            )
            person = replace(
                NOBODY,
                acknowledged={1: needed} if read else {},
                briefed={1: max(needed - 1, 1)} if heard else {},
            )
            self._acknowledging[key] = self._verdict(
                rules.assessment_not_acknowledged, machine, person
            )
        return self._acknowledging[key]


def instant(raw: Any) -> datetime:
    """Return the instant that a driver gave as text or as a time."""
    at = datetime.fromisoformat(raw) if isinstance(raw, str) else raw
    return at if at.tzinfo else at.replace(tzinfo=UTC)
