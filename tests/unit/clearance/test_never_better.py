"""Taking support away, or adding a lapse, never makes the answer better."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.clearance.decision import Facts, decide
from tests.unit.clearance import lapses, taking
from tests.unit.clearance.drawing import many_examples, many_together, throws
from tests.unit.clearance.editing import Change, person
from tests.unit.clearance.lapses import LAPSES
from tests.unit.clearance.sites import sites
from tests.unit.clearance.taking import TAKEN_AWAY

# An override names one code. Where a change lets another code stand in its place, the override
# that names that other one would answer it: there, none is given.
OF_TRAINING_OR_HOURS = {
    taking.a_sign_off_that_counts,
    taking.every_record_of_an_induction,
    taking.the_publication_of_an_induction,
    lapses.a_new_revision_that_makes_sign_offs_outdated,
    lapses.a_prerequisite_more,
    lapses.a_required_induction_more,
    lapses.an_attempt_that_was_not_passed,
    lapses.an_expiry_that_is_earlier,
    lapses.a_revocation,
    taking.staffed_hours,
    taking.every_opening_hour,
    taking.every_term,
    lapses.a_day_off,
}


def without_overrides(change: Change, facts: Facts) -> Facts:
    """Return the facts as this change is asked about them."""
    return person(facts, overrides=()) if change in OF_TRAINING_OR_HOURS else facts


# Each of these applies to any facts.
WITHOUT_CONDITIONS = (lapses.a_hold, lapses.a_suspension, lapses.a_mark)


def name(change) -> str:
    return change.__name__


@pytest.mark.parametrize("taken", TAKEN_AWAY, ids=name)
@many_together
@given(facts=sites(signed_in=True), dice=throws())
def test_taking_support_away_never_improves_the_answer(taken, facts, dice):
    before = without_overrides(taken, facts)
    assert decide(taken(dice, before)).verdict >= decide(before).verdict


@pytest.mark.parametrize("lapse", LAPSES, ids=name)
@many_together
@given(facts=sites(signed_in=True), dice=throws())
def test_adding_a_lapse_never_improves_the_answer(lapse, facts, dice):
    before = without_overrides(lapse, facts)
    assert decide(lapse(dice, before)).verdict >= decide(before).verdict


@many_examples
@given(
    facts=sites(signed_in=True),
    dice=throws(),
    hours=st.integers(0, 72),
    added=st.lists(st.sampled_from(WITHOUT_CONDITIONS)),
)
def test_several_lapses_together_never_improve_the_answer(facts, dice, hours, added):
    worse = facts
    for lapse in added:
        worse = lapse(dice, worse)
    then = facts.now + timedelta(hours=hours)
    before, after = replace(facts, now=then), replace(worse, now=then)
    assert decide(after).verdict >= decide(before).verdict
