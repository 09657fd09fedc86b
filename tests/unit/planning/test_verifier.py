"""The verifier of the tests finds each rule broken: a good plan, changed in one thing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.planning.plan import (
    Ask,
    Course,
    Hour,
    Need,
    Room,
    Session,
    Span,
    Technician,
    Unplaced,
    Why,
)
from tests.unit.planning.rules import broken, plan_of

BASICS, LATHE = 1, 2
ASK = Ask(
    needs=(
        *(Need(person=person, induction=BASICS) for person in (1, 2, 3, 4)),
        *(Need(person=person, induction=LATHE, by=240) for person in (1, 2, 5)),
    ),
    courses=(
        Course(induction=BASICS, title="Basics", minutes=60, group_most=4, group_least=2),
        Course(
            induction=LATHE,
            title="Lathe",
            minutes=60,
            group_most=3,
            group_least=2,
            requires=(BASICS,),
            rooms=frozenset({1, 3}),
        ),
    ),
    technicians=(
        Technician(id=1, name="One", gives=frozenset({BASICS, LATHE})),
        Technician(id=2, name="Two", gives=frozenset({BASICS})),
    ),
    hours=(
        Hour(technician=1, start=0, end=150),
        Hour(technician=1, start=150, end=400),
        Hour(technician=2, start=0, end=60),
    ),
    rooms=(
        Room(id=1, name="Bay", seats=4),
        Room(id=2, name="Hall", seats=2, free=(Span(0, 90),)),
        Room(id=3, name="Shed", seats=2),
    ),
    held=frozenset({(5, BASICS)}),
)
EARLY = Session(course=BASICS, start=0, end=60, room=1, technician=1, people=(1, 2))
BESIDE = Session(course=BASICS, start=0, end=60, room=2, technician=2, people=(3, 4))
LATER = Session(course=LATHE, start=120, end=180, room=1, technician=1, people=(1, 2, 5))


def test_the_plan_that_is_changed_here_keeps_every_rule() -> None:
    assert broken(ASK, plan_of(EARLY, BESIDE, LATER)) == set()


@pytest.mark.parametrize(
    ("rule", "sessions"),
    [
        (
            "given by somebody who may not",
            (EARLY, replace(BESIDE, technician=1, room=2), replace(LATER, technician=2)),
        ),
        ("outside the technician's hours", (EARLY, replace(BESIDE, start=10, end=70), LATER)),
        ("in a room that is not for it", (EARLY, BESIDE, replace(LATER, room=2))),
        ("in a room that is not free", (EARLY, replace(BESIDE, start=60, end=120), LATER)),
        ("of another length", (EARLY, BESIDE, replace(LATER, end=179))),
        ("too many", (replace(EARLY, people=(1, 2, 3, 4, 5)), LATER)),
        ("too few", (EARLY, BESIDE, replace(LATER, people=(1,)))),
        ("more than seats", (EARLY, BESIDE, replace(LATER, room=3))),
        (
            "a technician in two sessions at a time",
            (EARLY, BESIDE, LATER, replace(EARLY, start=100, end=160, room=2)),
        ),
        ("a room in two sessions at a time", (EARLY, replace(BESIDE, room=1), LATER)),
        ("a person in two sessions at a time", (EARLY, replace(BESIDE, people=(2, 3)), LATER)),
        ("after its date", (EARLY, BESIDE, replace(LATER, start=181, end=241))),
        ("before what comes first", (EARLY, BESIDE, replace(LATER, start=59, end=119))),
        ("before what comes first", (BESIDE, LATER)),
        ("a need that is told not once", (EARLY, LATER)),
    ],
)
def test_a_plan_that_breaks_a_rule_is_found_out(rule: str, sessions: tuple[Session, ...]) -> None:
    assert rule in broken(ASK, plan_of(*sessions))


def test_a_need_with_a_session_that_is_told_to_have_none_is_found_out() -> None:
    plan = plan_of(EARLY, BESIDE, LATER)
    told = Unplaced(person=1, course=LATHE, why=Why.HOURS_USED_UP, sentence="No.")

    assert "a need that is told not once" in broken(ASK, replace(plan, unplaced=(told,)))
