"""Second witnesses for a term plan: its rules minute by minute, and every plan there is.

Nothing of the planner is used here but the values that it takes and gives. The rules are read
from what a workshop asks of its sessions (common practice), not from the planner's own code.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from itertools import product

from app.planning.plan import Ask, Course, Plan, Room, Session

Choice = dict[tuple[int, int], int | None]  # person and course: start, or no session


def offered_minutes(ask: Ask) -> dict[int, set[int]]:
    minutes: dict[int, set[int]] = {technician.id: set() for technician in ask.technicians}
    for hour in ask.hours:
        minutes[hour.technician] |= set(range(hour.start, hour.end))
    return minutes


def is_free(room: Room, minutes: set[int]) -> bool:
    if room.free is None:
        return True
    return minutes <= {minute for span in room.free for minute in range(span.start, span.end)}


def broken(ask: Ask, plan: Plan) -> set[str]:
    """Return the rules that a plan breaks."""
    return {
        *_each_session(ask, plan),
        *_one_at_a_time(plan),
        *_each_person(ask, plan),
        *_every_need_once(ask, plan),
    }


def _each_session(ask: Ask, plan: Plan) -> Iterator[str]:
    courses = {course.induction: course for course in ask.courses}
    technicians = {technician.id: technician for technician in ask.technicians}
    rooms = {room.id: room for room in ask.rooms}
    offered = offered_minutes(ask)
    for session in plan.sessions:
        course, room = courses[session.course], rooms[session.room]
        minutes = set(range(session.start, session.end))
        if session.course not in technicians[session.technician].gives:
            yield "given by somebody who may not"
        if not minutes <= offered[session.technician]:
            yield "outside the technician's hours"
        if course.rooms is not None and room.id not in course.rooms:
            yield "in a room that is not for it"
        if not is_free(room, minutes):
            yield "in a room that is not free"
        if len(minutes) != course.minutes:
            yield "of another length"
        if len(session.people) > course.group_most:
            yield "too many"
        if len(session.people) < course.group_least:
            yield "too few"
        if len(session.people) > room.seats:
            yield "more than seats"


def _one_at_a_time(plan: Plan) -> Iterator[str]:
    taken: Counter[tuple[str, int, int]] = Counter()
    for session in plan.sessions:
        for minute in range(session.start, session.end):
            taken["technician", session.technician, minute] += 1
            taken["room", session.room, minute] += 1
            taken.update(("person", person, minute) for person in session.people)
    for (what, _, _), times in taken.items():
        if times > 1:
            yield f"a {what} in two sessions at a time"


def _each_person(ask: Ask, plan: Plan) -> Iterator[str]:
    courses = {course.induction: course for course in ask.courses}
    by = {(need.person, need.induction): need.by for need in ask.needs}
    ended: dict[int, dict[int, int]] = defaultdict(dict)
    for session in plan.sessions:
        for person in session.people:
            ended[person][session.course] = session.end
    for session in plan.sessions:
        for person in session.people:
            date = by.get((person, session.course))
            if date is not None and session.end > date:
                yield "after its date"
            for first in courses[session.course].requires:
                if (person, first) in ask.held:
                    continue
                if ended[person].get(first, session.start + 1) > session.start:
                    yield "before what comes first"


def _every_need_once(ask: Ask, plan: Plan) -> Iterator[str]:
    told = Counter(
        (person, session.course) for session in plan.sessions for person in session.people
    )
    told.update((it.person, it.course) for it in plan.unplaced)
    if told != Counter((need.person, need.induction) for need in ask.needs):
        yield "a need that is told not once"


# --- every plan there is -----------------------------------------------------------------


def value(plan: Plan) -> tuple[int, int, int]:
    """Return needs placed, the sum of the minutes at which they end, and sessions."""
    return (
        sum(len(session.people) for session in plan.sessions),
        sum(len(session.people) * session.end for session in plan.sessions),
        len(plan.sessions),
    )


def best_of_all(ask: Ask) -> tuple[int, int, int]:
    """Return the value of a best plan, by looking at every start of every need.

    The starts are all minutes of the horizon: that it is enough to look at some of them is
    the planner's claim, and not taken for granted here.
    """
    lengths = {course.induction: course.minutes for course in ask.courses}
    horizon = range(max((hour.end for hour in ask.hours), default=0))
    options = [
        [None, *(s for s in horizon if need.by is None or s + lengths[need.induction] <= need.by)]
        for need in ask.needs
    ]
    ranked = []
    for starts in product(*options):
        choice = {
            (need.person, need.induction): start
            for need, start in zip(ask.needs, starts, strict=True)
        }
        if _people_can(ask, choice):
            placed = [(key, start) for key, start in choice.items() if start is not None]
            ends = sum(start + lengths[course] for (_, course), start in placed)
            ranked.append((-len(placed), ends, len(ranked), choice))
    ranked.sort()
    best: tuple[int, int, int] | None = None
    for placed, ends, _, choice in ranked:
        if best is not None and (-placed, ends) != best[:2]:
            break
        sessions = _fewest_sessions(ask, choice)
        if sessions is not None and (best is None or sessions < best[2]):
            best = (-placed, ends, sessions)
    assert best is not None  # the empty plan is always one
    return best


def _people_can(ask: Ask, choice: Choice) -> bool:
    courses = {course.induction: course for course in ask.courses}
    for (person, induction), start in choice.items():
        if start is None:
            continue
        end = start + courses[induction].minutes
        for first in courses[induction].requires:
            begun = choice.get((person, first))
            met = begun is not None and begun + courses[first].minutes <= start
            if not met and (person, first) not in ask.held:
                return False
        for (other_person, other), other_start in choice.items():
            if other_person != person or other == induction or other_start is None:
                continue
            if start < other_start + courses[other].minutes and other_start < end:
                return False
    return True


def _fewest_sessions(ask: Ask, choice: Choice) -> int | None:
    """Return the fewest sessions that hold these people at these times; None: none can."""
    people = Counter((course, start) for (_, course), start in choice.items() if start is not None)
    courses = {course.induction: course for course in ask.courses}
    groups = [(courses[course], start, many) for (course, start), many in sorted(people.items())]
    return _held(ask, groups, [])


Staffing = list[tuple[int, int, int, int]]  # technician, room, start, end


def _held(ask: Ask, groups: Sequence[tuple[Course, int, int]], before: Staffing) -> int | None:
    if not groups:
        return len(before)
    (course, start, many), *rest = groups
    pairs = list(_pairs(ask, course, start, before))
    best: int | None = None
    for chosen in _subsets(pairs, many // course.group_least):
        technicians = {technician for technician, _ in chosen}
        rooms = {room.id for _, room in chosen}
        if not len(technicians) == len(rooms) == len(chosen):
            continue
        if sum(min(course.group_most, room.seats) for _, room in chosen) < many:
            continue
        end = start + course.minutes
        more = [(technician, room.id, start, end) for technician, room in chosen]
        found = _held(ask, rest, before + more)
        if found is not None and (best is None or found < best):
            best = found
    return best


def _pairs(ask: Ask, course: Course, start: int, before: Staffing) -> Iterator[tuple[int, Room]]:
    minutes = set(range(start, start + course.minutes))
    offered = offered_minutes(ask)
    going = [one for one in before if one[2] in minutes or start in range(one[2], one[3])]
    for technician, room in product(ask.technicians, ask.rooms):
        free = all(technician.id != one[0] and room.id != one[1] for one in going)
        allowed = course.rooms is None or room.id in course.rooms
        gives = course.induction in technician.gives and minutes <= offered[technician.id]
        seats = room.seats >= course.group_least
        if free and allowed and gives and seats and is_free(room, minutes):
            yield technician.id, room


def _subsets(pairs: Sequence[tuple[int, Room]], most: int) -> Iterator[list[tuple[int, Room]]]:
    """Yield every non-empty choice of up to so many pairs."""
    for mask in range(1, 1 << len(pairs)):
        if mask.bit_count() <= most:
            yield [pair for number, pair in enumerate(pairs) if mask >> number & 1]


def plan_of(*sessions: Session) -> Plan:
    return Plan(sessions=sessions, unplaced=(), most_helpful=(), proved=False)
