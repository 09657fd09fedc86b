"""One smallest set of facts for every reason there is, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.clearance.decision import Code, Reason, SuspensionFact, Verdict, decide
from app.clearance.wording import HEADLINES, NOT_CONFIRMED, words
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Result
from tests.unit.clearance.sample import (
    ASSESSMENT,
    BASICS,
    EXTRACTION,
    GUARD,
    IN_ORDER,
    SAW_INDUCTION,
    TODAY,
    TOMORROW,
    YESTERDAY,
    at_the_saw,
    for_ada,
    sign_off,
    with_records,
)

OUT, NOT, UNDER = Verdict.OUT_OF_USE, Verdict.NOT_CLEARED, Verdict.SUPERVISED
FAILED = replace(GUARD, failed=True)
LATE = replace(GUARD, due_on=YESTERDAY)
LATE_EXAMINATION = replace(EXTRACTION, due_on=YESTERDAY)
BY_TECHNICIANS = replace(ASSESSMENT, run_mode=RunMode.TECHNICIAN_RUN)
WATCHED = replace(ASSESSMENT, run_mode=RunMode.SUPERVISED)

# Each differs from a pair that is in order by one thing only.
CASES = {
    Code.RETIRED: (at_the_saw(retired_on=TODAY), OUT),
    Code.OUT_OF_USE: (at_the_saw(out_of_use=True), OUT),
    Code.SCENE_PRESERVED: (at_the_saw(scene_preserved=True), OUT),
    Code.AREA_CLOSED: (at_the_saw(area_closed=True), OUT),
    Code.NO_ASSESSMENT: (at_the_saw(assessments=()), OUT),
    Code.CHECK_FAILED: (at_the_saw(checks=(FAILED,)), OUT),
    Code.EXAMINATION_OVERDUE: (at_the_saw(checks=(LATE_EXAMINATION,)), OUT),
    Code.CHECK_NOT_DONE: (at_the_saw(checks=(LATE,)), NOT),
    Code.NOT_SIGNED_IN: (replace(IN_ORDER, person=None), NOT),
    Code.ACCOUNT_NOT_STARTED: (for_ada(starts_on=TOMORROW), NOT),
    Code.ACCOUNT_ENDED: (for_ada(ends_on=YESTERDAY), NOT),
    Code.SUSPENDED: (for_ada(suspensions=(SuspensionFact(),)), NOT),
    Code.INDUCTION_MISSING: (with_records(SAW_INDUCTION), NOT),
    Code.INDUCTION_NOT_YET: (with_records(SAW_INDUCTION, sign_off(Result.NOT_YET)), NOT),
    Code.INDUCTION_EXPIRED: (with_records(SAW_INDUCTION, sign_off(expires_on=YESTERDAY)), NOT),
    Code.INDUCTION_REVOKED: (with_records(SAW_INDUCTION, sign_off(Result.REVOKED)), NOT),
    Code.INDUCTION_OUTDATED: (with_records(SAW_INDUCTION, sign_off(revision_number=1)), NOT),
    Code.INDUCTION_SUPERVISED: (with_records(SAW_INDUCTION, sign_off(Result.SUPERVISED)), UNDER),
    Code.PREREQUISITE_LAPSED: (with_records(BASICS, sign_off(expires_on=YESTERDAY)), NOT),
    Code.PREREQUISITE_SUPERVISED: (with_records(BASICS, sign_off(Result.SUPERVISED)), UNDER),
    Code.ASSESSMENT_CHANGED: (for_ada(briefed={1: 1}, acknowledged={1: 1}), NOT),
    Code.ACKNOWLEDGEMENT_OUTSTANDING: (for_ada(acknowledged={}), NOT),
    Code.TECHNICIAN_RUN: (at_the_saw(assessments=(BY_TECHNICIANS,)), NOT),
    Code.SUPERVISED_USE: (at_the_saw(assessments=(WATCHED,)), UNDER),
}


def test_a_pair_that_is_in_order_is_cleared():
    answer = decide(IN_ORDER)
    assert (answer.verdict, answer.reasons, answer.alarms) == (Verdict.CLEARED, (), ())


def test_no_code_is_without_a_case():
    assert set(CASES) == set(Code)


@pytest.mark.parametrize("code", Code)
def test_each_code_is_reached_alone_with_its_verdict(code):
    facts, verdict = CASES[code]
    answer = decide(facts)
    assert [(reason.code, reason.verdict) for reason in answer.reasons] == [(code, verdict)]
    assert answer.verdict is verdict


@pytest.mark.parametrize("code", Code)
def test_each_code_has_a_sentence_a_remedy_and_somebody_who_mends_it(code):
    """As the decision gives it: with a subject exactly where the words have a place for one."""
    (reason,) = decide(CASES[code][0]).reasons
    said = words(reason)
    text = f"{said.sentence} {said.remedy} {said.mender}"
    assert said.sentence.endswith(".")
    assert said.remedy.endswith(".")
    assert said.mender
    assert not set("{}") & set(text)
    assert "“”" not in text
    assert " ." not in text
    assert ": ." not in text


@pytest.mark.parametrize("code", Code)
def test_the_words_take_a_subject_as_it_is(code):
    """A title may hold braces or percent signs; they are shown and never read as a form."""
    said = words(Reason(code=code, verdict=Verdict.NOT_CLEARED, subject="Saw {0} 100 %s {x}"))
    whole = f"{said.sentence} {said.remedy} {said.mender}"
    assert whole.count("{x}") == whole.count("Saw {0} 100 %s {x}")


def test_no_wording_ever_calls_anything_safe():
    texts = [*HEADLINES.values(), NOT_CONFIRMED, *(verdict.words for verdict in Verdict)]
    for facts, _verdict in CASES.values():
        said = words(decide(facts).reasons[0])
        texts += [said.sentence, said.remedy, said.mender]
    assert not [text for text in texts if "safe" in text.lower()]


def test_every_verdict_has_a_headline_and_its_own_words():
    assert set(HEADLINES) == set(Verdict)
    assert len({verdict.words for verdict in Verdict}) == len(Verdict)


def test_codes_are_stored_and_so_they_never_change():
    assert {code.value for code in Code} == {
        "machine-retired",
        "out-of-use",
        "scene-preserved",
        "area-closed",
        "no-assessment-in-force",
        "check-failed",
        "statutory-examination-overdue",
        "check-not-done",
        "not-signed-in",
        "account-not-started",
        "account-ended",
        "suspended",
        "induction-missing",
        "induction-not-yet-passed",
        "induction-expired",
        "induction-revoked",
        "induction-outdated",
        "induction-with-supervision",
        "prerequisite-lapsed",
        "prerequisite-with-supervision",
        "assessment-changed",
        "acknowledgement-outstanding",
        "technician-run",
        "supervised-use",
    }
