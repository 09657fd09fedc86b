"""The generated facts are not all alike: every verdict and every code comes up."""

from collections import Counter

import pytest
from hypothesis import given, settings

from app.clearance.decision import Code, Verdict, decide
from tests.unit.clearance.drawing import many_examples
from tests.unit.clearance.sites import sites


@pytest.fixture(scope="module")
def met():
    """How often each verdict and code came up, and answers that time alone will change."""
    counted = Counter()

    @settings(many_examples, max_examples=2500, derandomize=True, database=None)
    @given(sites())
    def count(facts):
        answer = decide(facts)
        counted.update({answer.verdict, *(reason.code for reason in answer.reasons)})
        if answer.holds_until is not None:
            counted[answer.verdict, "for a time"] += 1

    count()
    return counted


@pytest.mark.parametrize("verdict", Verdict)
def test_every_verdict_is_generated_often(met, verdict):
    assert met[verdict] >= 5


@pytest.mark.parametrize("code", Code)
def test_every_code_is_generated(met, code):
    assert met[code] >= 2


@pytest.mark.parametrize("verdict", Verdict)
def test_answers_that_time_will_change_are_generated(met, verdict):
    assert met[verdict, "for a time"] >= 3
