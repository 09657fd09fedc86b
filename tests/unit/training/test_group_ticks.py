"""What follows from a group's ticks, for each person; and in how many taps they are made."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import Refused
from app.inductions.published import Item, Published
from app.inductions.refresher import Path
from app.training.group_ticks import MOST_ROWS, GroupTicks, insist, rows
from app.training.standing import Result

PEOPLE = range(1, 13)


def induction(essential: list[bool], short: frozenset[int] = frozenset()) -> Published:
    return Published(
        id=1,
        title="Basics",
        revision_id=7,
        number=1,
        content="",
        validity_months=None,
        validity_basis="",
        items=tuple(
            Item(id=number, words=f"Item {number}", essential=needed, in_refresher=number in short)
            for number, needed in enumerate(essential, 1)
        ),
        requires=(),
    )


@st.composite
def ticked(draw: st.DrawFn) -> tuple[Published, GroupTicks]:
    short = draw(st.frozensets(st.integers(1, 7)))
    taught = induction([True, *draw(st.lists(st.booleans(), max_size=6))], short)
    items = [item.id for item in taught.items]
    people = st.frozensets(st.sampled_from(PEOPLE))
    return taught, GroupTicks(
        key="key-of-a-group-0001",
        revision_id=7,
        people=dict.fromkeys(PEOPLE, 0),
        aside=draw(people),
        all_here=draw(st.booleans()),
        seen=draw(st.frozensets(st.sampled_from(items))),
        lacking=draw(st.frozensets(st.tuples(st.sampled_from(PEOPLE), st.sampled_from(items)))),
        supervised=draw(people),
        not_yet=draw(people),
        shorter=draw(people),
    )


@given(ticked())
def test_nobody_is_on_their_own_without_every_essential_item(made: tuple[Published, GroupTicks]):
    taught, ticks = made
    for person in PEOPLE:
        seen = ticks.observed(taught, person)
        path = taught.items_on(ticks.path(person))
        assert (ticks.path(person) is Path.REFRESHER) == (person in ticks.shorter)
        lacking = [item for item in path if item.essential and item.id not in seen]
        if ticks.result(taught, person) is Result.ALONE:
            assert not lacking
            assert person not in ticks.not_yet | ticks.supervised
        for item in taught.items:
            assert (item.id in seen) == (
                item in path and item.id in ticks.seen and (person, item.id) not in ticks.lacking
            )


@given(ticked())
def test_whoever_is_set_aside_is_spoken_for_by_nothing(made: tuple[Published, GroupTicks]):
    _, ticks = made
    assert set(ticks.here()) == set(PEOPLE) - ticks.aside


@given(ticked())
def test_ticks_are_taken_only_when_both_were_said(made: tuple[Published, GroupTicks]):
    taught, ticks = made
    speaks = ticks.all_here and ticks.seen and ticks.here()
    if speaks:
        insist(ticks, taught)
    else:
        with pytest.raises(Refused):
            insist(ticks, taught)


@given(st.lists(st.booleans(), min_size=1, max_size=100), st.frozensets(st.integers(1, 100)))
def test_a_checklist_of_any_length_takes_few_taps_and_leaves_nothing_out(
    essential: list[bool], short: frozenset[int]
):
    taught = induction(essential, short)
    made = rows(taught.items)
    assert len(made) <= MOST_ROWS
    assert sorted(item.id for row in made for item in row) == [item.id for item in taught.items]
    assert all(len({item.essential for item in row}) == 1 for row in made)
    assert all(len({item.in_refresher for item in row}) == 1 for row in made)


@given(st.lists(st.booleans(), min_size=1, max_size=MOST_ROWS))
def test_up_to_a_dozen_items_each_have_a_tap_of_their_own(essential: list[bool]):
    assert all(len(row) == 1 for row in rows(induction(essential).items))
