"""What a history of records is worth: the latest that happened decides, and of two the worse."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.training.standing import Record, Result, State, standing
from tests.unit.clearance.drawing import many_examples
from tests.unit.clearance.sample import NOW, TODAY, TOMORROW, YESTERDAY, sign_off

HISTORY = st.lists(
    st.builds(
        Record,
        id=st.integers(1, 99),
        result=st.sampled_from(Result),
        revision_number=st.integers(1, 3),
        occurred_at=st.integers(-4, 2).map(lambda hours: NOW + timedelta(hours=hours)),
        expires_on=st.sampled_from((None, YESTERDAY, TODAY, TOMORROW)),
    ),
    max_size=6,
)


def worth(*records: Record, counts_from: int = 2) -> State:
    return standing(records, counts_from=counts_from, now=NOW, today=TODAY)


@pytest.mark.parametrize(
    ("record", "state"),
    [
        (sign_off(), State.CURRENT),
        (sign_off(Result.SUPERVISED), State.SUPERVISED),
        (sign_off(Result.NOT_YET), State.NOT_YET),
        (sign_off(Result.REVOKED), State.REVOKED),
        (sign_off(expires_on=TODAY), State.CURRENT),
        (sign_off(expires_on=YESTERDAY), State.EXPIRED),
        (sign_off(Result.SUPERVISED, expires_on=YESTERDAY), State.EXPIRED),
        (sign_off(revision_number=1), State.OUTDATED),
        (sign_off(revision_number=1, expires_on=YESTERDAY), State.OUTDATED),
        (sign_off(Result.REVOKED, revision_number=1, expires_on=YESTERDAY), State.REVOKED),
        (sign_off(occurred_at=NOW), State.CURRENT),
        (sign_off(occurred_at=NOW + timedelta(microseconds=1)), State.MISSING),
    ],
)
def test_one_record_alone(record, state):
    assert worth(record) is state


def test_no_record_is_missing():
    assert worth() is State.MISSING


def test_a_paper_sheet_typed_in_late_does_not_undo_a_revocation_that_came_after_it():
    revoked = sign_off(Result.REVOKED, id=1, occurred_at=NOW - timedelta(days=1))
    typed_in_today = sign_off(id=2, occurred_at=NOW - timedelta(days=2))
    assert worth(revoked, typed_in_today) is State.REVOKED


def test_of_two_at_the_same_instant_the_worse_decides():
    assert worth(sign_off(), sign_off(Result.REVOKED, id=2)) is State.REVOKED
    assert worth(sign_off(Result.NOT_YET), sign_off(id=2)) is State.NOT_YET
    assert worth(sign_off(), sign_off(Result.SUPERVISED, id=2)) is State.SUPERVISED


@many_examples
@given(HISTORY)
def test_a_history_is_worth_what_the_worst_of_its_latest_records_is(history):
    past = [record for record in history if record.occurred_at <= NOW]
    last = max((record.occurred_at for record in past), default=None)
    latest = {worth(record) for record in past if record.occurred_at == last}
    found = worth(*history)
    assert found in (latest or {State.MISSING})
    if State.CURRENT in latest and len(latest) > 1:
        assert found is not State.CURRENT
    if State.REVOKED in latest:
        assert found is State.REVOKED


@many_examples
@given(history=HISTORY, data=st.data())
def test_the_order_in_which_records_were_written_does_not_matter(history, data):
    assert worth(*data.draw(st.permutations(history))) is worth(*history)


@many_examples
@given(HISTORY)
def test_a_later_revocation_always_revokes_and_a_later_sign_off_always_restores(history):
    past = [r for r in history if r.occurred_at < NOW]
    assert worth(*past, sign_off(Result.REVOKED, occurred_at=NOW)) is State.REVOKED
    assert worth(*past, sign_off(occurred_at=NOW)) is State.CURRENT
