"""Facts with something changed in them. Where a change does not apply, there is no example."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from hypothesis import assume

from app.clearance.decision import (
    Facts,
)
from app.training.standing import Record
from tests.unit.clearance.drawing import Dice, a_day

Change = Callable[[Dice, Facts], Facts]


def machine(facts: Facts, **changed) -> Facts:
    return replace(facts, machine=replace(facts.machine, **changed))


def person(facts: Facts, **changed) -> Facts:
    return replace(facts, person=replace(facts.person, **changed))


def here(facts: Facts, **changed) -> Facts:
    return replace(facts, here=replace(facts.here, **changed))


def in_hours(facts: Facts):
    """Return the calendar of an area that has one."""
    assume(facts.here)
    assume(facts.here.calendar)
    return facts.here.calendar


def house(facts: Facts, **changed) -> Facts:
    return machine(facts, house=replace(facts.machine.house, **changed))


def one_of(dice: Dice, row: tuple, change) -> tuple:
    """Change one element of a row."""
    assume(row)
    number = dice.randrange(len(row))
    return (*row[:number], change(row[number]), *row[number + 1 :])


def earlier(dice: Dice, facts: Facts, day):
    """Return a day that is not later than the one given; None is for ever."""
    new = a_day(dice, facts.today)
    return new if day is None else min(day, new)


def one_induction_of(dice: Dice, facts: Facts) -> int:
    assume(facts.person.records)
    return dice.choice(sorted(facts.person.records))


def with_records(facts: Facts, induction: int, records: tuple[Record, ...]) -> Facts:
    return person(facts, records={**facts.person.records, induction: records})


def one_less(dice: Dice, known):
    """Take one key of a mapping away."""
    assume(known)
    gone = dice.choice(sorted(known))
    return {key: value for key, value in known.items() if key != gone}
