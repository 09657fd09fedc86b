"""What goes of the rows whose time is over: never one on which something rests that stays."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from app.retention.what_goes import Link, digest, going, slices, units

ROWS = st.tuples(st.sampled_from("abc"), st.integers(1, 6))
LINKS = st.lists(st.builds(Link, ROWS, ROWS, st.booleans()), max_size=25)


def test_a_row_that_something_rests_on_stays():
    assert going([("start", 1)], [Link(("use_watched", 7), ("start", 1))]) == set()
    over = [("start", 1), ("use_watched", 7)]
    assert going(over, [Link(("use_watched", 7), ("start", 1))]) == set(over)


def test_what_rests_on_what_stays_by_that_stays_with_it_alone():
    """A report that a check rests on, and a round that only the check rests on."""
    links = [Link(("check", 2), ("round", 1)), Link(("check", 3), ("check", 2))]
    assert going([("round", 1), ("check", 2)], links) == set()


def test_an_ending_never_goes_without_what_it_ends():
    """A suspension that was lifted would stand again."""
    link = Link(("suspension", 2), ("suspension", 1), together=True)
    assert going([("suspension", 2)], [link]) == set()
    assert going([("suspension", 1)], [link]) == set()
    both = [("suspension", 1), ("suspension", 2)]
    assert going(both, [link]) == set(both)


@given(st.sets(ROWS), LINKS)
def test_what_goes_is_whole_and_as_much_as_can_go(over, links):
    found = going(over, links)
    assert found <= over
    for link in links:
        assert link.parent not in found or link.child in found
        assert not link.together or link.child not in found or link.parent in found
    for more in over - found:  # no single one of the rest could have gone as well
        wider = found | {more}
        fits = all(
            (link.parent not in wider or link.child in wider)
            and (not link.together or link.child not in wider or link.parent in wider)
            for link in links
        )
        assert not fits


@given(st.sets(ROWS), LINKS, st.integers(1, 8))
def test_slices_hold_everything_once_and_no_unit_is_torn(over, links, most):
    found = going(over, links)
    whose = {row: f"person:{row[1] % 2}" for row in found if row[0] == "a"}
    cut = list(slices(units(found, links, whose), most))
    assert sorted(row for some in cut for row in some) == sorted(found)
    where = {row: number for number, some in enumerate(cut) for row in some}
    for link in links:
        if link.child in found and link.parent in found:
            assert where[link.child] == where[link.parent]
    for row, person in whose.items():
        assert {where[other] for other, theirs in whose.items() if theirs == person} == {where[row]}


@given(st.lists(ROWS, unique=True))
def test_the_digest_is_of_the_rows_and_not_of_their_order(rows):
    assert digest(rows) == digest(reversed(rows))
    assert digest([*rows, ("z", 9)]) != digest(rows)
