"""Which sessions could be given at all: when, by which technicians, in which rooms.

Technicians with the same inductions and the same hours are one team, rooms that are alike
one kind. Which of them takes a session is settled afterwards: whoever is free, in order of
time. That always works out, because stretches of time of which never more than n overlap
can be shared out among n equals (interval graphs are perfect).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from math import gcd

from app.planning.plan import Ask, Course, Span


@dataclass(frozen=True, slots=True)
class Alike:
    """Technicians, or rooms, between whom the plan sees no difference."""

    members: tuple[int, ...]
    gives: frozenset[int]  # inductions
    when: tuple[Span, ...] | None  # None: always
    seats: int = 0

    def can(self, span: Span) -> bool:
        return self.when is None or any(open_.holds(span) for open_ in self.when)


@dataclass(frozen=True, slots=True)
class Offer:
    """A session that could be given, by any of a team in any of a kind of room."""

    course: int
    span: Span
    team: Alike
    kind: Alike
    places: int


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return the same time as few stretches, in order; those that touch become one."""
    result: list[Span] = []
    for span in sorted(spans):
        if result and span.start <= result[-1].end:
            result[-1] = Span(result[-1].start, max(result[-1].end, span.end))
        else:
            result.append(span)
    return tuple(result)


def teams(ask: Ask) -> list[Alike]:
    hours = defaultdict(list)
    for hour in ask.hours:
        hours[hour.technician].append(Span(hour.start, hour.end))
    alike: dict[tuple[frozenset[int], tuple[Span, ...]], list[int]] = defaultdict(list)
    for technician in ask.technicians:
        alike[technician.gives, joined(hours[technician.id])].append(technician.id)
    return [Alike(tuple(sorted(ids)), gives, when) for (gives, when), ids in alike.items()]


def kinds(ask: Ask) -> list[Alike]:
    alike: dict[tuple[frozenset[int], tuple[Span, ...] | None, int], list[int]]
    alike = defaultdict(list)
    for room in ask.rooms:
        taught = frozenset(
            course.induction
            for course in ask.courses
            if course.rooms is None or room.id in course.rooms
        )
        free = None if room.free is None else joined(room.free)
        alike[taught, free, room.seats].append(room.id)
    return [
        Alike(tuple(sorted(ids)), taught, free, seats)
        for (taught, free, seats), ids in alike.items()
    ]


def starts(ask: Ask) -> list[int]:
    """Return the minutes at which sessions may start without losing any best plan.

    Whatever can start earlier may: nothing is gained by waiting. So a session starts when
    hours or a room open, or when another ends; that is an opening and a sum of lengths, and
    every such sum is a multiple of their greatest common divisor.
    """
    openings = {hour.start for hour in ask.hours}
    openings |= {span.start for room in ask.rooms for span in room.free or ()}
    if not ask.hours or not ask.courses:
        return []
    step = gcd(*(course.minutes for course in ask.courses))
    last = max(hour.end for hour in ask.hours)
    return sorted({minute for first in openings for minute in range(first, last, step)})


def offers(ask: Ask) -> list[Offer]:
    """Return every session that could be given, in order of course and time."""
    result: list[Offer] = []
    all_teams, all_kinds, minutes = teams(ask), kinds(ask), starts(ask)
    for course in ask.courses:
        pairs = _pairs(course, all_teams, all_kinds)
        for start in minutes:
            span = Span(start, start + course.minutes)
            result += [
                Offer(course.induction, span, team, kind, min(course.group_most, kind.seats))
                for team, kind in pairs
                if team.can(span) and kind.can(span)
            ]
    return result


def _pairs(
    course: Course, all_teams: list[Alike], all_kinds: list[Alike]
) -> list[tuple[Alike, Alike]]:
    return [
        (team, kind)
        for team in all_teams
        for kind in all_kinds
        if course.induction in team.gives
        and course.induction in kind.gives
        and kind.seats >= course.group_least
    ]
