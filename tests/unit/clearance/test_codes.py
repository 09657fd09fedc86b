"""One smallest set of facts for every reason there is, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from app.clearance.decision import (
    BookingFact,
    Code,
    ExposureFact,
    House,
    JobFact,
    MarkFact,
    OverrideFact,
    Reason,
    SuspensionFact,
    Verdict,
    decide,
)
from app.clearance.wording import HEADLINES, NOT_CONFIRMED, words
from app.machines.hours import Calendar, Stretch
from app.presence.present import Being
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Result
from tests.unit.clearance.sample import (
    ADA,
    ASSESSMENT,
    BASICS,
    EXTRACTION,
    GUARD,
    IN_ORDER,
    NOW,
    SAW,
    SAW_INDUCTION,
    TODAY,
    TOMORROW,
    YESTERDAY,
    at_the_saw,
    for_ada,
    here,
    sign_off,
    somebody,
    with_conditions,
    with_records,
)

OUT, NOT, UNDER = Verdict.OUT_OF_USE, Verdict.NOT_CLEARED, Verdict.SUPERVISED
FAILED = replace(GUARD, failed=True)
LATE = replace(GUARD, due_on=YESTERDAY)
LATE_EXAMINATION = replace(EXTRACTION, due_on=YESTERDAY)
BY_TECHNICIANS = replace(ASSESSMENT, run_mode=RunMode.TECHNICIAN_RUN)
WATCHED = replace(ASSESSMENT, run_mode=RunMode.SUPERVISED)
HOUR = timedelta(hours=1)
TUESDAY = TODAY.weekday()
CLOSED_TODAY = Calendar(
    stretches=(Stretch(weekday=TUESDAY + 1, opens=540, closes=1020, staffed=True),)
)
UNSTAFFED_TODAY = Calendar(
    stretches=(Stretch(weekday=TUESDAY, opens=0, closes=1440, staffed=False),)
)
EXPIRED = sign_off(expires_on=YESTERDAY)
UNDER_OVERRIDE = replace(
    with_records(SAW_INDUCTION, EXPIRED),
    person=replace(
        ADA,
        records={**ADA.records, SAW_INDUCTION: (EXPIRED,)},
        overrides=(
            OverrideFact(
                id=1, machine_id=SAW.id, lifts="induction-expired", until=NOW + HOUR, author_id=3
            ),
        ),
    ),
)
ON_DUTY = somebody(9, Being.ON_DUTY)
TESS = replace(ADA, id=9, name="Tess Turner", technician_of=frozenset({None}))
ADULT = replace(TESS, adult_on=YESTERDAY)
WATCHED_USE = at_the_saw(assessments=(WATCHED,))
FULL_HANDS = tuple(
    somebody(20 + number, supervised=True, supervisor_id=9, machine_id=5) for number in range(8)
)


def at_the_house(facts, **rules):
    return replace(facts, machine=replace(facts.machine, house=House(**rules)))


def born(**conditions):
    """Return the facts of somebody who turns 18 tomorrow, under these conditions."""
    facts = with_conditions(**conditions)
    return replace(facts, person=replace(ADA, adult_on=TOMORROW))


def loan_tool(**person):
    facts = at_the_house(at_the_saw(loan_tool=True), action_value_stops=True)
    return replace(facts, person=replace(ADA, **person))


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
    Code.ISOLATED: (at_the_saw(isolated=True), OUT),
    Code.REVIEW_OVERDUE: (
        at_the_house(
            at_the_saw(assessments=(replace(ASSESSMENT, review_due_on=YESTERDAY),)),
            review_grace_days=0,
        ),
        NOT,
    ),
    Code.VISITOR: (for_ada(starts_on=None, visits=frozenset({TODAY})), UNDER),
    Code.SPEAK_TO_TECHNICIAN: (for_ada(marks=(MarkFact(machine_id=SAW.id),)), NOT),
    Code.TOO_YOUNG: (born(minimum_age=18), NOT),
    Code.YOUNG_PERSON: (
        here(born(minimum_age=16, supervised_under=18), present=(ON_DUTY,), others={9: ADULT}),
        UNDER,
    ),
    Code.AGE_NOT_KNOWN: (with_conditions(supervised_under=18), NOT),
    Code.INDUCTION_IN_GRACE: (
        at_the_house(with_records(SAW_INDUCTION, EXPIRED), grace_days=14),
        UNDER,
    ),
    Code.USES_WANTING: (
        at_the_saw(
            inductions={
                **SAW.inductions,
                SAW_INDUCTION: replace(SAW.inductions[SAW_INDUCTION], supervised_uses=1),
            }
        ),
        UNDER,
    ),
    Code.DISUSE: (
        at_the_house(
            with_records(SAW_INDUCTION, sign_off(occurred_at=NOW - timedelta(days=40))),
            disuse_months=1,
        ),
        UNDER,
    ),
    Code.EQUIPMENT_MISSING: (with_conditions(equipment=("Fitted mask",)), NOT),
    Code.VIBRATION: (
        loan_tool(exposures=(ExposureFact(at=NOW, magnitude=5.0, trigger_minutes=120),)),
        NOT,
    ),
    Code.ON_LOAN: (at_the_saw(loan_tool=True, loaned_to=8), NOT),
    Code.TEST_RUN: (
        replace(at_the_saw(out_of_use=True), person=replace(ADA, test_runs={SAW.id: NOW + HOUR})),
        UNDER,
    ),
    Code.OVERRIDE: (UNDER_OVERRIDE, UNDER),
    Code.CLOSED_NOW: (here(calendar=CLOSED_TODAY), NOT),
    Code.UNSTAFFED: (here(with_conditions(unstaffed=False), calendar=UNSTAFFED_TODAY), NOT),
    Code.ALONE: (with_conditions(never_alone=True), NOT),
    Code.NO_FIRST_AIDER: (here(with_conditions(first_aider=True), present=(somebody(),)), NOT),
    Code.NO_SUPERVISOR: (here(WATCHED_USE), NOT),
    Code.SUPERVISOR_NOT_CLEARED: (here(WATCHED_USE, present=(ON_DUTY,)), NOT),
    Code.SUPERVISOR_BUSY: (
        here(WATCHED_USE, present=(ON_DUTY, *FULL_HANDS), others={9: TESS}),
        NOT,
    ),
    Code.JOB_RUNNING: (here(jobs=(JobFact(id=1, what="Firing"),)), NOT),
    Code.IN_USE: (here(present=(somebody(machine_id=SAW.id),)), NOT),
    Code.BOOKED: (
        here(bookings=(BookingFact(id=1, person_id=8, starts_at=NOW, ends_at=NOW + HOUR),)),
        NOT,
    ),
    Code.AREA_FULL: (here(present=(somebody(),), capacity=1), NOT),
}
# Supervision is asked for only where a supervisor would be enough: that reason stands beside.
WITH_SUPERVISION = {Code.NO_SUPERVISOR, Code.SUPERVISOR_NOT_CLEARED, Code.SUPERVISOR_BUSY}


def test_a_pair_that_is_in_order_is_cleared():
    answer = decide(IN_ORDER)
    assert (answer.verdict, answer.reasons, answer.alarms) == (Verdict.CLEARED, (), ())


def test_no_code_is_without_a_case():
    assert set(CASES) == set(Code)


@pytest.mark.parametrize("code", Code)
def test_each_code_is_reached_alone_with_its_verdict(code):
    facts, verdict = CASES[code]
    answer = decide(facts)
    beside = [(Code.SUPERVISED_USE, UNDER)] if code in WITH_SUPERVISION else []
    assert [(r.code, r.verdict) for r in answer.reasons] == [(code, verdict), *beside]
    assert answer.verdict is verdict


@pytest.mark.parametrize("code", Code)
def test_each_code_has_a_sentence_a_remedy_and_somebody_who_mends_it(code):
    """As the decision gives it: with a subject exactly where the words have a place for one."""
    said = words(decide(CASES[code][0]).reasons[0])
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
        "isolated",
        "review-overdue",
        "visitor",
        "speak-to-technician",
        "too-young",
        "young-person",
        "age-not-known",
        "induction-in-grace",
        "supervised-uses-wanting",
        "lapsed-by-disuse",
        "equipment-missing",
        "vibration-over-action-value",
        "on-loan",
        "test-run",
        "under-override",
        "closed-now",
        "unstaffed-hours",
        "nobody-else-here",
        "no-first-aider",
        "no-supervisor",
        "supervisor-not-cleared",
        "supervisor-busy",
        "job-running",
        "in-use",
        "booked",
        "area-full",
    }
