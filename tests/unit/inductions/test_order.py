"""The order of inductions, against the standard library's own sorter of graphs."""

from __future__ import annotations

from datetime import UTC, datetime
from graphlib import CycleError, TopologicalSorter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.inductions.catalogue import Entry, Publication
from app.inductions.order import in_order, open_steps


def taught(requires):
    return {
        i: Entry(
            id=i,
            title=f"Induction {i}",
            publications=(
                Publication(
                    number=1,
                    published_at=datetime(2026, 1, 1, tzinfo=UTC),
                    earlier_counts=True,
                    supervised_uses=0,
                    requires=tuple(firsts),
                ),
            ),
        )
        for i, firsts in requires.items()
    }


GRAPHS = st.dictionaries(
    st.integers(1, 9), st.lists(st.integers(1, 9), max_size=4, unique=True), min_size=1
)


@given(GRAPHS)
def test_each_comes_once_and_after_what_it_builds_on(requires):
    order = [entry.id for entry in in_order(taught(requires))]
    assert sorted(order) == sorted(requires)
    known = {i: [f for f in firsts if f in requires] for i, firsts in requires.items()}
    try:
        TopologicalSorter(known).prepare()
    except CycleError:
        return
    for i, firsts in known.items():
        assert all(order.index(first) < order.index(i) for first in firsts)


@given(GRAPHS, st.sets(st.integers(1, 9)))
def test_what_is_lacking_is_what_stands_before_it_and_is_not_held(requires, held):
    catalogue = taught(requires)
    for i in requires:
        before: set[int] = set()
        queue = [i]
        for each in queue:
            new = [f for f in requires.get(each, ()) if f in requires and f not in before]
            before.update(new)
            queue.extend(new)
        lacking = [e.id for e in open_steps(catalogue, i, held.__contains__)]
        assert set(lacking) == before - held - {i}


@pytest.mark.parametrize("held", [set(), {1}])
def test_a_path_is_told_in_the_order_to_take_it(held):
    catalogue = taught({3: [2, 1], 2: [1], 1: []})
    lacking = [entry.id for entry in open_steps(catalogue, 3, held.__contains__)]
    assert lacking == [each for each in (1, 2) if each not in held]
