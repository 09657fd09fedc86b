"""Why a need has no session, and which hour more would help most. Pure, and no solver.

What would help is found by a cheap bound and not by solving again: with the rest of the plan
left as it is, how many of those without a session could come at that hour.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property

from app.planning.cohorts import fits
from app.planning.offers import Offer, joined, starts
from app.planning.plan import (
    Ask,
    Course,
    ExtraHour,
    Need,
    Plan,
    Room,
    Session,
    Span,
    Technician,
    Unplaced,
    Why,
)

HELPFUL = 5  # hours that are named at most


def explain(
    ask: Ask, choices: Sequence[Offer], sessions: Sequence[Session], *, proved: bool
) -> Plan:
    """Return the plan of these sessions, with a reason for each need that has none."""
    state = _State(ask, choices, sessions)
    return Plan(
        sessions=tuple(sessions),
        unplaced=tuple(_unplaced(state, need) for need in state.unplaced),
        most_helpful=_most_helpful(state),
        proved=proved,
    )


class _State:
    """A plan, and what is asked about it again and again."""

    def __init__(self, ask: Ask, choices: Sequence[Offer], sessions: Sequence[Session]) -> None:
        self.ask = ask
        self.choices = choices
        self.sessions = sessions
        self.courses = {course.induction: course for course in ask.courses}
        self.needed = {(need.person, need.induction) for need in ask.needs}
        self.own: dict[int, dict[int, Span]] = defaultdict(dict)
        self.technicians: dict[int, list[Span]] = defaultdict(list)
        self.rooms: dict[int, list[Span]] = defaultdict(list)
        for session in sessions:
            self.technicians[session.technician].append(session.span)
            self.rooms[session.room].append(session.span)
            for person in session.people:
                self.own[person][session.course] = session.span
        self.unplaced = [
            need
            for need in sorted(ask.needs, key=lambda need: (need.induction, need.person))
            if need.induction not in self.own[need.person]
        ]
        self._could_come: dict[tuple[int, Span], frozenset[int]] = {}
        self._earliest: dict[tuple[int, frozenset[int]], int | None] = {}

    def first(self, person: int, course: int) -> tuple[int, ...]:
        """Return the prerequisites that this person does not hold."""
        return tuple(
            it for it in self.courses[course].requires if (person, it) not in self.ask.held
        )

    def could_come(self, course: int, span: Span) -> frozenset[int]:
        """Return who has no place in the course, and could come then."""
        key = (course, span)
        if key not in self._could_come:
            self._could_come[key] = frozenset(
                need.person
                for need in self.unplaced
                if need.induction == course
                and (need.by is None or span.end <= need.by)
                and fits(self.own[need.person], span, self.first(need.person, course))
            )
        return self._could_come[key]

    @cached_property
    def still_free(self) -> dict[int, list[Offer]]:
        """Return, by course, the offers for which a technician and a room are still free."""
        result: dict[int, list[Offer]] = defaultdict(list)
        for offer in self.choices:
            if _some_free(offer.team.members, self.technicians, offer.span) and _some_free(
                offer.kind.members, self.rooms, offer.span
            ):
                result[offer.course].append(offer)
        return result

    def earliest_end(self, person: int, induction: int) -> int | None:
        """Return when the course could be over at the very earliest, were nobody else asked."""
        held = frozenset(it for it in self.courses if (person, it) in self.ask.held)
        return self._earliest_end(induction, held)

    def _earliest_end(self, induction: int, held: frozenset[int]) -> int | None:
        key = (induction, held)
        if key not in self._earliest:
            before = [
                self._earliest_end(it, held) if it in self.courses else None
                for it in self.courses[induction].requires
                if it not in held
            ]
            ready = [end for end in before if end is not None]
            ends = [
                offer.span.end
                for offer in self.choices
                if offer.course == induction and offer.span.start >= max(ready, default=0)
            ]
            late = len(ready) < len(before)
            self._earliest[key] = None if late else min(ends, default=None)
        return self._earliest[key]


def _some_free(members: Iterable[int], busy: dict[int, list[Span]], span: Span) -> bool:
    return any(not any(span.meets(taken) for taken in busy[member]) for member in members)


# --- why not -----------------------------------------------------------------------------


def _unplaced(state: _State, need: Need) -> Unplaced:
    course = state.courses[need.induction]
    why, sentence = (
        _nothing_to_give_it_with(state, course)
        or _what_comes_first(state, need, course)
        or _no_place_left(state, need, course)
    )
    return Unplaced(person=need.person, course=need.induction, why=why, sentence=sentence)


def _nothing_to_give_it_with(state: _State, course: Course) -> tuple[Why, str] | None:
    """Return what is missing for everybody."""
    title, ask = course.title, state.ask
    if not any(course.induction in technician.gives for technician in ask.technicians):
        return Why.NOBODY_GIVES, f"None of the technicians in this plan may give “{title}”."
    if not any(_may_hold(room, course) for room in ask.rooms):
        return Why.NO_ROOM, (
            f"No room where “{title}” may be given has seats for its smallest group "
            f"({course.group_least})."
        )
    if not any(offer.course == course.induction for offer in state.choices):
        return Why.NO_PIECE, (
            f"Nobody who may give “{title}” has {course.minutes} minutes in one piece while "
            "a room for it is free."
        )
    asked = sum(need.induction == course.induction for need in ask.needs)
    if asked < course.group_least:
        return Why.GROUP_TOO_SMALL, (
            f"“{title}” needs a group of at least {course.group_least}, and only {asked} "
            "in this plan need it."
        )
    return None


def _may_hold(room: Room, course: Course) -> bool:
    allowed = course.rooms is None or room.id in course.rooms
    return allowed and room.seats >= course.group_least


def _what_comes_first(state: _State, need: Need, course: Course) -> tuple[Why, str] | None:
    """Return what is missing before it, or that there is no time for it before the date."""
    first = state.first(need.person, course.induction)
    for induction in first:
        if (need.person, induction) not in state.needed:
            before = state.courses.get(induction)
            named = f"“{before.title}”" if before else "another induction"
            return Why.PREREQUISITE_NOT_ASKED, (
                f"“{course.title}” comes after {named}, which this person neither holds nor "
                "is asked to take in this plan."
            )
    earliest = state.earliest_end(need.person, course.induction)
    if earliest is not None and need.by is not None and earliest > need.by:
        return Why.DATE_TOO_EARLY, (
            f"Even the first “{course.title}” that could be given, after what comes before "
            "it, ends later than this person needs it."
        )
    for induction in first:
        if induction not in state.own[need.person]:
            return Why.PREREQUISITE_UNPLACED, (
                f"“{course.title}” comes after “{state.courses[induction].title}”, for which "
                "this person has no session either."
            )
    return None


def _no_place_left(state: _State, need: Need, course: Course) -> tuple[Why, str]:
    groups = [
        (offer, state.could_come(course.induction, offer.span))
        for offer in state.still_free[course.induction]
    ]
    together = [len(people) for _, people in groups if need.person in people]
    if not together:
        return Why.HOURS_USED_UP, (
            f"No place in “{course.title}” is left for this person: the hours of those who "
            "may give it, in a room for it, are used up before the date, or fall where this "
            "person is in another session or has not yet had what comes first."
        )
    if max(together) < course.group_least:
        return Why.GROUP_TOO_SMALL, (
            f"“{course.title}” needs a group of at least {course.group_least}; hours are left, "
            f"but no more than {max(together)} without a place could come at one time."
        )
    return Why.NOT_FOUND, (
        f"Hours for “{course.title}” are left, and no better plan was found in the time allowed."
    )


# --- what would help ---------------------------------------------------------------------


def _most_helpful(state: _State) -> tuple[ExtraHour, ...]:
    """Return, of each technician and course, the best stretch not offered; the best first.

    Times at which somebody works here anyway come before others, then what lacks only a
    technician or only a room, then what is earliest.
    """
    at_work = joined(Span(hour.start, hour.end) for hour in state.ask.hours)

    def rank(hour: ExtraHour) -> tuple[int, bool, bool, int, int, int, int]:
        outside = not any(work.holds(Span(hour.start, hour.end)) for work in at_work)
        both = hour.lacks_technician and hour.lacks_room
        return -hour.places, outside, both, hour.start, hour.technician, hour.room, hour.course

    best: dict[tuple[int, int], ExtraHour] = {}
    for hour in _extra_hours(state):
        key = (hour.technician, hour.course)
        if key not in best or rank(hour) < rank(best[key]):
            best[key] = hour
    return tuple(sorted(best.values(), key=rank)[:HELPFUL])


def _extra_hours(state: _State) -> Iterable[ExtraHour]:
    wanted = {need.induction for need in state.unplaced}
    for course in state.ask.courses:
        if course.induction not in wanted:
            continue
        for span in _times(state.ask, course):
            people = state.could_come(course.induction, span)
            if len(people) >= course.group_least:
                yield from _with(state, course, span, len(people))


def _times(ask: Ask, course: Course) -> list[Span]:
    """Return when it could be: at any start of the plan, or right before or after hours."""
    minutes = set(starts(ask)) | {hour.end for hour in ask.hours}
    minutes |= {hour.start - course.minutes for hour in ask.hours}
    return [Span(start, start + course.minutes) for start in sorted(minutes) if start >= 0]


def _with(state: _State, course: Course, span: Span, many: int) -> Iterable[ExtraHour]:
    for technician in state.ask.technicians:
        if course.induction not in technician.gives:
            continue
        if any(span.meets(taken) for taken in state.technicians[technician.id]):
            continue
        offered = _offered(state.ask, technician, span)
        for room in state.ask.rooms:
            if not _may_hold(room, course):
                continue
            if any(span.meets(taken) for taken in state.rooms[room.id]):
                continue
            free = room.free is None or any(open_.holds(span) for open_ in joined(room.free))
            if not (offered and free):
                yield ExtraHour(
                    course=course.induction,
                    technician=technician.id,
                    room=room.id,
                    start=span.start,
                    end=span.end,
                    places=min(many, course.group_most, room.seats),
                    lacks_technician=not offered,
                    lacks_room=not free,
                )


def _offered(ask: Ask, technician: Technician, span: Span) -> bool:
    hours = joined(Span(it.start, it.end) for it in ask.hours if it.technician == technician.id)
    return any(hour.holds(span) for hour in hours)
