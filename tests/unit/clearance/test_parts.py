"""What the three parts, the overrides and the test runs are to one another, whatever the facts."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.clearance.decision import (
    LIFTABLE,
    MACHINE_PART,
    MOMENT_PART,
    Code,
    Facts,
    Here,
    OverrideFact,
    Verdict,
    decide,
    joined,
    machine_part,
    person_part,
    reasons_of,
    with_two_parts,
    worst,
)
from app.clearance.moment_rules import NOT_OF_COMPETENCE
from app.people.rights import Act
from app.presence.present import Being, Present
from tests.unit.clearance.drawing import many_examples
from tests.unit.clearance.sites import UNIT, sites

MACHINE_CODES = {
    Code.RETIRED,
    Code.ISOLATED,
    Code.OUT_OF_USE,
    Code.SCENE_PRESERVED,
    Code.AREA_CLOSED,
    Code.NO_ASSESSMENT,
    Code.CHECK_FAILED,
    Code.EXAMINATION_OVERDUE,
    Code.CHECK_NOT_DONE,
    Code.REVIEW_OVERDUE,
}
MOMENT_CODES = {
    Code.CLOSED_NOW,
    Code.UNSTAFFED,
    Code.ALONE,
    Code.NO_FIRST_AIDER,
    Code.NO_SUPERVISOR,
    Code.SUPERVISOR_NOT_CLEARED,
    Code.SUPERVISOR_BUSY,
    Code.JOB_RUNNING,
    Code.IN_USE,
    Code.BOOKED,
    Code.AREA_FULL,
}


def overridden(facts: Facts, code: Code, until: timedelta = timedelta(hours=1)) -> Facts:
    """Return the facts with one override and no other."""
    given = OverrideFact(
        id=1, machine_id=UNIT, lifts=code.value, until=facts.now + until, author_id=3
    )
    return replace(facts, person=replace(facts.person, overrides=(given,)))


def bare(facts: Facts) -> Facts:
    return replace(facts, person=replace(facts.person, overrides=()))


# --- the matrix --------------------------------------------------------------------------


@many_examples
@given(sites())
def test_the_matrix_says_what_the_decision_says_of_its_two_parts(facts):
    machine = machine_part(facts.machine, facts.now, facts.zone)
    person = person_part(facts.machine, facts.person, facts.now, facts.zone)
    cell = joined(machine, person)
    alone = decide(replace(facts, here=None))
    assert (cell, worst(cell)) == (alone.reasons, alone.verdict)
    assert not MOMENT_CODES & {reason.code for reason in cell}


@many_examples
@given(sites())
def test_the_moment_only_ever_adds_reasons(facts):
    assume(facts.here)
    without, within = reasons_of(replace(facts, here=None)), reasons_of(facts)
    assert set(without) <= set(within)
    assert {reason.code for reason in set(within) - set(without)} <= MOMENT_CODES
    assert worst(within) >= worst(without)


@many_examples
@given(sites())
def test_where_nobody_may_use_it_the_moment_is_not_asked(facts):
    without = reasons_of(replace(facts, here=None))
    if worst(without) is Verdict.OUT_OF_USE:
        assert reasons_of(replace(facts, here=Here())) == without


@many_examples
@given(sites())
def test_codes_of_the_moment_come_from_its_rules_alone(facts):
    for rule in MACHINE_PART:
        assert {reason.code for reason in rule(facts)} <= MACHINE_CODES
    if facts.here is not None:
        for rule in MOMENT_PART:
            assert {reason.code for reason in rule(facts, facts.here)} <= MOMENT_CODES


# --- overrides ---------------------------------------------------------------------------


@many_examples
@given(facts=sites(signed_in=True), code=st.sampled_from(Code))
def test_an_override_lifts_only_what_its_row_says(facts, code):
    before, after = decide(bare(facts)), decide(overridden(facts, code))
    assert {each.reason.code for each in after.lifted} <= {code}
    still = {reason for reason in before.reasons if reason.code is not code}
    # Where it lets somebody in, their acknowledgement and a supervisor are asked for.
    assert {r.code for r in still - set(after.reasons)} <= {
        Code.NO_SUPERVISOR,
        Code.SUPERVISOR_BUSY,
        Code.SUPERVISOR_NOT_CLEARED,
    }


@many_examples
@given(facts=sites(signed_in=True), code=st.sampled_from(Code))
def test_no_override_lifts_what_puts_a_machine_out_of_use_or_anybody_beyond_supervision(
    facts, code
):
    before, after = decide(bare(facts)), decide(overridden(facts, code))
    if before.verdict is Verdict.OUT_OF_USE:
        assert after.verdict is Verdict.OUT_OF_USE
    for each in after.lifted:
        assert each.reason.verdict is Verdict.NOT_CLEARED
        assert each.reason.code not in MACHINE_CODES
        if each.reason.code not in MOMENT_CODES:
            assert after.verdict >= Verdict.SUPERVISED


@many_examples
@given(facts=sites(signed_in=True), code=st.sampled_from(list(LIFTABLE)))
def test_an_override_names_its_author_and_ends_by_itself(facts, code):
    answer = decide(overridden(facts, code))
    for each in answer.lifted:
        assert (each.author_id, each.until) == (3, facts.now + timedelta(hours=1))
    over = replace(overridden(facts, code, timedelta()), here=None)
    assert decide(over).reasons == decide(replace(bare(facts), here=None)).reasons


@many_examples
@given(facts=sites(signed_in=True), code=st.sampled_from(list(LIFTABLE)))
def test_an_override_of_another_machine_lifts_nothing_here(facts, code):
    elsewhere = overridden(facts, code)
    moved = replace(elsewhere.person.overrides[0], machine_id=UNIT + 1)
    elsewhere = replace(elsewhere, person=replace(elsewhere.person, overrides=(moved,)))
    assert decide(elsewhere).lifted == ()
    assert decide(elsewhere).reasons == decide(bare(facts)).reasons


NEVER_LIFTED = {
    *MACHINE_CODES,
    Code.SUSPENDED,
    Code.SPEAK_TO_TECHNICIAN,
    Code.TOO_YOUNG,
    Code.AGE_NOT_KNOWN,
    Code.EQUIPMENT_MISSING,
    Code.INDUCTION_REVOKED,
    Code.ALONE,
    Code.NO_FIRST_AIDER,
    Code.NO_SUPERVISOR,
    Code.SUPERVISOR_NOT_CLEARED,
    Code.SUPERVISOR_BUSY,
    Code.NOT_SIGNED_IN,
    Code.ACCOUNT_ENDED,
}


@pytest.mark.parametrize("code", sorted(NEVER_LIFTED))
def test_nobody_can_lift_danger_or_what_somebody_else_decided(code):
    assert code not in LIFTABLE


def test_only_a_permit_lifts_hours_and_only_supervision_answers_a_lapsed_induction():
    for code, lift in LIFTABLE.items():
        hours = code in (Code.CLOSED_NOW, Code.UNSTAFFED)
        expected = (Verdict.CLEARED, Act.PERMIT) if hours else (Verdict.SUPERVISED, Act.OVERRIDE)
        assert (lift.becomes, lift.act) == expected


# --- test runs ---------------------------------------------------------------------------


@many_examples
@given(sites(signed_in=True))
def test_a_test_run_lifts_a_hold_and_failed_checks_for_that_person_alone_and_for_a_time(facts):
    until = facts.now + timedelta(hours=1)
    granted = replace(facts, person=replace(facts.person, test_runs={UNIT: until}))
    before = decide(replace(facts, person=replace(facts.person, test_runs={}), here=None))
    during = decide(replace(granted, here=None))
    gone = {reason.code for reason in set(before.reasons) - set(during.reasons)}
    assert gone <= {Code.OUT_OF_USE, Code.CHECK_FAILED}
    if gone:
        assert during.verdict >= Verdict.SUPERVISED
        assert Code.TEST_RUN in {reason.code for reason in during.reasons}
        assert not any(check.failed and check.statutory for check in facts.machine.checks)
        assert not {Code.OUT_OF_USE, Code.CHECK_FAILED} & {r.code for r in during.reasons}
    over = replace(granted, person=replace(granted.person, test_runs={UNIT: facts.now}), here=None)
    assert decide(over).reasons == before.reasons


# --- company -----------------------------------------------------------------------------


@many_examples
@given(facts=sites(signed_in=True), being=st.sampled_from(Being))
def test_nobody_is_their_own_company_supervisor_or_first_aider(facts, being):
    assume(facts.here)
    me = Present(
        person_id=facts.person.id,
        name=facts.person.name,
        being=being,
        since=facts.now,
        until=facts.now + timedelta(hours=1),
        machine_id=UNIT,
    )
    others = {**facts.here.others, facts.person.id: facts.person}
    alone = replace(facts, here=replace(facts.here, others=others))
    beside = replace(alone, here=replace(alone.here, present=(*facts.here.present, me)))
    assert decide(beside).reasons == decide(alone).reasons


@many_examples
@given(facts=sites(signed_in=True), hours=st.integers(1, 48))
def test_whoever_supervises_is_present_cleared_here_and_has_room(facts, hours):
    answer = decide(facts)
    if not answer.supervisors:
        assert (
            facts.here is None
            or answer.verdict is not Verdict.SUPERVISED
            or (Code.TEST_RUN in {reason.code for reason in answer.reasons})
        )
        return
    assert answer.verdict is Verdict.SUPERVISED
    for person_id, _name in answer.supervisors:
        assert person_id != facts.person.id
        theirs = person_part(facts.machine, facts.here.others[person_id], facts.now, facts.zone)
        assert {reason.code for reason in theirs} <= NOT_OF_COMPETENCE
        about = [p for p in facts.here.present if p.person_id == person_id and p.at(facts.now)]
        assert {Being.ON_DUTY, Being.SUPERVISING} & {p.being for p in about}


@many_examples
@given(facts=sites(), other=sites(), hours=st.integers(1, 400))
def test_what_was_worked_out_once_is_used_for_nothing_else(facts, other, hours):
    worked = with_two_parts(facts)
    assert decide(worked).reasons == decide(facts).reasons
    for changed in (
        replace(worked, now=facts.now + timedelta(hours=hours)),
        replace(worked, machine=other.machine),
        replace(worked, person=other.person),
        replace(worked, zone=other.zone),
        replace(worked, here=other.here),
    ):
        assert decide(changed).reasons == decide(replace(changed, worked=None)).reasons
