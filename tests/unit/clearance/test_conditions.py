"""The trade's conditions at the machine, each as a sentence.

The numbers are the rows of the table of conditions in DEVELOPERS.md; beside each stands the
rule or the guidance it rests on. What asks for the moment is in `test_the_moment.py`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from app.clearance.decision import (
    Code,
    InductionFact,
    SuspensionFact,
    Verdict,
    decide,
)
from app.clearance.wording import words
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
    sign_off,
    with_records,
)

TECHNICIAN = replace(ADA, technician_of=frozenset({None}))


def said(facts) -> str:
    """Return everything that the page says of the reasons."""
    return " ".join(
        f"{w.sentence} {w.remedy} {w.mender}" for w in map(words, decide(facts).reasons)
    )


def codes(facts) -> list[Code]:
    return [reason.code for reason in decide(facts).reasons]


# Row 1: not inducted. PUWER 1998 regulation 9: adequate training before use.
def test_without_the_induction_nobody_is_cleared_and_the_page_names_it():
    facts = with_records(SAW_INDUCTION)
    assert decide(facts).verdict is Verdict.NOT_CLEARED
    assert "“Panel saw”" in said(facts)


def test_who_passed_with_supervision_starts_only_in_sight_of_a_supervisor():
    facts = with_records(SAW_INDUCTION, sign_off(Result.SUPERVISED))
    assert decide(facts).verdict is Verdict.SUPERVISED
    assert "supervisor in sight who is cleared on this machine" in said(facts)


def test_supervision_does_not_stand_in_for_an_induction_that_is_missing():
    watched = replace(ASSESSMENT, run_mode=RunMode.SUPERVISED)
    facts = replace(with_records(SAW_INDUCTION), machine=replace(SAW, assessments=(watched,)))
    assert decide(facts).verdict is Verdict.NOT_CLEARED
    assert set(codes(facts)) == {Code.INDUCTION_MISSING, Code.SUPERVISED_USE}


def test_who_was_never_inducted_is_told_of_the_induction_alone():
    facts = for_ada(records={BASICS: (sign_off(),)}, briefed={}, acknowledged={})
    assert codes(facts) == [Code.INDUCTION_MISSING]


def test_who_was_briefed_once_is_told_of_the_change_beside_the_induction_that_lapsed():
    lapsed = {**ADA.records, SAW_INDUCTION: (sign_off(expires_on=YESTERDAY),)}
    facts = for_ada(records=lapsed, briefed={1: 1}, acknowledged={1: 1})
    assert codes(facts) == [Code.INDUCTION_EXPIRED, Code.ASSESSMENT_CHANGED]


# Row 2: a sign-off that ran out. A refresher interval is guidance and site policy, not law.
def test_a_sign_off_counts_through_its_last_day_and_not_the_day_after():
    today, yesterday = (
        with_records(SAW_INDUCTION, sign_off(expires_on=day)) for day in (TODAY, YESTERDAY)
    )
    assert decide(today).verdict is Verdict.CLEARED
    assert decide(yesterday).verdict is Verdict.NOT_CLEARED
    assert "Ask for the refresher" in said(yesterday)


def test_a_refresher_makes_a_person_current_again():
    old = sign_off(expires_on=YESTERDAY)
    new = sign_off(id=2, occurred_at=NOW, expires_on=date(2027, 3, 10))
    assert decide(with_records(SAW_INDUCTION, old, new)).verdict is Verdict.CLEARED


# Row 3: suspended. The ground stays off the screen (common practice).
@pytest.mark.parametrize(
    "where", [SuspensionFact(), SuspensionFact(area_id=1), SuspensionFact(machine_id=1)]
)
def test_a_suspended_person_is_sent_to_a_technician_and_reads_no_ground(where):
    facts = for_ada(suspensions=(where,))
    assert decide(facts).verdict is Verdict.NOT_CLEARED
    assert said(facts) == (
        "You may not use this at present. Speak to a technician. a technician of this area"
    )


@pytest.mark.parametrize("where", [SuspensionFact(area_id=2), SuspensionFact(machine_id=2)])
def test_a_suspension_from_elsewhere_does_not_reach_the_saw(where):
    assert decide(for_ada(suspensions=(where,))).verdict is Verdict.CLEARED


# Row 4: a prerequisite lapsed. Tiered training (common practice); COSHH for face-fit.
@pytest.mark.parametrize(
    "lapsed",
    [
        sign_off(expires_on=YESTERDAY),
        sign_off(Result.REVOKED),
        sign_off(Result.NOT_YET),
        sign_off(revision_number=0),
    ],
)
def test_a_lapsed_prerequisite_is_named(lapsed):
    facts = with_records(BASICS, lapsed)
    assert decide(facts).verdict is Verdict.NOT_CLEARED
    assert codes(facts) == [Code.PREREQUISITE_LAPSED]
    assert "“Workshop basics” comes first" in said(facts)


def chain(depth: int, loop: bool = False):
    """Return a saw whose induction 1 asks for 2, which asks for 3, and so on."""
    last = (1,) if loop else ()
    return {
        n: InductionFact(
            id=n, title=f"step {n}", counts_from=1, requires=(n + 1,) if n < depth else last
        )
        for n in range(1, depth + 1)
    }


@pytest.mark.parametrize("loop", [False, True], ids=["straight", "loop"])
@pytest.mark.parametrize("lapsed", [2, 7, 40])
def test_a_prerequisite_is_found_however_deep_it_lies(lapsed, loop):
    records = {n: (sign_off(),) for n in range(1, 41) if n != lapsed}
    facts = replace(
        IN_ORDER,
        machine=replace(SAW, inductions=chain(40, loop)),
        person=replace(ADA, records=records),
    )
    assert codes(facts) == [Code.PREREQUISITE_LAPSED]
    assert f"“step {lapsed}” comes first" in said(facts)


def test_one_prerequisite_of_two_inductions_is_named_once():
    inductions = {
        1: InductionFact(id=1, title="saw", counts_from=1, requires=(3,)),
        2: InductionFact(id=2, title="dust", counts_from=1, requires=(3,)),
        3: InductionFact(id=3, title="basics", counts_from=1),
    }
    facts = replace(
        IN_ORDER,
        machine=replace(SAW, required=(1, 2), inductions=inductions),
        person=replace(ADA, records={1: (sign_off(),), 2: (sign_off(),)}),
    )
    assert codes(facts) == [Code.PREREQUISITE_LAPSED]


def test_an_induction_that_is_not_published_cannot_be_held_even_with_a_record():
    facts = replace(
        for_ada(records={**ADA.records, 9: (sign_off(),)}),
        machine=replace(SAW, required=(SAW_INDUCTION, 9)),
    )
    assert codes(facts) == [Code.INDUCTION_MISSING]
    assert "not published" in said(facts)


# Row 6: the assessment changed materially since the briefing. MHSWR 1999 regulations 3(3), 13.
def test_after_a_material_change_nobody_starts_before_they_acknowledged_it():
    changed = replace(SAW, assessments=(replace(ASSESSMENT, number=3, material_number=3),))
    facts = replace(IN_ORDER, machine=changed)
    assert codes(facts) == [Code.ASSESSMENT_CHANGED]
    assert decide(facts).verdict is Verdict.NOT_CLEARED
    read = replace(facts, person=replace(ADA, acknowledged={ASSESSMENT.id: 3}))
    assert decide(read).verdict is Verdict.CLEARED


def test_a_change_that_is_not_material_asks_nobody_again():
    changed = replace(SAW, assessments=(replace(ASSESSMENT, number=3, material_number=2),))
    assert decide(replace(IN_ORDER, machine=changed)).verdict is Verdict.CLEARED


def test_a_new_briefing_alone_does_not_replace_the_persons_own_word():
    facts = for_ada(briefed={ASSESSMENT.id: 2}, acknowledged={ASSESSMENT.id: 1})
    assert codes(facts) == [Code.ACKNOWLEDGEMENT_OUTSTANDING]


# Row 7: review date passed. The law sets no interval (from memory); houses do.
def test_a_review_that_is_late_is_an_alarm_and_stops_nobody():
    late = replace(ASSESSMENT, review_due_on=YESTERDAY)
    answer = decide(at_the_saw(assessments=(late,)))
    assert (answer.verdict, answer.reasons, answer.alarms) == (Verdict.CLEARED, (), (late,))
    on_the_day = replace(ASSESSMENT, review_due_on=TODAY)
    assert decide(at_the_saw(assessments=(on_the_day,))).alarms == ()


def test_a_machine_is_retired_from_the_first_moment_of_its_day():
    facts = at_the_saw(retired_on=TODAY + timedelta(days=2))
    answer = decide(facts)
    assert answer.verdict is Verdict.CLEARED
    assert answer.holds_until is not None
    retired = decide(replace(facts, now=facts.now + timedelta(days=2)))
    assert retired.reasons[0].code is Code.RETIRED


# Row 8: taken out of use. PUWER 1998 regulation 19; the lock itself is no software's matter.
# Row 15: area closed. Row 24: an incident scene is kept (HSG245).
@pytest.mark.parametrize("hold", ["out_of_use", "area_closed", "scene_preserved"])
@pytest.mark.parametrize("person", [ADA, TECHNICIAN, None], ids=["ada", "technician", "nobody"])
def test_what_is_held_is_held_for_everybody(hold, person):
    facts = replace(at_the_saw(**{hold: True}), person=person)
    answer = decide(facts)
    assert answer.verdict is Verdict.OUT_OF_USE
    assert answer.reasons[0].verdict is Verdict.OUT_OF_USE


def test_a_kept_scene_is_to_be_left_alone():
    assert "Touch nothing. The investigator releases it." in said(at_the_saw(scene_preserved=True))


# Row 9: a statutory examination is overdue. COSHH 2002 regulation 9: at least every 14 months.
@pytest.mark.parametrize("due_on", [YESTERDAY, None], ids=["late", "never examined"])
def test_without_its_statutory_examination_nobody_uses_the_machine(due_on):
    facts = at_the_saw(checks=(GUARD, replace(EXTRACTION, due_on=due_on)))
    assert decide(facts).verdict is Verdict.OUT_OF_USE
    assert codes(facts) == [Code.EXAMINATION_OVERDUE]


def test_an_examination_holds_through_the_day_it_is_due():
    facts = at_the_saw(checks=(replace(EXTRACTION, due_on=TODAY),))
    assert decide(facts).verdict is Verdict.CLEARED


# Row 10: a routine check missed, or failed. PUWER 1998 regulations 5, 6, 11, 16.
@pytest.mark.parametrize("due_on", [YESTERDAY, None], ids=["missed", "never done"])
def test_a_missed_routine_check_stops_the_start_until_somebody_does_it(due_on):
    facts = at_the_saw(checks=(replace(GUARD, due_on=due_on),))
    assert decide(facts).verdict is Verdict.NOT_CLEARED
    assert "it takes a minute at the machine" in said(facts)
    assert decide(at_the_saw(checks=(GUARD,))).verdict is Verdict.CLEARED


@pytest.mark.parametrize("check", [GUARD, EXTRACTION], ids=["routine", "statutory"])
@pytest.mark.parametrize("due_on", [TOMORROW, YESTERDAY], ids=["in time", "late"])
def test_a_failed_check_stops_everybody_whenever_it_is_due(check, due_on):
    facts = at_the_saw(checks=(replace(check, failed=True, due_on=due_on),))
    assert decide(replace(facts, person=TECHNICIAN)).verdict is Verdict.OUT_OF_USE
    assert codes(facts) == [Code.CHECK_FAILED]


# Row 14: the course or the membership ended, and the record is kept as history.
@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"ends_on": YESTERDAY}, Code.ACCOUNT_ENDED),
        ({"erased": True}, Code.ACCOUNT_ENDED),
        ({"starts_on": TOMORROW}, Code.ACCOUNT_NOT_STARTED),
        ({"starts_on": None}, Code.ACCOUNT_NOT_STARTED),
    ],
)
def test_outside_their_time_here_nobody_starts_whatever_they_once_passed(changed, code):
    facts = for_ada(**changed)
    assert codes(facts) == [code]
    assert decide(facts).verdict is Verdict.NOT_CLEARED


def test_the_first_and_the_last_day_of_a_membership_count():
    assert decide(for_ada(starts_on=TODAY, ends_on=TODAY)).verdict is Verdict.CLEARED


def test_of_two_assessments_the_stricter_run_mode_holds():
    both = tuple(
        replace(ASSESSMENT, id=n, run_mode=mode)
        for n, mode in ((1, RunMode.SUPERVISED), (2, RunMode.TECHNICIAN_RUN))
    )
    known = {1: 2, 2: 2}
    facts = replace(
        at_the_saw(assessments=both), person=replace(ADA, acknowledged=known, briefed=known)
    )
    assert codes(facts) == [Code.TECHNICIAN_RUN]


@pytest.mark.parametrize(
    ("areas", "verdict"),
    [({None}, Verdict.CLEARED), ({1}, Verdict.CLEARED), ({2}, Verdict.NOT_CLEARED)],
)
def test_a_technician_runs_the_technician_run_machines_of_their_own_areas(areas, verdict):
    closed_to_others = replace(ASSESSMENT, run_mode=RunMode.TECHNICIAN_RUN)
    facts = at_the_saw(assessments=(closed_to_others,))
    person = replace(ADA, technician_of=frozenset(areas))
    assert decide(replace(facts, person=person)).verdict is verdict


def test_a_technician_whose_own_sign_off_lapsed_is_not_cleared():
    lapsed = replace(TECHNICIAN, records={SAW_INDUCTION: (sign_off(),)})
    assert codes(replace(IN_ORDER, person=lapsed)) == [Code.PREREQUISITE_LAPSED]


def test_a_sign_off_that_is_dated_ahead_does_not_count_yet():
    ahead = sign_off(occurred_at=NOW + timedelta(seconds=1))
    assert codes(with_records(SAW_INDUCTION, ahead)) == [Code.INDUCTION_MISSING]
