"""A list that is whole: whoever of its cohorts is missing from it ends. Their history stays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from app.transfer.known import Known, Register
from app.transfer.line import Line
from app.transfer.matching import Match
from app.transfer.words import Word

FEW = 5  # so many may leave without a question, whatever share of the cohort they are


def mentioned(matches: Iterable[Match], refused: Iterable[Line], register: Register) -> set[int]:
    """Return everybody whom the list speaks of, and whom a refused line may have meant."""
    found: set[int] = set()
    for one in matches:
        found.update(one.candidates)
        if one.person:
            found.add(one.person.id)
    for line in refused:
        found.update(register.called(line.name))
    return found


def leavers(
    register: Register,
    *,
    named: set[str],
    there: set[int],
    unread: int,
    last_on: date,
    many: bool,
) -> list[Line]:
    """Return a line for each member of the named cohorts who is missing."""
    cohorts = {register.cohorts[word].id for word in named if word in register.cohorts}
    members = [
        person
        for _id, person in sorted(register.people.items())
        if person.cohorts & cohorts
        and person.starts_on is not None
        and (person.ends_on is None or person.ends_on > last_on)
    ]
    lines = [
        _leaver(person, cohorts, register, last_on) for person in members if person.id not in there
    ]
    ending = sum(line.word is Word.ENDED for line in lines)
    if unread:
        return _withheld(lines, f"{unread} lines of the list say of nobody whom they mean")
    if ending > FEW and ending * 2 > len(members) and not many:
        why = f"{ending} of {len(members)} would leave: tick that so many may, if that is right"
        return _withheld(lines, why)
    return lines


def _leaver(person: Known, cohorts: set[int], register: Register, last_on: date) -> Line:
    elsewhere = [
        cohort.name
        for cohort in register.cohorts.values()
        if cohort.id in person.cohorts - cohorts
        and (cohort.ends_on is None or cohort.ends_on >= last_on)
    ]
    word, why = Word.ENDED, "missing from the list"
    if person.has_role:
        word, why = Word.REFUSED, f"{why}, and they hold a role here: end both by hand"
    elif person.starts_on is not None and person.starts_on > last_on:
        word, why = Word.REFUSED, f"{why}, and they start only after the day it ends"
    elif elsewhere:
        word, why = Word.SAME, f"{why}, and stays: also in {', '.join(sorted(elsewhere)[:3])}"
    ends = word is Word.ENDED
    starts_on = person.starts_on.isoformat() if person.starts_on else None
    stands = [starts_on, person.ends_on.isoformat() if person.ends_on else None]
    return Line(
        number=0,
        word=word,
        name=person.name,
        whys=(why,),
        person_id=person.id,
        change={"here": [starts_on, last_on.isoformat()]} if ends else {},
        before={"here": stands} if ends else {},
    )


def _withheld(lines: Sequence[Line], why: str) -> list[Line]:
    return [
        Line(
            number=0,
            word=Word.REFUSED,
            name=line.name,
            whys=(f"missing from the list, and not ended: {why}",),
            person_id=line.person_id,
        )
        if line.word is Word.ENDED
        else line
        for line in lines
    ]
