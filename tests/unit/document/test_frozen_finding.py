"""One finding, frozen beside its hazard line: the same text as within an assessment."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest

from assessments.calculate import calculate
from assessments.document.frozen import digest, freeze, freeze_finding, thaw_finding
from assessments.errors import Refused
from assessments.examples import questions
from assessments.finding import Finding
from assessments.methods import catalogue
from tests.unit.document.sample import SAMPLE
from tests.unit.document.sample_hazards import FUME, HAZARDS

EXAMPLES = [(method.id, questions(method)[0]) for method in catalogue().values()]


@pytest.mark.parametrize(("method", "question"), EXAMPLES, ids=[name for name, _ in EXAMPLES])
def test_the_finding_of_every_method_reads_back_as_it_was(
    method: str, question: dict[str, Any]
) -> None:
    finding = calculate(method, question)
    text = freeze_finding(finding)
    assert thaw_finding(text) == finding
    assert freeze_finding(thaw_finding(text)) == text


def test_an_uncertain_finding_keeps_its_spread() -> None:
    finding = calculate("noise.daily", {"tasks": [["normal(85,2)", 4]]})
    assert thaw_finding(freeze_finding(finding)) == finding


def test_a_finding_has_the_same_text_alone_as_within_an_assessment() -> None:
    whole = json.loads(freeze(replace(SAMPLE, hazards=(replace(HAZARDS[0], findings=(FUME,)),))))
    assert json.loads(freeze_finding(FUME)) == whole["hazards"][0]["findings"][0]


def test_any_change_of_a_finding_changes_its_digest() -> None:
    others = [replace(FUME, edition="2"), replace(FUME, ratio=0.5), replace(FUME, limit=None)]
    digests = {digest(freeze_finding(each)) for each in (FUME, *others)}
    assert len(digests) == 4


def changed(**fields: Any) -> str:
    return json.dumps(json.loads(freeze_finding(FUME)) | fields)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not JSON"),
        ("[]", "list where dict"),
        ("{}", "missing field"),
        (changed(surprise="x"), "unknown field surprise"),
        (changed(ratio=0.5), "bare number"),
        (changed(band="harmless"), "none of the words"),
    ],
)
def test_a_text_that_is_no_whole_finding_is_refused(text: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        thaw_finding(text)


@pytest.mark.parametrize("finding", [replace(FUME, ratio=math.nan), replace(FUME, title="a\u0007")])
def test_a_finding_without_a_written_form_is_never_frozen(finding: Finding) -> None:
    with pytest.raises(Refused, match="the finding"):
        freeze_finding(finding)
