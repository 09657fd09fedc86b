"""What a plan of induction sessions is asked for, and what it answers. Pure values.

Every time here is a whole number of minutes on the site's own wall clock, counted from a
midnight that the caller chooses (`minute_of` and `moment_of` turn them). A day has 1440 of
them, also where the clocks change: an induction is held when the clock on the wall says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum

from app.errors import BadInput

DAY = 24 * 60  # minutes


def minute_of(first_on: date, day: date, clock: time) -> int:
    """Return the minute of a day and a time on the wall, from the midnight of `first_on` on."""
    return (day - first_on).days * DAY + clock.hour * 60 + clock.minute


def moment_of(first_on: date, minute: int) -> datetime:
    """Return the day and the time on the wall of a minute. It is naive: it names no zone."""
    return datetime.combine(first_on, time()) + timedelta(minutes=minute)


# --- what is asked -----------------------------------------------------------------------


@dataclass(frozen=True, order=True, slots=True)
class Span:
    """From a minute up to, and without, another."""

    start: int
    end: int

    def holds(self, other: Span) -> bool:
        return self.start <= other.start and other.end <= self.end

    def meets(self, other: Span) -> bool:
        return self.start < other.end and other.start < self.end


@dataclass(frozen=True, kw_only=True, slots=True)
class Need:
    """A person who needs an induction, to be over by a minute (None: whenever it can be)."""

    person: int
    induction: int
    by: int | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Course:
    """How an induction is given: how long, to how many at once, after what, in which rooms."""

    induction: int
    title: str
    minutes: int
    group_most: int
    group_least: int = 1
    requires: tuple[int, ...] = ()
    rooms: frozenset[int] | None = None  # None: any room


@dataclass(frozen=True, kw_only=True, slots=True)
class Technician:
    """Who may give which inductions, by being named in writing for them."""

    id: int
    name: str
    gives: frozenset[int]


@dataclass(frozen=True, kw_only=True, slots=True)
class Hour:
    """A stretch of time that a technician can give to inductions. Stretches that touch are one."""

    technician: int
    start: int
    end: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Room:
    """A room, its seats for those who learn, and when it is free (None: always)."""

    id: int
    name: str
    seats: int
    free: tuple[Span, ...] | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Ask:
    """Everything that a plan is made from.

    `held` has the pairs of person and induction that stand already: such a prerequisite is
    met. A need for what is held is planned all the same, for it is a renewal.
    """

    needs: tuple[Need, ...]
    courses: tuple[Course, ...]
    technicians: tuple[Technician, ...]
    hours: tuple[Hour, ...]
    rooms: tuple[Room, ...]
    held: frozenset[tuple[int, int]] = frozenset()

    def course(self, induction: int) -> Course:
        return next(course for course in self.courses if course.induction == induction)


# --- what is answered --------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """One induction, given once to a group. `course` is the id of the induction."""

    course: int
    start: int
    end: int
    room: int
    technician: int
    people: tuple[int, ...]

    @property
    def span(self) -> Span:
        return Span(self.start, self.end)


class Why(StrEnum):
    """Why a need has no session."""

    NOBODY_GIVES = "nobody-gives"
    NO_ROOM = "no-room"
    NO_PIECE = "no-piece-long-enough"
    PREREQUISITE_NOT_ASKED = "prerequisite-not-asked"
    PREREQUISITE_UNPLACED = "prerequisite-unplaced"
    GROUP_TOO_SMALL = "group-too-small"
    DATE_TOO_EARLY = "date-too-early"
    HOURS_USED_UP = "hours-used-up"
    NOT_FOUND = "not-found-in-time"


@dataclass(frozen=True, kw_only=True, slots=True)
class Unplaced:
    """A need without a session, and a sentence that says why."""

    person: int
    course: int
    why: Why
    sentence: str


@dataclass(frozen=True, kw_only=True, slots=True)
class ExtraHour:
    """A stretch that nobody offered. With it, this many more needs would have a session.

    The number is a cheap bound: it holds with the rest of the plan left as it is, and a best
    plan made anew places at least so many more. `lacks_technician` and `lacks_room` say what
    was not offered then.
    """

    course: int
    technician: int
    room: int
    start: int
    end: int
    places: int
    lacks_technician: bool
    lacks_room: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """Sessions in order of time, what has none, and what would help, the best first.

    `proved` is true where no plan places more needs by their dates, none as many with a
    lower sum of the times at which they end, and none of these with fewer sessions. Where
    it is false the plan keeps every rule, and a better one may exist.
    """

    sessions: tuple[Session, ...]
    unplaced: tuple[Unplaced, ...]
    most_helpful: tuple[ExtraHour, ...]
    proved: bool

    @property
    def word(self) -> str:
        if self.proved:
            return "Proved best: no other plan clears more people by their dates, or earlier."
        return "Found in the time allowed: it keeps every rule, and a better plan may exist."


# --- reading what is asked ---------------------------------------------------------------


def insist_on_sense(ask: Ask) -> None:
    """Refuse an ask that contradicts itself.

    Raises:
        BadInput: with a sentence, for the first contradiction found.
    """
    for sentence in _contradictions(ask):
        raise BadInput(sentence)


def _contradictions(ask: Ask) -> Iterator[str]:
    yield from _named_twice(ask)
    yield from _unknown(ask)
    for course in ask.courses:
        if course.minutes <= 0:
            yield f"“{course.title}” must last at least a minute."
        if not 1 <= course.group_least <= course.group_most:
            yield f"“{course.title}” needs a smallest group of at least 1, up to its largest."
    spans = [Span(hour.start, hour.end) for hour in ask.hours]
    spans += [span for room in ask.rooms for span in room.free or ()]
    for span in spans:
        if span.start >= span.end:
            yield "A stretch of time must end after it starts."
    yield from _circles(ask.courses)


def _named_twice(ask: Ask) -> Iterator[str]:
    for what, names in (
        ("induction", [course.induction for course in ask.courses]),
        ("technician", [technician.id for technician in ask.technicians]),
        ("room", [room.id for room in ask.rooms]),
        ("need of a person", [(need.person, need.induction) for need in ask.needs]),
    ):
        if len(names) != len(set(names)):
            yield f"The same {what} is named twice."


def _unknown(ask: Ask) -> Iterator[str]:
    courses = {course.induction for course in ask.courses}
    technicians = {technician.id for technician in ask.technicians}
    if any(need.induction not in courses for need in ask.needs):
        yield "An induction is needed of which it is not said how it is given."
    if any(hour.technician not in technicians for hour in ask.hours):
        yield "Hours are offered by a technician who is not in the list."


def _circles(courses: Iterable[Course]) -> Iterator[str]:
    left = {course.induction: set(course.requires) for course in courses}
    while left:
        free = {induction for induction, requires in left.items() if not requires & left.keys()}
        if not free:
            yield "Inductions require each other in a circle."
            return
        left = {key: requires for key, requires in left.items() if key not in free}


def with_prerequisites(ask: Ask) -> tuple[Need, ...]:
    """Return the needs and, by the same dates, the prerequisites that are neither held nor asked.

    To any depth. A date that a person's own need gives is kept where it is the earlier one.
    """
    needs = {(need.person, need.induction): need for need in ask.needs}
    courses = {course.induction: course for course in ask.courses}
    waiting = list(ask.needs)
    while waiting:
        need = waiting.pop()
        for induction in courses[need.induction].requires:
            if (need.person, induction) in ask.held or induction not in courses:
                continue
            first = Need(person=need.person, induction=induction, by=need.by)
            known = needs.get((need.person, induction))
            if known is None or earlier(need.by, known.by):
                needs[need.person, induction] = first
                waiting.append(first)
    return tuple(needs[key] for key in sorted(needs))


def earlier(one: int | None, other: int | None) -> bool:
    """Is the first date the stricter one? None is no date."""
    return one is not None and (other is None or one < other)
