"""The rehearsal: line by line what would become of a list, and why. Pure.

The same rows, choices, register and day give the same plan, to the digest. What is applied is
this very plan: it is made again, and its digest compared.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from app.transfer.asked import Asked
from app.transfer.changes import changes
from app.transfer.choices import Choices
from app.transfer.grouping import Group, grouped
from app.transfer.known import Register, cohort_word
from app.transfer.leavers import leavers, mentioned
from app.transfer.line import Line
from app.transfer.matching import Match, match
from app.transfer.words import Word

Told = Callable[[int], None]  # is told how many groups of lines are done
_TELL_AFTER = 2_000


@dataclass(frozen=True, kw_only=True)
class Plan:
    lines: tuple[Line, ...]
    cohorts: tuple[dict[str, Any], ...]  # that are new: name, starts_on
    digest: str

    @property
    def counts(self) -> dict[str, int]:
        found = Counter(line.word for line in self.lines)
        return {word.value: found[word] for word in Word}

    @property
    def changes_nothing(self) -> bool:
        return not any(line.change for line in self.lines)


@dataclass(kw_only=True)
class _Taken:
    """What the groups have come to so far."""

    lines: list[Line] = field(default_factory=list)
    groups: list[Group] = field(default_factory=list)  # that were not refused

    def add(self, group: Group, lines: Sequence[Line]) -> None:
        self.lines += lines
        if lines[0].word is not Word.REFUSED:
            self.groups.append(group)


def plan(
    asked: Sequence[Asked],
    choices: Choices,
    register: Register,
    *,
    today: date,
    file_digest: str,
    told: Told = lambda _done: None,
) -> Plan:
    """Compare a list with the register."""
    bad = [line for line in asked if line.problems]
    groups = grouped([line for line in asked if not line.problems])
    settled = _settled(groups, register, choices, today, told)
    taken = _Taken(lines=[_unread(line) for line in bad])
    for group, (_found, lines) in zip(groups, settled, strict=True):
        taken.add(group, lines)
    taken.lines.sort(key=lambda line: line.number)
    if choices.leave_on is not None:
        refused = [line for line in taken.lines if line.word is Word.REFUSED]
        taken.lines += leavers(
            register,
            named={cohort_word(name) for group in taken.groups for name in group.said("cohort")},
            there=mentioned([found for found, _lines in settled], refused, register),
            unread=sum(line.unreadable for line in bad),
            last_on=choices.leave_on,
            many=choices.many_may_leave,
        )
    cohorts = _new_cohorts(taken.groups, register, today)
    return Plan(
        lines=tuple(taken.lines),
        cohorts=cohorts,
        digest=_digest(file_digest, choices, today, taken.lines, cohorts),
    )


_Settled = tuple[Match, list[Line]]


def _settled(
    groups: Sequence[Group], register: Register, choices: Choices, today: date, told: Told
) -> list[_Settled]:
    """Find whom each group means and what becomes of it.

    Where a group is in doubt, it is looked at again as the rest of the list leaves the register:
    a card has passed to somebody else, of two of one name one has an e-mail now. Else a line
    refused today would be taken tomorrow, from the very same list.
    """
    settled: list[_Settled] = []
    for done, (group, found) in enumerate(
        zip(groups, _matches(groups, register, choices), strict=True)
    ):
        settled.append((found, _of_group(group, found, register, today)))
        if done % _TELL_AFTER == 0:
            told(done)
    while any(found.doubt for found, _lines in settled):
        changed = [(line.person_id, line.change) for _found, (line, *_rest) in settled]
        left = register.left_by((id_, change) for id_, change in changed if id_ and change)
        again = _out_of_doubt(groups, settled, left, choices)
        for at, found in again.items():
            settled[at] = (found, _of_group(groups[at], found, left, today))
        if not again:
            break
    return settled


def _out_of_doubt(
    groups: Sequence[Group], settled: Sequence[_Settled], left: Register, choices: Choices
) -> dict[int, Match]:
    """Return the groups that mean somebody now whom no other means."""
    again = {
        at: found
        for at, (before, _lines) in enumerate(settled)
        if before.doubt and not groups[at].problems
        if not (found := match(groups[at], left, choices.decided)).doubt
    }
    meant = Counter(
        one.person.id for one in (*again.values(), *(one for one, _ in settled)) if one.person
    )
    return {at: one for at, one in again.items() if not one.person or meant[one.person.id] == 1}


def _matches(groups: Sequence[Group], register: Register, choices: Choices) -> list[Match]:
    """Find whom each group means; where two mean one person, neither is believed."""
    found = [match(group, register, choices.decided) for group in groups]
    meant = Counter(one.person.id for one in found if one.person)
    return [
        Match(
            doubt=f"other lines of the list are taken for {one.person.name} too, and say otherwise",
            candidates=(one.person.id,),
        )
        if one.person and meant[one.person.id] > 1
        else one
        for one in found
    ]


def _unread(line: Asked) -> Line:
    return Line(number=line.number, word=Word.REFUSED, name=line.name, whys=line.problems)


def _of_group(group: Group, found: Match, register: Register, today: date) -> list[Line]:
    """Return what becomes of each line of a group: the first carries what is written."""
    if found.doubt:
        return [
            Line(
                number=line.number,
                word=Word.REFUSED,
                name=line.name,
                whys=group.problems or (found.doubt,),
                candidates=found.candidates,
                may_be_decided=found.may_be_decided,
                may_be_new=found.may_be_new,
            )
            for line in group.lines
        ]
    first = changes(group, found, register, today)
    word = Word.REFUSED if first.word is Word.REFUSED else Word.MERGED
    whys = first.whys if word is Word.REFUSED else (_merged(group),)
    return [first] + [
        Line(number=line.number, word=word, name=line.name, whys=whys, person_id=first.person_id)
        for line in group.lines[1:]
    ]


def _merged(group: Group) -> str:
    keys = group.said("key")
    words = f"the same person as line {group.numbers[0]}"
    return f"{words}, under {len(keys)} keys" if len(keys) > 1 else words


def _new_cohorts(
    groups: Sequence[Group], register: Register, today: date
) -> tuple[dict[str, Any], ...]:
    """Return the cohorts that the list brings with it; each starts with its first person."""
    found: dict[str, dict[str, Any]] = {}
    for group in groups:
        starts_on = (group.starts_on or today).isoformat()
        for name in group.said("cohort"):
            if cohort_word(name) not in register.cohorts:
                cohort = found.setdefault(cohort_word(name), {"name": name, "starts_on": starts_on})
                cohort["starts_on"] = min(cohort["starts_on"], starts_on)
    return tuple(found[word] for word in sorted(found))


def _digest(
    file_digest: str,
    choices: Choices,
    today: date,
    lines: Sequence[Line],
    cohorts: Sequence[dict[str, Any]],
) -> str:
    """Return what names this plan: the file, the choices, the day, and all that it rests on."""
    head = [file_digest, choices.as_json(), today.isoformat(), list(cohorts)]
    digest = hashlib.sha256(json.dumps(head, sort_keys=True).encode())
    for line in lines:
        digest.update(json.dumps(line.as_json(), sort_keys=True).encode())
    return digest.hexdigest()
