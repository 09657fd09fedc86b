"""What is wrong with the sessions of a plan. Pure.

What stops a plan is what cannot happen: somebody in two places, more people than seats, an
induction before what it builds on. The rest is said beside the session: hours that nobody
gave, a room that is closed then, a date that is missed. A technician may know better.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import date

from app.planning.plan import DAY
from app.sessions.ground import Ground
from app.sessions.proposal import Planned, Proposal
from app.sessions.wall import clock_of, day_of, is_shown


@dataclass(frozen=True, kw_only=True, slots=True)
class Wrong:
    """Something about one session of a plan."""

    number: int
    sentence: str
    person: int | None = None
    stops: bool = True


def wrongs(ground: Ground, proposal: Proposal) -> list[Wrong]:
    """Return everything that is wrong, in the order of the sessions."""
    board = _Board(ground, proposal)
    return [wrong for it in proposal.in_order() for wrong in _of_one(board, it)]


def could_come(on: Ground, proposal: Proposal, it: Planned, people: Iterable[int]) -> list[int]:
    """Return who of these, not in the session yet, could come to it."""
    board = _Board(on, proposal)
    return [
        person
        for person in people
        if person != it.technician and not any(_of_person(board, it, person))
    ]


class _Board:
    """All sessions, the plan's and the published ones, as they are looked up."""

    def __init__(self, ground: Ground, proposal: Proposal) -> None:
        self.ground = ground
        self.by = {(need.person, need.induction): need.by for need in proposal.needs}
        self.of_technician: dict[int, list[Planned]] = defaultdict(list)
        self.of_room: dict[int, list[Planned]] = defaultdict(list)
        self.of_person: dict[int, list[Planned]] = defaultdict(list)
        for it in (*proposal.sessions, *_published(ground)):
            self.of_technician[it.technician].append(it)
            self.of_room[it.room].append(it)
            for person in it.people:
                self.of_person[person].append(it)


def _published(ground: Ground) -> Iterator[Planned]:
    """Yield the published sessions as sessions with no number of this plan."""
    for taken in ground.taken:
        yield Planned(
            number=0,
            induction=taken.induction,
            start=taken.span.start,
            end=taken.span.end,
            room=taken.room,
            technician=taken.technician,
            places=len(taken.people),
            people=tuple(taken.people),
        )


def _of_one(board: _Board, it: Planned) -> Iterator[Wrong]:
    for sentence in _impossible(board, it):
        yield Wrong(number=it.number, sentence=sentence)
    for person in it.people:
        for sentence in _of_person(board, it, person):
            yield Wrong(number=it.number, sentence=sentence, person=person)
    for sentence in _doubtful(board, it):
        yield Wrong(number=it.number, sentence=sentence, stops=False)


def _impossible(board: _Board, it: Planned) -> Iterator[str]:
    yield from _time(board.ground, it)
    yield from _technician(board, it)
    yield from _room(board, it)
    if len(it.people) > it.places:
        yield f"{len(it.people)} people, and places for {it.places}."


def _time(ground: Ground, it: Planned) -> Iterator[str]:
    days = (ground.last_on - ground.first_on).days + 1
    if it.start >= it.end:
        yield "It ends before it starts."
    if it.start < 0 or it.end > days * DAY:
        yield "It lies outside the days of this plan."
    elif day_of(ground.first_on, it.start) < ground.today:
        yield "That day is over."
    elif not all(is_shown(ground.first_on, each, ground.zone) for each in (it.start, it.end)):
        yield "The clocks go forward that night: there is no such time."


def _technician(board: _Board, it: Planned) -> Iterator[str]:
    ground = board.ground
    name, title = ground.name(it.technician), ground.title(it.induction)
    technician = ground.technicians.get(it.technician)
    if technician is None or it.induction not in technician.gives:
        yield f"{name} may not give “{title}” now."
    for other in _at_once(it, board.of_technician[it.technician]):
        yield (
            f"{name} gives “{ground.title(other.induction)}” at {clock_of(other.start)}: "
            "nobody gives two at once."
        )
    if it.technician in it.people:
        yield f"{name} cannot give it and learn it."


def _room(board: _Board, it: Planned) -> Iterator[str]:
    ground = board.ground
    room = ground.rooms.get(it.room)
    if room is None:
        yield "Its room is not among those of this plan."
        return
    if it.places > room.seats:
        yield f"{room.name} holds {room.seats} people at work, and this has places for {it.places}."
    for other in _at_once(it, board.of_room[it.room]):
        yield (
            f"{room.name} is taken by “{ground.title(other.induction)}” at {clock_of(other.start)}."
        )


def _at_once(it: Planned, others: Iterable[Planned]) -> Iterator[Planned]:
    for other in others:
        if other.number != it.number and other.span.meets(it.span):
            yield other


# --- people ------------------------------------------------------------------------------


def _of_person(board: _Board, it: Planned, person: int) -> Iterator[str]:
    ground = board.ground
    who, day = ground.people.get(person), day_of(ground.first_on, it.start)
    name, others = ground.name(person), board.of_person[person]
    if who is None or not who.belongs_on(day):
        yield f"{name} does not belong here on {day.day} {day:%b}."
        return
    for other in others:
        if other.number == it.number:
            continue
        if other.induction == it.induction:
            yield f"{name} has a place in another “{ground.title(it.induction)}”."
        elif other.span.meets(it.span):
            yield f"{name} is in “{ground.title(other.induction)}” at the same time."
    over = {other.induction for other in others if other.end <= it.start}
    yield from _wanting(ground, it.induction, person, day, over)


def _wanting(
    ground: Ground, induction: int, person: int, day: date, over: AbstractSet[int]
) -> Iterator[str]:
    """Yield what somebody lacks on that day of what comes first; `over` is had by then."""
    entry = ground.taught.get(induction)
    requires = entry.publications[-1].requires if entry is not None else ()
    for first in requires:
        if first not in over and not ground.holds(person, first, day):
            yield (
                f"{ground.name(person)} has not had “{ground.title(first)}” by then; it comes "
                f"before “{ground.title(induction)}”."
            )


# --- said, and left to the technician ----------------------------------------------------


def _doubtful(board: _Board, it: Planned) -> Iterator[str]:
    ground, day = board.ground, day_of(board.ground.first_on, it.start)
    name, title = ground.name(it.technician), ground.title(it.induction)
    if not any(span.holds(it.span) for span in ground.hours.get(it.technician, ())):
        yield f"{name} has put in no hours for then."
    if not ground.holds(it.technician, it.induction, day):
        yield f"{name}’s own “{title}” runs out before."
    room, course = ground.rooms.get(it.room), ground.courses.get(it.induction)
    if room is not None and not any(span.holds(it.span) for span in room.free or ()):
        yield f"{room.name} is not open then."
    if course is not None and len(it.people) < course.group_least:
        yield f"{len(it.people)} people, and the smallest group is {course.group_least}."
    for person in it.people:
        by = board.by.get((person, it.induction))
        if by is not None and it.end > by:
            yield f"{ground.name(person)} needs it earlier."
