"""A plan keeps every rule, and where it says that it is the best, no other plan is better."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.planning import solve
from app.planning.plan import Ask, Course, Hour, Need, Room, Span, Technician
from app.planning.solve import propose
from tests.unit.clearance.sites import many_examples
from tests.unit.planning.rules import best_of_all, broken, value

# Each example is solved, and enumerated: fewer of them than of the clearance core.
some_examples = settings(
    max_examples=many_examples.max_examples // 5,
    deadline=None,
    derandomize=many_examples.derandomize,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@st.composite
def spans(draw: st.DrawFn, longest: int = 6) -> Span:
    start = draw(st.integers(0, longest - 1))
    return Span(start, draw(st.integers(start + 1, longest)))


@st.composite
def courses(draw: st.DrawFn, induction: int, rooms: int) -> Course:
    least = draw(st.sampled_from((1, 1, 1, 2)))
    return Course(
        induction=induction,
        title=f"Course {induction}",
        minutes=draw(st.integers(1, 3)),
        group_most=draw(st.integers(least, 3)),
        group_least=least,
        requires=tuple(it for it in range(1, induction) if draw(st.booleans())),
        rooms=draw(st.none() | st.frozensets(st.integers(1, rooms), min_size=1)),
    )


@st.composite
def asks(draw: st.DrawFn) -> Ask:
    """Up to three people, three courses, two technicians and two rooms, within six minutes."""
    rooms = draw(st.integers(1, 2))
    taught = [draw(courses(number, rooms)) for number in range(1, draw(st.integers(1, 3)) + 1)]
    numbers = [course.induction for course in taught]
    pairs = [(person, course) for person in (1, 2, 3) for course in numbers]
    needed = draw(st.lists(st.sampled_from(pairs), min_size=1, max_size=4, unique=True))
    dates = st.sampled_from((None, None, None, 3, 5))
    staff = range(1, draw(st.integers(1, 2)) + 1)
    return Ask(
        needs=tuple(
            Need(person=person, induction=course, by=draw(dates)) for person, course in needed
        ),
        courses=tuple(taught),
        technicians=tuple(
            Technician(
                id=number,
                name=f"Technician {number}",
                gives=draw(st.frozensets(st.sampled_from(numbers), min_size=1)),
            )
            for number in staff
        ),
        hours=tuple(
            Hour(technician=number, start=span.start, end=span.end)
            for number in staff
            for span in draw(st.lists(spans(), min_size=1, max_size=2))
        ),
        rooms=tuple(
            Room(
                id=number,
                name=f"Room {number}",
                seats=draw(st.integers(1, 3)),
                free=draw(st.none() | st.lists(spans(), min_size=1, max_size=2).map(tuple)),
            )
            for number in range(1, rooms + 1)
        ),
        held=frozenset(draw(st.sets(st.sampled_from(pairs), max_size=2))),
    )


@some_examples
@given(asks())
def test_no_plan_of_all_there_are_is_better_than_the_one_proposed(ask: Ask) -> None:
    plan = propose(ask)

    assert broken(ask, plan) == set()
    assert plan.proved
    assert value(plan) == best_of_all(ask)


@some_examples
@given(asks())
def test_an_hour_that_is_said_to_help_places_at_least_as_many_more(ask: Ask) -> None:
    plan = propose(ask)

    for hour in plan.most_helpful[:1]:
        given_too = Hour(technician=hour.technician, start=hour.start, end=hour.end)
        rooms = tuple(
            replace(room, free=(*room.free, Span(hour.start, hour.end)))
            if room.id == hour.room and room.free is not None
            else room
            for room in ask.rooms
        )
        more = replace(ask, hours=(*ask.hours, given_too), rooms=rooms)
        assert len(propose(more).unplaced) <= len(plan.unplaced) - hour.places


def knotted() -> Ask:
    """Three people whose places can be counted, and not be given to them by name.

    Two have the first course at once, the third only in the fifth minute. Both courses after
    it have one more place each then, in the same minute: three sit in each of them by count,
    and nobody can sit in both at once.
    """
    gives = {1: {1}, 2: {2}, 3: {3}}
    hours = {1: (0, 5), 2: (1, 2, 6), 3: (1, 2, 6)}
    return Ask(
        needs=tuple(Need(person=p, induction=course) for p in (1, 2, 3) for course in gives),
        courses=(
            Course(induction=1, title="First", minutes=1, group_most=2),
            Course(induction=2, title="Second", minutes=1, group_most=1, requires=(1,)),
            Course(induction=3, title="Third", minutes=1, group_most=1, requires=(1,)),
        ),
        technicians=tuple(
            Technician(id=number, name=f"Technician {number}", gives=frozenset(of))
            for number, of in gives.items()
        ),
        hours=tuple(
            Hour(technician=number, start=start, end=start + 1)
            for number, starts in hours.items()
            for start in starts
        ),
        rooms=tuple(Room(id=number, name=f"Room {number}", seats=9) for number in (1, 2, 3)),
    )


def test_people_to_whom_counted_places_cannot_be_given_are_planned_by_name() -> None:
    plan = propose(knotted())

    assert broken(knotted(), plan) == set()
    assert value(plan)[0] == 8
    assert plan.proved


def test_where_too_many_would_have_to_be_named_the_plan_keeps_the_rules_and_claims_no_proof(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(solve, "NAMED_AT_MOST", 0)

    plan = propose(knotted())

    assert broken(knotted(), plan) == set()
    assert value(plan)[0] == 8
    assert not plan.proved
    assert "a better plan may exist" in plan.word


def test_without_any_search_the_plan_keeps_the_rules_and_claims_no_proof() -> None:
    plan = propose(knotted(), work=0.0)

    assert broken(knotted(), plan) == set()
    assert value(plan)[0] > 0
    assert not plan.proved


def test_the_same_ask_gives_the_same_plan() -> None:
    assert propose(knotted()) == propose(knotted())


def test_of_plans_that_end_alike_the_one_with_fewest_sessions_is_proposed() -> None:
    """The first rule of thumb would give the large room to the smaller group, and split the other.

    Two need a prerequisite, which counts double, three need something else, at one time, in
    rooms for three, two and one: 2 sessions are enough, and 3 would end no later.
    """
    both = frozenset({1, 2})
    ask = Ask(
        needs=(
            *(Need(person=person, induction=1) for person in (1, 2)),
            *(Need(person=person, induction=2) for person in (3, 4, 5)),
        ),
        courses=(
            Course(induction=1, title="First", minutes=60, group_most=3),
            Course(induction=2, title="Second", minutes=60, group_most=3),
            Course(induction=3, title="Later", minutes=60, group_most=3, requires=(1,)),
        ),
        technicians=tuple(Technician(id=it, name=f"T{it}", gives=both) for it in (1, 2, 3)),
        hours=tuple(Hour(technician=it, start=0, end=60) for it in (1, 2, 3)),
        rooms=tuple(Room(id=it, name=f"R{it}", seats=4 - it) for it in (1, 2, 3)),
    )

    assert value(propose(ask)) == (5, 5 * 60, 2)
