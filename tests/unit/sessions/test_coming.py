"""What stands between a person and a place: properties of the rules, without a database."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from app.inductions.catalogue import Entry, Publication
from app.people.identity import Identity
from app.sessions.coming import (
    RENEWED_WITHIN,
    Code,
    How,
    Learner,
    Offered,
    bars,
    own_bars,
    path,
)
from app.sessions.models import PlaceWord

NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
DAY = date(2026, 3, 16)
STARTS = datetime(2026, 3, 16, 9, 0, tzinfo=UTC)
ADA = Identity(
    id=1,
    name="Ada Quill",
    starts_on=date(2025, 1, 1),
    ends_on=None,
    erased=False,
    grants=frozenset(),
)
INDUCTIONS = range(1, 7)


def taught(requires):
    return {
        each: Entry(
            id=each,
            title=f"Induction {each}",
            publications=(
                Publication(
                    number=1,
                    published_at=NOW,
                    earlier_counts=True,
                    supervised_uses=0,
                    requires=tuple(requires.get(each, ())),
                ),
            ),
        )
        for each in INDUCTIONS
    }


def session(number=1, induction=1, *, starts_at=STARTS, minutes=60, **more):
    return Offered(
        id=number,
        induction=induction,
        area=1,
        technician=9,
        starts_at=starts_at,
        ends_at=starts_at + timedelta(minutes=minutes),
        day=starts_at.date(),
        places=4,
        **more,
    )


def codes(found):
    return {bar.code for bar in found}


# Any prerequisites at all, loops among them.
graphs = st.dictionaries(
    st.sampled_from(INDUCTIONS), st.lists(st.sampled_from(INDUCTIONS), max_size=3, unique=True)
)
# Prerequisites that build upwards, as publishing insists on.
ladders = st.fixed_dictionaries(
    {
        each: st.lists(st.sampled_from(range(1, each)), max_size=3, unique=True)
        if each > 1
        else st.just([])
        for each in INDUCTIONS
    }
)
holdings = st.dictionaries(
    st.sampled_from(INDUCTIONS),
    st.one_of(st.none(), st.dates(DAY - timedelta(days=30), DAY + timedelta(days=400))),
)


@given(graphs)
def test_a_path_names_each_step_once_and_a_loop_ends_by_itself(requires):
    steps = path(taught(requires), Learner(who=ADA, held={}), session(induction=6))
    named = [step.induction for step in steps]
    assert len(named) == len(set(named))
    assert 6 not in named


@given(ladders)
def test_what_comes_first_stands_first(requires):
    steps = path(taught(requires), Learner(who=ADA, held={}), session(induction=6))
    place = {step.induction: n for n, step in enumerate(steps)}
    for step in steps:
        assert all(place[first] < place[step.induction] for first in requires[step.induction])
    assert set(requires[6]) <= set(place)


@given(ladders, holdings)
def test_somebody_can_come_exactly_where_no_step_is_missing(requires, held):
    book = taught(requires)
    who = Learner(who=ADA, held=held)
    it = session(induction=6)
    missing = [step for step in path(book, who, it) if step.how is How.MISSING]
    assert [bar.code for bar in bars(book, who, it)] == [Code.COMES_FIRST] * len(missing)
    for step in missing:
        until = held.get(step.induction, DAY - timedelta(days=1))
        assert until is not None
        assert until < DAY, "not held, or no more on that day"


@given(ladders, holdings, st.sampled_from(INDUCTIONS))
def test_to_hold_more_bars_nobody_whom_a_technician_would_add(requires, held, more):
    book, it = taught(requires), session(induction=6)
    before = codes(bars(book, Learner(who=ADA, held=held), it))
    after = codes(bars(book, Learner(who=ADA, held=held | {more: None}), it))
    assert after <= before


@given(ladders, holdings)
def test_whoever_books_alone_is_asked_all_that_a_technician_is_asked(requires, held):
    book, it = taught(requires), session(induction=6)
    who = Learner(who=ADA, held=held)
    assert codes(bars(book, who, it)) <= codes(own_bars(book, who, it, now=NOW))


@given(st.integers(-200, 200), st.integers(1, 180))
def test_two_sessions_clash_where_they_share_a_minute(minutes, length):
    other = session(2, 2, starts_at=STARTS + timedelta(minutes=minutes), minutes=length)
    who = Learner(who=ADA, held={}, words={2: PlaceWord.BOOKED}, places=(other,))
    shared = minutes < 60 and minutes + length > 0
    assert (Code.AT_ONCE in codes(bars(taught({}), who, session()))) == shared


@given(st.integers(-5, 5))
def test_what_is_held_is_booked_again_only_near_its_end(days):
    who = Learner(who=ADA, held={1: DAY + RENEWED_WITHIN + timedelta(days=days)})
    assert (Code.HELD in codes(own_bars(taught({}), who, session(), now=NOW))) == (days >= 0)


def test_a_seat_before_counts_as_had_and_one_that_ends_later_does_not():
    book = taught({2: [1]})
    it = session(2, 2)
    before = session(3, 1, starts_at=STARTS - timedelta(hours=1))
    for other, barred in ((before, False), (replace(before, ends_at=STARTS + timedelta(1)), True)):
        who = Learner(who=ADA, held={}, words={3: PlaceWord.BOOKED}, places=(other,))
        assert (Code.COMES_FIRST in codes(bars(book, who, it))) == barred
