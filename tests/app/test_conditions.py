"""The conditions of use: what can be set, what contradicts, what is frozen, what is material."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

from app.errors import Refused
from app.risk_assessments.conditions import Conditions, checked, conditions_of
from app.risk_assessments.material import why_material
from app.risk_assessments.models import Lone, RevisionConditions, RiskAssessment

GIVEN = {
    "lone": "never alone",
    "companions": 1,
    "unstaffed": False,
    "first_aider": True,
    "minimum_age": 16,
    "supervised_under": 18,
    "disuse_months": 6,
    "equipment": ["Mask, fitted"],
}

ages = st.none() | st.integers(5, 25)
sets = st.builds(
    Conditions,
    lone=st.just(Lone.NEVER),
    companions=st.integers(1, 20),
    unstaffed=st.booleans(),
    first_aider=st.booleans(),
    minimum_age=ages,
    supervised_under=ages,
    disuse_months=st.none() | st.integers(1, 120),
    equipment=st.lists(st.text("abc", min_size=1, max_size=9), max_size=4).map(tuple),
).filter(
    lambda c: not (c.minimum_age and c.supervised_under) or c.supervised_under >= c.minimum_age
)


@given(sets)
def test_conditions_read_back_as_they_were_written(conditions):
    assert checked(conditions.written()) == conditions


def test_a_draft_that_sets_none_has_none():
    assert conditions_of({}) is None
    assert conditions_of({"conditions": None}) is None


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"lone": "at times"}, "may be used alone"),
        ({"lone": None}, "may be used alone"),
        ({"companions": 0}, "needs 1 to 20 others"),
        ({"companions": 21}, "needs 1 to 20 others"),
        ({"lone": "allowed", "companions": 1}, "used alone needs none"),
        ({"lone": "with check-in", "companions": 2}, "used alone needs none"),
        ({"minimum_age": 4}, "An age is a whole number"),
        ({"supervised_under": 26}, "An age is a whole number"),
        ({"supervised_under": 15}, "supervision ends above that age"),
        ({"disuse_months": 0}, "Disuse is counted"),
        ({"equipment": [""]}, "pieces of equipment"),
        ({"equipment": ["x"] * 21}, "pieces of equipment"),
        ({"equipment": ["x" * 201]}, "pieces of equipment"),
    ],
)
def test_conditions_that_cannot_be_are_refused(change, sentence):
    with pytest.raises(Refused, match=sentence):
        checked(GIVEN | change)


def set_conditions(shop, draft, conditions):
    with shop.database.write() as session:
        row = session.get_one(RiskAssessment, draft.id)
        row.prose = row.prose | {"conditions": conditions}


def test_a_revision_without_conditions_has_no_row_and_one_with_them_has_its_own(shop, database):
    draft = shop.draft(shop.machine())
    shop.approve(draft)
    set_conditions(shop, draft, GIVEN)
    revision_id = shop.approve(draft)
    with database.read() as session:
        (row,) = session.execute(select(RevisionConditions)).scalars()
    assert (row.revision_id, row.lone, row.equipment) == (revision_id, Lone.NEVER, ["Mask, fitted"])
    assert (row.minimum_age, row.supervised_under, row.disuse_months) == (16, 18, 6)


def test_another_condition_is_a_material_change_whatever_its_author_says(shop, database):
    draft = shop.draft(shop.machine())
    set_conditions(shop, draft, GIVEN)
    shop.approve(draft)

    def why():
        with database.read() as session:
            return why_material(session, session.get_one(RiskAssessment, draft.id))

    assert why() == []
    for change in (
        {"companions": 2},
        {"unstaffed": True},
        {"first_aider": False},
        {"minimum_age": None},
        {"equipment": []},
    ):
        set_conditions(shop, draft, GIVEN | change)
        assert why() == ["the conditions of use differ"]
    set_conditions(shop, draft, None)
    assert why() == ["the conditions of use differ"]
