"""The induction rush of a term: 600 newcomers, groups of 8, two hours each.

The arithmetic is done by hand here: 600 / 8 = 75 sessions, 75 x 2 h = 150 staff hours for one
machine family, 600 h for four. That groups of 8 and two hours are usual is common practice.
"""

from __future__ import annotations

from collections import Counter

import pytest

from app.planning.plan import DAY, Ask, Course, Hour, Need, Plan, Room, Technician
from app.planning.solve import propose
from tests.unit.planning.rules import broken

NEWCOMERS = 600


def rush(families: int, technicians: int) -> Ask:
    """Return three weeks of five days, 09:00 to 13:00 and 14:00 to 17:00; the first comes first."""
    days = [week * 7 + day for week in range(3) for day in range(5)]
    inductions = range(1, families + 1)
    staff = range(1, technicians + 1)
    return Ask(
        needs=tuple(
            Need(person=person, induction=induction)
            for person in range(NEWCOMERS)
            for induction in inductions
        ),
        courses=tuple(
            Course(
                induction=induction,
                title=f"Family {induction}",
                minutes=120,
                group_most=8,
                group_least=3,
                requires=() if induction == 1 else (1,),
            )
            for induction in inductions
        ),
        technicians=tuple(
            Technician(id=number, name=f"Technician {number}", gives=frozenset(inductions))
            for number in staff
        ),
        hours=tuple(
            Hour(technician=number, start=day * DAY + start * 60, end=day * DAY + end * 60)
            for number in staff
            for day in days
            for start, end in ((9, 13), (14, 17))
        ),
        rooms=tuple(Room(id=number, name=f"Bay {number}", seats=12) for number in staff),
    )


def hours_taught(plan: Plan) -> float:
    return sum(session.end - session.start for session in plan.sessions) / 60


@pytest.mark.parametrize(("families", "technicians"), [(1, 2), (4, 8)])
def test_six_hundred_newcomers_take_75_sessions_of_8_for_each_family(
    families: int, technicians: int
) -> None:
    ask = rush(families, technicians)

    plan = propose(ask)

    assert plan.unplaced == ()
    assert plan.proved
    assert set(Counter(session.course for session in plan.sessions).values()) == {75}
    assert {len(session.people) for session in plan.sessions} == {8}
    assert hours_taught(plan) == 150 * families
    assert broken(ask, plan) == set()


def test_five_technicians_cannot_give_four_families_in_three_weeks_and_the_plan_says_so() -> None:
    ask = rush(4, 5)

    plan = propose(ask)

    # Two sessions fit before the break and one after it: 5 x 15 days x 3 = 225 sessions of 8.
    assert len(plan.sessions) == 225
    assert len(plan.unplaced) == 4 * NEWCOMERS - 225 * 8
    assert plan.most_helpful[0].places == 8
    assert plan.most_helpful[0].lacks_technician
    assert broken(ask, plan) == set()
