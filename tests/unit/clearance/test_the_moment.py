"""The trade's conditions of the moment, each as a sentence.

The numbers are the rows of the table of conditions in DEVELOPERS.md; beside each stands the
rule or the guidance it rests on.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from app.clearance.decision import (
    BookingFact,
    Code,
    House,
    InductionFact,
    JobFact,
    OverrideFact,
    Verdict,
    decide,
)
from app.clearance.wording import words
from app.machines.hours import Calendar, Stretch
from app.presence.present import Being
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Result
from tests.unit.clearance.sample import (
    ADA,
    ASSESSMENT,
    IN_ORDER,
    NOW,
    SAW,
    SAW_INDUCTION,
    YESTERDAY,
    at_the_saw,
    for_ada,
    here,
    sign_off,
    somebody,
    with_conditions,
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


# Row 11: out of staffed hours (common practice: hours are data of each site).
@pytest.mark.parametrize(
    ("wall", "found"),
    [
        ("08:59", [Code.CLOSED_NOW]),
        ("09:00", []),
        ("16:59", []),
        ("17:00", [Code.UNSTAFFED]),
        ("22:00", [Code.CLOSED_NOW]),
    ],
)
def test_hours_decide_by_the_minute_what_may_be_used(wall, found):
    hour, minute = map(int, wall.split(":"))
    facts = here(with_conditions(unstaffed=False), calendar=HOURS)
    assert codes(then(facts, NOW.replace(hour=hour, minute=minute))) == found


def test_cleared_people_use_it_in_unstaffed_hours_where_the_assessment_says_so():
    evening = NOW.replace(hour=18)
    for facts in (with_conditions(unstaffed=True), IN_ORDER):
        assert decide(then(here(facts, calendar=HOURS), evening)).verdict is Verdict.CLEARED


def test_a_permit_lifts_the_hours_for_one_person_until_it_ends():
    permit = OverrideFact(
        id=4, machine_id=SAW.id, lifts="closed-now", until=NOW.replace(hour=23), author_id=3
    )
    facts = then(here(for_ada(overrides=(permit,)), calendar=HOURS), NOW.replace(hour=22))
    answer = decide(facts)
    assert answer.verdict is Verdict.CLEARED
    assert [(each.reason.code, each.author_id) for each in answer.lifted] == [(Code.CLOSED_NOW, 3)]
    assert answer.holds_until == NOW.replace(hour=23)
    assert decide(then(facts, answer.holds_until)).verdict is Verdict.NOT_CLEARED


def test_a_closed_area_says_when_it_opens_and_the_answer_holds_until_then():
    answer = decide(then(here(calendar=HOURS), NOW.replace(hour=23)))
    next_tuesday = datetime(2026, 3, 17, 9, tzinfo=UTC)
    assert answer.opens_at == next_tuesday
    # The day before another reason joins it: the daily check is due again.
    assert Code.CHECK_NOT_DONE in codes(then(answer.facts, answer.holds_until))


# Row 12: lone working. HSE INDG73: the assessment decides; some work is never done alone.
def test_what_nobody_uses_alone_asks_for_somebody_else_who_is_here_now():
    alone = with_conditions(never_alone=True)
    assert codes(alone) == [Code.ALONE]
    assert decide(here(alone, present=(somebody(),))).verdict is Verdict.CLEARED
    gone = somebody(until=NOW)
    assert codes(here(alone, present=(gone,))) == [Code.ALONE]


def test_company_runs_out_with_their_presence_and_the_answer_with_it():
    answer = decide(here(with_conditions(never_alone=True), present=(somebody(),)))
    assert answer.holds_until == NOW + timedelta(minutes=90)


def test_one_person_who_is_there_twice_is_one():
    two = with_conditions(companions=2)
    partner = somebody(8, Being.PARTNER)
    assert codes(here(two, present=(somebody(8), partner))) == [Code.ALONE]
    assert codes(here(two, present=(somebody(8), somebody(10)))) == []


def test_the_red_list_of_the_site_stands_above_what_an_assessment_allows():
    listed = in_the_house(here(), red_list=frozenset({SAW.id}))
    assert codes(listed) == [Code.ALONE]
    assert codes(in_the_house(here(), red_list=frozenset({SAW.id + 1}))) == []


def test_alone_with_a_check_in_is_displayed_and_no_verdict():
    assert codes(with_conditions(check_in=True)) == []


# Row 17: capacity. BS 4163 names 20 for schools; else a cap of the house (common practice).
def test_an_area_is_full_when_as_many_others_are_at_work_in_it():
    two = (somebody(8), somebody(10))
    assert codes(here(present=two, capacity=3)) == []
    assert codes(here(present=two, capacity=2)) == [Code.AREA_FULL]
    mine = somebody(ADA.id, machine_id=5)
    assert codes(here(present=(somebody(8), mine, ON_DUTY), capacity=2)) == []


def test_a_machine_is_used_by_one_and_a_bench_by_several():
    other = (somebody(machine_id=SAW.id),)
    assert codes(here(present=other)) == [Code.IN_USE]
    assert codes(here(at_the_saw(shared=True), present=other)) == []
    assert codes(here(present=(somebody(ADA.id, machine_id=SAW.id),))) == []


def test_a_job_that_runs_on_alone_uses_the_machine_until_somebody_ends_it():
    answer = decide(here(jobs=(JobFact(id=1, what="Bisque firing"),)))
    assert (answer.verdict, answer.reasons[0].code) == (Verdict.NOT_CLEARED, Code.JOB_RUNNING)
    assert "Bisque firing" in words(answer.reasons[0]).sentence


# Row 18: a supervisor needed and absent. PUWER 1998, regulation 9.
def test_supervised_is_an_answer_only_while_somebody_can_supervise():
    assert set(codes(here(WATCHED))) == {Code.NO_SUPERVISOR, Code.SUPERVISED_USE}
    answer = decide(here(WATCHED, present=(ON_DUTY,), others={9: TESS}))
    assert answer.verdict is Verdict.SUPERVISED
    assert answer.supervisors == ((9, "Tess Turner"),)
    assert answer.holds_until == ON_DUTY.until


def test_whoever_supervises_a_use_here_supervises_until_it_ends():
    watching = somebody(9, Being.SUPERVISING, name="Tess Turner")
    assert decide(here(WATCHED, present=(watching,), others={9: TESS})).verdict is (
        Verdict.SUPERVISED
    )


def test_somebody_at_work_or_a_partner_is_company_and_no_supervisor():
    for being in (Being.AT_WORK, Being.PARTNER):
        about = here(WATCHED, present=(somebody(9, being, machine_id=5),), others={9: TESS})
        assert Code.NO_SUPERVISOR in codes(about)


def test_without_the_moment_supervised_stays_supervised():
    assert decide(WATCHED).verdict is Verdict.SUPERVISED


# Row 19: a supervisor who is not cleared here. PUWER 1998, regulation 9 (2).
@pytest.mark.parametrize(
    "wanting",
    [
        {"records": {}},
        {"technician_of": frozenset({SAW.area_id + 1})},
        {"ends_on": YESTERDAY},
        {"acknowledged": {}},
        {"records": {**ADA.records, SAW_INDUCTION: (sign_off(Result.SUPERVISED),)}},
    ],
)
def test_whoever_supervises_is_a_technician_here_and_cleared_on_this_machine(wanting):
    other = replace(TESS, **wanting)
    facts = here(WATCHED, present=(ON_DUTY,), others={9: other})
    assert Code.SUPERVISOR_NOT_CLEARED in codes(facts)


def test_a_tool_in_the_hands_of_who_asks_does_not_unclear_their_supervisor():
    lent = replace(WATCHED, machine=replace(WATCHED.machine, loan_tool=True, loaned_to=ADA.id))
    assert decide(here(lent, present=(ON_DUTY,), others={9: TESS})).verdict is Verdict.SUPERVISED


@pytest.mark.parametrize(("watched", "verdict"), [(1, "supervised"), (2, "not cleared")])
def test_one_supervisor_watches_as_many_as_the_area_says(watched, verdict):
    others = tuple(
        somebody(20 + n, supervised=True, supervisor_id=9, machine_id=5) for n in range(watched)
    )
    facts = here(WATCHED, present=(ON_DUTY, *others), others={9: TESS}, people_per_supervisor=2)
    assert decide(facts).verdict.words == verdict


def test_a_supervised_use_of_which_nobody_noted_the_supervisor_counts_for_each_of_them():
    unknown = somebody(20, supervised=True, machine_id=5)
    facts = here(WATCHED, present=(ON_DUTY, unknown), others={9: TESS}, people_per_supervisor=1)
    assert Code.SUPERVISOR_BUSY in codes(facts)


# Row 20: first aider absent. Health and Safety (First-Aid) Regulations 1981; house rule.
def test_a_first_aider_is_somebody_else_here_who_is_current_in_what_the_site_says():
    aided = with_conditions(first_aider=True)
    first_aid = InductionFact(id=9, title="First aid", counts_from=1)
    holder = replace(TESS, records={9: (sign_off(revision_number=1),)})
    facts = here(aided, present=(somebody(9),), others={9: holder}, first_aid=first_aid)
    assert codes(facts) == []
    for other in (replace(holder, records={}), replace(holder, ends_on=YESTERDAY)):
        without = here(aided, present=(somebody(9),), others={9: other}, first_aid=first_aid)
        assert codes(without) == [Code.NO_FIRST_AIDER]


def test_where_the_site_said_nothing_of_first_aid_none_can_be_confirmed():
    (reason,) = decide(here(with_conditions(first_aider=True), present=(somebody(),))).reasons
    assert "has not said which induction" in words(reason).sentence


# Row 21: booked by another (common practice).
def test_a_booking_of_another_holds_from_its_first_to_its_last_minute():
    kept = BookingFact(id=1, person_id=8, starts_at=NOW, ends_at=NOW + HOUR)
    facts = here(bookings=(kept,))
    (reason,) = decide(facts).reasons
    assert words(reason).sentence == "This is booked for somebody else until 10:00."
    assert codes(then(facts, NOW - timedelta(seconds=1))) == []
    assert codes(then(facts, NOW + HOUR)) == []
    assert codes(here(bookings=(replace(kept, person_id=ADA.id),))) == []
