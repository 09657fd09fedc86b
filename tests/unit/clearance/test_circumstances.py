"""The trade's conditions of a person's circumstances, each as a sentence.

The numbers are the rows of the table of conditions in DEVELOPERS.md; beside each stands the
rule or the guidance it rests on.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from app.clearance.decision import (
    Code,
    Conditions,
    EquipmentFact,
    ExposureFact,
    House,
    MarkFact,
    Verdict,
    decide,
)
from app.clearance.person_rules import birthday
from app.clearance.wording import words
from app.machines.hours import Calendar, Stretch
from app.presence.present import Being
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Result
from tests.unit.clearance.sample import (
    ADA,
    ASSESSMENT,
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

HOUR = timedelta(hours=1)
TESS = replace(ADA, id=9, name="Tess Turner", technician_of=frozenset({SAW.area_id}))
ON_DUTY = somebody(9, Being.ON_DUTY, name="Tess Turner")
WATCHED = at_the_saw(assessments=(replace(ASSESSMENT, run_mode=RunMode.SUPERVISED),))
# Tuesday, as it is: staffed until 17:00, unstaffed until 22:00.
HOURS = Calendar(
    stretches=(
        Stretch(weekday=1, opens=540, closes=1020, staffed=True),
        Stretch(weekday=1, opens=1020, closes=1320, staffed=False),
    )
)


def codes(facts) -> list[Code]:
    return [reason.code for reason in decide(facts).reasons]


def in_the_house(facts, **rules):
    return replace(facts, machine=replace(facts.machine, house=House(**rules)))


def this_person(facts, **changed):
    return replace(facts, person=replace(facts.person, **changed))


def then(facts, at: datetime):
    return replace(facts, now=at)


# Row 2: a refresher date that passed; a grace is a rule of the house (common practice).
@pytest.mark.parametrize(
    ("days_ago", "verdict"),
    [(1, Verdict.SUPERVISED), (14, Verdict.SUPERVISED), (15, Verdict.NOT_CLEARED)],
)
def test_what_ran_out_is_used_under_supervision_through_the_last_day_of_the_grace(
    days_ago, verdict
):
    expired = sign_off(expires_on=TODAY - timedelta(days=days_ago))
    facts = in_the_house(with_records(SAW_INDUCTION, expired), grace_days=14)
    assert decide(facts).verdict is verdict


def test_a_grace_says_nothing_of_what_was_revoked_or_is_outdated():
    for record in (sign_off(Result.REVOKED, expires_on=YESTERDAY), sign_off(revision_number=1)):
        facts = in_the_house(with_records(SAW_INDUCTION, record), grace_days=14)
        assert decide(facts).verdict is Verdict.NOT_CLEARED


# Row 5: lapsed by disuse. HSE, "Using work equipment safely": skills decline; common practice.
def test_who_has_not_used_it_for_long_is_watched_once_and_then_is_cleared():
    long_ago = with_records(SAW_INDUCTION, sign_off(occurred_at=NOW - timedelta(days=400)))
    facts = in_the_house(long_ago, disuse_months=12)
    assert codes(facts) == [Code.DISUSE]
    assert decide(facts).verdict is Verdict.SUPERVISED
    watched = this_person(facts, used={SAW_INDUCTION: NOW - HOUR})
    assert decide(watched).verdict is Verdict.CLEARED


def test_the_strictest_assessment_says_after_how_many_months_and_else_the_site():
    facts = in_the_house(with_conditions(disuse_months=6), disuse_months=1)
    facts = this_person(
        facts,
        records={**ADA.records, SAW_INDUCTION: (sign_off(occurred_at=NOW - 100 * 24 * HOUR),)},
    )
    assert Code.DISUSE not in codes(facts)  # six months stand in the place of the site's one
    assert Code.DISUSE in codes(in_the_house(replace(facts, machine=SAW), disuse_months=1))


def test_supervised_uses_are_counted_from_the_last_that_took_something_back():
    asked = replace(SAW.inductions[SAW_INDUCTION], supervised_uses=2)
    machine = replace(SAW, inductions={**SAW.inductions, SAW_INDUCTION: asked})
    records = (
        sign_off(Result.NOT_YET, id=1, occurred_at=NOW - 48 * HOUR),
        sign_off(id=2, occurred_at=NOW - 24 * HOUR),
    )
    before, after = NOW - 50 * HOUR, NOW - HOUR
    facts = replace(with_records(SAW_INDUCTION, *records), machine=machine)
    one = this_person(facts, watched={SAW_INDUCTION: (before, after)})
    assert codes(one) == [Code.USES_WANTING]
    two = this_person(facts, watched={SAW_INDUCTION: (after, after + HOUR / 2)})
    assert decide(two).verdict is Verdict.CLEARED


# Row 7: a review date that passed. No interval is set by law; a site may set a grace.
def test_a_review_date_is_an_alarm_until_the_sites_own_grace_ends():
    late = replace(ASSESSMENT, review_due_on=TODAY - timedelta(days=30))
    facts = at_the_saw(assessments=(late,))
    assert (decide(facts).verdict, decide(facts).alarms) == (Verdict.CLEARED, (late,))
    assert decide(in_the_house(facts, review_grace_days=30)).verdict is Verdict.CLEARED
    assert codes(in_the_house(facts, review_grace_days=29)) == [Code.REVIEW_OVERDUE]


# Row 8: locked off. OSHA 29 CFR 1910.147: only who applied the lock removes it.
def test_an_isolated_machine_is_out_of_use_for_everybody_and_for_a_test_run_too():
    facts = this_person(at_the_saw(isolated=True, out_of_use=True), test_runs={SAW.id: NOW + HOUR})
    assert decide(facts).verdict is Verdict.OUT_OF_USE
    assert Code.ISOLATED in codes(facts)


# Row 13: young people. MHSWR 1999, regulation 19: supervised, and risk reduced.
@pytest.mark.parametrize(
    ("adult_on", "found"),
    [
        (date(2028, 3, 11), [Code.TOO_YOUNG]),  # 16 tomorrow
        (date(2028, 3, 10), [Code.YOUNG_PERSON, Code.NO_SUPERVISOR]),  # 16 today
        (TOMORROW, [Code.YOUNG_PERSON, Code.NO_SUPERVISOR]),
        (TODAY, []),
        (None, [Code.AGE_NOT_KNOWN]),
    ],
)
def test_ages_count_from_the_birthday_and_one_that_is_not_known_clears_nobody(adult_on, found):
    facts = this_person(with_conditions(minimum_age=16, supervised_under=18), adult_on=adult_on)
    assert sorted(codes(facts)) == sorted(found)


def test_an_age_that_no_assessment_asks_for_is_not_asked():
    assert codes(this_person(with_conditions(), adult_on=None)) == []


@pytest.mark.parametrize(
    ("adult_on", "age", "birthday_on"),
    [
        (date(2026, 5, 1), 16, date(2024, 5, 1)),
        (date(2026, 5, 1), 21, date(2029, 5, 1)),
        (date(2024, 2, 29), 16, date(2022, 3, 1)),  # no 29 February: rather a day too late
        (date.min, 0, date.min),
        (date.max, 25, date.max),
    ],
)
def test_a_birthday_is_counted_in_years(adult_on, age, birthday_on):
    assert birthday(adult_on, age) == birthday_on


# Row 14: left. A guest is here for a day under a host (common practice).
def test_a_guest_of_today_is_supervised_and_tomorrow_has_left():
    guest = for_ada(starts_on=None, visits=frozenset({TODAY}))
    answer = decide(guest)
    assert (answer.verdict, [r.code for r in answer.reasons]) == (
        Verdict.SUPERVISED,
        [Code.VISITOR],
    )
    midnight = then(guest, datetime(2026, 3, 11, tzinfo=UTC))
    assert Code.ACCOUNT_ENDED in codes(midnight)


def test_a_guest_of_tomorrow_has_not_come_yet_and_a_member_is_no_guest():
    assert codes(for_ada(starts_on=None, visits=frozenset({TOMORROW}))) == [
        Code.ACCOUNT_NOT_STARTED
    ]
    assert codes(for_ada(visits=frozenset({TODAY}))) == []


def test_a_technician_who_left_and_comes_as_a_guest_is_no_technician():
    by_technicians = replace(ASSESSMENT, run_mode=RunMode.TECHNICIAN_RUN)
    left = replace(TESS, ends_on=YESTERDAY, visits=frozenset({TODAY}), records=ADA.records)
    facts = replace(at_the_saw(assessments=(by_technicians,)), person=left)
    assert set(codes(facts)) == {Code.TECHNICIAN_RUN, Code.VISITOR}


# Row 22: health and adjustment. Only the effect is stored, and no ground is shown.
def test_a_mark_sends_to_a_technician_and_tells_nothing_more():
    (reason,) = decide(for_ada(marks=(MarkFact(area_id=SAW.area_id),))).reasons
    assert words(reason).sentence == "You are to speak to a technician before this is used."
    assert reason.subject == ""
    assert codes(for_ada(marks=(MarkFact(area_id=SAW.area_id + 1),))) == []


# Row 23: equipment that is issued or fitted. COSHH Regulations 2002, regulation 7.
def test_a_face_fit_counts_through_its_last_day_and_its_name_however_it_is_written():
    masked = with_conditions(equipment=("Fitted mask, P3",))
    for expires_on, found in ((TODAY, []), (YESTERDAY, [Code.EQUIPMENT_MISSING]), (None, [])):
        fit = EquipmentFact(name=" fitted  MASK, p3", expires_on=expires_on)
        assert codes(this_person(masked, equipment=(fit,))) == found


def test_each_piece_that_is_missing_is_named():
    facts = with_conditions(equipment=("Visor", "Fitted mask"))
    assert [words(reason).sentence.rpartition(": ")[2] for reason in decide(facts).reasons] == [
        "Fitted mask.",
        "Visor.",
    ]


# --- loan tools --------------------------------------------------------------------------


# HSE L140, ready-reckoner: 5 m/s2 for 2 h and 2.5 m/s2 for 8 h are 100 points each, which is
# the exposure action value of 2.5 m/s2 A(8).
@pytest.mark.parametrize(
    ("uses", "stops"),
    [
        ([(5.0, 120)], True),
        ([(5.0, 119)], False),
        ([(2.5, 480)], True),
        ([(5.0, 60), (5.0, 60)], True),
        ([(10.0, 15), (5.0, 60)], True),  # 50 points and 50 points
        ([(10.0, 15), (5.0, 59)], False),
        ([(None, 5)], True),  # nobody knows how much it vibrates
        ([(2.5, None)], True),  # nor how long it was used
    ],
)
def test_the_days_vibration_stops_at_the_action_value_where_the_site_says_so(uses, stops):
    exposures = tuple(ExposureFact(at=NOW - HOUR, magnitude=a, trigger_minutes=t) for a, t in uses)
    facts = replace(at_the_saw(loan_tool=True), person=replace(ADA, exposures=exposures))
    assert codes(facts) == []
    found = codes(in_the_house(facts, action_value_stops=True))
    assert found == ([Code.VIBRATION] if stops else [])


def test_the_vibration_of_yesterday_is_over():
    exposure = ExposureFact(at=NOW - 24 * HOUR, magnitude=20.0, trigger_minutes=480)
    facts = replace(at_the_saw(loan_tool=True), person=replace(ADA, exposures=(exposure,)))
    assert codes(in_the_house(facts, action_value_stops=True)) == []


def test_a_tool_on_loan_is_used_by_who_has_it():
    assert codes(at_the_saw(loan_tool=True, loaned_to=8)) == [Code.ON_LOAN]
    assert codes(at_the_saw(loan_tool=True, loaned_to=ADA.id)) == []


# --- an assessment that was frozen before there were conditions --------------------------


def test_a_revision_without_conditions_sets_none():
    assert Conditions() != ASSESSMENT.conditions
    assert ASSESSMENT.conditions is None
    assert codes(here()) == []
