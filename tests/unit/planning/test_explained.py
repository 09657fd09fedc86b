"""Every need without a session is told why, and what hour more would help."""

from __future__ import annotations

import sys
import tomllib
from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path

import pytest

from app.errors import BadInput, Refused
from app.planning.plan import (
    Ask,
    Course,
    Hour,
    Need,
    Plan,
    Room,
    Span,
    Technician,
    Why,
    minute_of,
    moment_of,
    with_prerequisites,
)
from app.planning.solve import propose

BASICS, LATHE = 1, 2
ASK = Ask(
    needs=tuple(Need(person=person, induction=BASICS) for person in (1, 2, 3)),
    courses=(
        Course(induction=BASICS, title="Basics", minutes=60, group_most=4),
        Course(induction=LATHE, title="Lathe", minutes=60, group_most=2, requires=(BASICS,)),
    ),
    technicians=(Technician(id=1, name="One", gives=frozenset({BASICS, LATHE})),),
    hours=(Hour(technician=1, start=540, end=600),),
    rooms=(Room(id=1, name="Bay", seats=4),),
)


def basics(**change: object) -> tuple[Course, ...]:
    return replace(ASK.courses[0], **change), ASK.courses[1]  # type: ignore[arg-type]


def reasons(plan: Plan) -> set[Why]:
    return {unplaced.why for unplaced in plan.unplaced}


@pytest.mark.parametrize(
    ("why", "ask", "words"),
    [
        (Why.NOBODY_GIVES, replace(ASK, technicians=(), hours=()), "may give “Basics”"),
        (
            Why.NO_ROOM,
            replace(ASK, courses=basics(group_least=3), rooms=(Room(id=1, name="Bay", seats=2),)),
            "has seats for its smallest group (3)",
        ),
        (Why.NO_PIECE, replace(ASK, courses=basics(minutes=61)), "has 61 minutes in one piece"),
        (Why.GROUP_TOO_SMALL, replace(ASK, courses=basics(group_least=4)), "only 3"),
        (
            Why.DATE_TOO_EARLY,
            replace(ASK, needs=(Need(person=1, induction=BASICS, by=599),)),
            "ends later than this person needs it",
        ),
        (
            Why.PREREQUISITE_NOT_ASKED,
            replace(ASK, needs=(Need(person=1, induction=LATHE),)),
            "comes after “Basics”, which this person neither holds",
        ),
        (Why.HOURS_USED_UP, replace(ASK, courses=basics(group_most=2)), "are used up"),
    ],
)
def test_a_need_without_a_session_is_told_why(why: Why, ask: Ask, words: str) -> None:
    plan = propose(ask)

    assert plan.proved
    assert reasons(plan) == {why}
    assert all(words in unplaced.sentence for unplaced in plan.unplaced)


def test_what_comes_after_an_induction_without_a_session_says_so() -> None:
    needs = (Need(person=1, induction=BASICS), Need(person=1, induction=LATHE))

    plan = propose(replace(ASK, needs=needs, courses=basics(minutes=61)))

    told = {unplaced.course: unplaced for unplaced in plan.unplaced}
    assert told[BASICS].why == Why.NO_PIECE
    assert told[LATHE].why == Why.PREREQUISITE_UNPLACED
    assert "comes after “Basics”, for which this person has no session" in told[LATHE].sentence


def test_a_few_left_over_from_full_groups_are_told_that_they_are_too_few() -> None:
    hours = (Hour(technician=1, start=540, end=660),)

    plan = propose(replace(ASK, courses=basics(group_least=2, group_most=2), hours=hours))

    assert [unplaced.why for unplaced in plan.unplaced] == [Why.GROUP_TOO_SMALL]
    assert "no more than 1 without a place could come" in plan.unplaced[0].sentence


def test_somebody_who_holds_the_prerequisite_needs_no_session_of_it() -> None:
    needs = (Need(person=1, induction=LATHE),)

    plan = propose(replace(ASK, needs=needs, held=frozenset({(1, BASICS)})))

    assert [session.course for session in plan.sessions] == [LATHE]
    assert plan.unplaced == ()


def test_the_hour_that_would_place_most_is_named_with_whom_where_and_when() -> None:
    ask = replace(
        ASK,
        needs=(*ASK.needs, *(Need(person=person, induction=LATHE) for person in (4, 5, 6))),
        held=frozenset((person, BASICS) for person in (4, 5, 6)),
    )

    best = propose(ask).most_helpful[0]

    # The one hour goes to three people; two of the other three could be taught in another.
    assert (best.course, best.technician, best.room, best.places) == (LATHE, 1, 1, 2)
    assert (best.start, best.end) == (480, 540)
    assert (best.lacks_technician, best.lacks_room) == (True, False)


def test_an_hour_of_the_room_is_named_where_the_technician_is_there_already() -> None:
    rooms = (Room(id=1, name="Bay", seats=4, free=(Span(600, 700),)),)

    best = propose(replace(ASK, rooms=rooms)).most_helpful[0]

    assert (best.start, best.places) == (540, 3)
    assert (best.lacks_technician, best.lacks_room) == (False, True)


def test_nothing_would_help_where_everybody_has_a_session() -> None:
    assert propose(ASK).most_helpful == ()


def test_hours_that_touch_are_one_stretch() -> None:
    halves = (Hour(technician=1, start=540, end=570), Hour(technician=1, start=570, end=600))

    assert propose(replace(ASK, hours=halves)).unplaced == ()


def test_prerequisites_that_are_neither_held_nor_asked_are_added_by_the_same_date() -> None:
    needs = (
        Need(person=1, induction=LATHE, by=700),
        Need(person=1, induction=BASICS, by=900),
        Need(person=2, induction=LATHE, by=800),
        Need(person=3, induction=LATHE),
    )

    added = with_prerequisites(replace(ASK, needs=needs, held=frozenset({(3, BASICS)})))

    assert [(need.person, need.induction, need.by) for need in added] == [
        (1, BASICS, 700),
        (1, LATHE, 700),
        (2, BASICS, 800),
        (2, LATHE, 800),
        (3, LATHE, None),
    ]


def test_minutes_and_days_on_the_wall_turn_into_each_other() -> None:
    first = date(2026, 9, 28)

    minute = minute_of(first, date(2026, 10, 26), time(9, 30))

    # Four weeks later, across the day on which clocks in Europe go back.
    assert minute == 28 * 1440 + 570
    assert moment_of(first, minute) == datetime(2026, 10, 26, 9, 30)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (replace(ASK, needs=(ASK.needs[0], ASK.needs[0])), "named twice"),
        (replace(ASK, needs=(Need(person=1, induction=9),)), "not said how it is given"),
        (replace(ASK, hours=(Hour(technician=9, start=0, end=1),)), "not in the list"),
        (replace(ASK, hours=(Hour(technician=1, start=1, end=1),)), "end after it starts"),
        (replace(ASK, courses=basics(minutes=0)), "at least a minute"),
        (replace(ASK, courses=basics(group_least=5)), "smallest group"),
        (replace(ASK, courses=basics(requires=(LATHE,))), "in a circle"),
    ],
)
def test_an_ask_that_contradicts_itself_is_refused(ask: Ask, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        propose(ask)


def test_without_the_solver_a_sentence_says_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "ortools.sat.python", None)

    with pytest.raises(Refused, match=r"pip install -e '\.\[planning\]'") as refused:
        propose(ASK)

    assert refused.value.code == "planning-not-installed"
    project = tomllib.loads((Path(__file__).parents[3] / "pyproject.toml").read_text())
    extra = project["project"]["optional-dependencies"]["planning"]
    assert any(package.startswith("ortools") for package in extra)
