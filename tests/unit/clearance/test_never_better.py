"""Taking support away, or adding a lapse, never makes the answer better."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.clearance.decision import CheckFact, Facts, InductionFact, SuspensionFact, decide
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, Result, State, standing
from tests.unit.clearance.sites import (
    AREA,
    HOLDS,
    INDUCTIONS,
    UNIT,
    Draw,
    a_day,
    an_instant,
    many_examples,
    sites,
)


def machine(facts: Facts, **changed) -> Facts:
    return replace(facts, machine=replace(facts.machine, **changed))


def person(facts: Facts, **changed) -> Facts:
    return replace(facts, person=replace(facts.person, **changed))


def one_of(draw: Draw, row: tuple, change) -> tuple:
    """Change one element of a row."""
    assume(row)
    number = draw(st.integers(0, len(row) - 1))
    return (*row[:number], change(row[number]), *row[number + 1 :])


def earlier(draw: Draw, facts: Facts, day):
    """Return a day that is not later than the one given; None is for ever."""
    new = a_day(draw, facts.today)
    return new if day is None else min(day, new)


def one_induction_of(draw: Draw, facts: Facts) -> int:
    assume(facts.person.records)
    return draw(st.sampled_from(sorted(facts.person.records)))


def with_records(facts: Facts, induction: int, records: tuple[Record, ...]) -> Facts:
    return person(facts, records={**facts.person.records, induction: records})


def one_less(draw: Draw, known):
    """Take one key of a mapping away."""
    assume(known)
    gone = draw(st.sampled_from(sorted(known)))
    return {key: value for key, value in known.items() if key != gone}


# --- what is taken away ------------------------------------------------------------------


def a_sign_off_that_counts(draw, facts):
    """One that would clear by itself. A later record that says less is not support.

    The latest record decides: a sign-off `with supervision` after one `on their own` takes
    something back, and so does one that has run out, so those are lapses and not support.
    """
    induction = one_induction_of(draw, facts)
    counts_from = getattr(facts.machine.inductions.get(induction), "counts_from", 1)
    records = facts.person.records[induction]
    good = [
        number
        for number, record in enumerate(records)
        if standing([record], counts_from=counts_from, now=facts.now, today=facts.today)
        is State.CURRENT
    ]
    assume(good)
    gone = draw(st.sampled_from(good))
    return with_records(facts, induction, (*records[:gone], *records[gone + 1 :]))


def every_record_of_an_induction(draw, facts):
    return person(facts, records=one_less(draw, facts.person.records))


def an_acknowledgement(draw, facts):
    return person(facts, acknowledged=one_less(draw, facts.person.acknowledged))


def a_briefing(draw, facts):
    return person(facts, briefed=one_less(draw, facts.person.briefed))


def every_pass_of_a_check(draw, facts):
    return machine(
        facts, checks=one_of(draw, facts.machine.checks, lambda c: replace(c, due_on=None))
    )


def the_assessments(draw, facts):
    return machine(facts, assessments=())


def the_publication_of_an_induction(draw, facts):
    """An induction's prerequisites go with it, but nobody can hold what is not published."""
    gone = draw(st.sampled_from(INDUCTIONS))
    assume(gone in facts.machine.required)
    left = {n: i for n, i in facts.machine.inductions.items() if n != gone}
    return machine(facts, inductions=left)


def the_technicians_role(draw, facts):
    return person(facts, technician_of=frozenset())


def the_sign_in(draw, facts):
    return replace(facts, person=None)


TAKEN_AWAY = [
    a_sign_off_that_counts,
    every_record_of_an_induction,
    an_acknowledgement,
    a_briefing,
    every_pass_of_a_check,
    the_assessments,
    the_publication_of_an_induction,
    the_technicians_role,
    the_sign_in,
]

# --- what lapses -------------------------------------------------------------------------


def a_hold(draw, facts):
    return machine(facts, **{draw(st.sampled_from(HOLDS)): True})


def a_failed_check(draw, facts):
    return machine(
        facts, checks=one_of(draw, facts.machine.checks, lambda c: replace(c, failed=True))
    )


def a_check_that_is_due_earlier(draw, facts):
    def sooner(check):
        return check if check.due_on is None else replace(check, due_on=due(check.due_on))

    def due(day):
        return earlier(draw, facts, day)

    return machine(facts, checks=one_of(draw, facts.machine.checks, sooner))


def a_check_more(draw, facts):
    due_on = draw(st.sampled_from((None, a_day(draw, facts.today))))
    more = CheckFact(id=99, title="one more", statutory=False, failed=False, due_on=due_on)
    return machine(facts, checks=(*facts.machine.checks, more))


def a_material_change(draw, facts):
    def changed(assessment):
        return replace(assessment, number=4, material_number=4)

    return machine(facts, assessments=one_of(draw, facts.machine.assessments, changed))


def a_stricter_run_mode(draw, facts):
    modes = list(RunMode)  # from the strictest

    def stricter(assessment):
        allowed = modes[: modes.index(assessment.run_mode) + 1]
        return replace(assessment, run_mode=draw(st.sampled_from(allowed)))

    return machine(facts, assessments=one_of(draw, facts.machine.assessments, stricter))


def a_new_revision_that_makes_sign_offs_outdated(draw, facts):
    assume(facts.machine.inductions)
    number = draw(st.sampled_from(sorted(facts.machine.inductions)))
    old = facts.machine.inductions[number]
    new = replace(old, counts_from=old.counts_from + draw(st.integers(1, 3)))
    return machine(facts, inductions={**facts.machine.inductions, number: new})


def a_prerequisite_more(draw, facts):
    assume(facts.machine.inductions)
    number = draw(st.sampled_from(sorted(facts.machine.inductions)))
    old = facts.machine.inductions[number]
    more = InductionFact(id=50, title="one more", counts_from=1)
    new = replace(old, requires=(*old.requires, more.id))
    return machine(facts, inductions={**facts.machine.inductions, number: new, more.id: more})


def a_required_induction_more(draw, facts):
    missing = sorted(set(INDUCTIONS) - set(facts.machine.required))
    assume(missing)
    return machine(facts, required=(*facts.machine.required, draw(st.sampled_from(missing))))


def a_suspension(draw, facts):
    where = SuspensionFact(
        area_id=draw(st.sampled_from((None, AREA))), machine_id=draw(st.sampled_from((None, UNIT)))
    )
    return person(facts, suspensions=(*facts.person.suspensions, where))


def _worse_record(draw, facts, result):
    induction = one_induction_of(draw, facts)
    worse = Record(
        id=99,
        result=result,
        revision_number=3,
        occurred_at=an_instant(draw, facts.now),
        expires_on=None,
    )
    return with_records(facts, induction, (*facts.person.records[induction], worse))


def a_revocation(draw, facts):
    return _worse_record(draw, facts, Result.REVOKED)


def an_attempt_that_was_not_passed(draw, facts):
    return _worse_record(draw, facts, Result.NOT_YET)


def an_expiry_that_is_earlier(draw, facts):
    def shorter(record):
        return replace(record, expires_on=earlier(draw, facts, record.expires_on))

    induction = one_induction_of(draw, facts)
    records = one_of(draw, facts.person.records[induction], shorter)
    return with_records(facts, induction, records)


def an_account_that_ends_earlier(draw, facts):
    return person(facts, ends_on=earlier(draw, facts, facts.person.ends_on))


def an_account_that_starts_later(draw, facts):
    assume(facts.person.starts_on is not None)
    return person(facts, starts_on=max(facts.person.starts_on, a_day(draw, facts.today)))


def an_account_that_was_erased(draw, facts):
    return person(facts, erased=True)


LAPSES = [
    a_hold,
    a_failed_check,
    a_check_that_is_due_earlier,
    a_check_more,
    a_material_change,
    a_stricter_run_mode,
    a_new_revision_that_makes_sign_offs_outdated,
    a_prerequisite_more,
    a_required_induction_more,
    a_suspension,
    a_revocation,
    an_attempt_that_was_not_passed,
    an_expiry_that_is_earlier,
    an_account_that_ends_earlier,
    an_account_that_starts_later,
    an_account_that_was_erased,
]


def name(change) -> str:
    return change.__name__


@pytest.mark.parametrize("taken", TAKEN_AWAY, ids=name)
@many_examples
@given(facts=sites(signed_in=True), data=st.data())
def test_taking_support_away_never_improves_the_answer(taken, facts, data):
    assert decide(taken(data.draw, facts)).verdict >= decide(facts).verdict


@pytest.mark.parametrize("lapse", LAPSES, ids=name)
@many_examples
@given(facts=sites(signed_in=True), data=st.data())
def test_adding_a_lapse_never_improves_the_answer(lapse, facts, data):
    assert decide(lapse(data.draw, facts)).verdict >= decide(facts).verdict


@many_examples
@given(facts=sites(signed_in=True), data=st.data(), hours=st.integers(0, 72))
def test_several_lapses_together_never_improve_the_answer(facts, data, hours):
    worse = facts
    for lapse in data.draw(st.lists(st.sampled_from((a_hold, a_suspension, a_revocation)))):
        worse = lapse(data.draw, worse)
    then = facts.now + timedelta(hours=hours)
    before, after = replace(facts, now=then), replace(worse, now=then)
    assert decide(after).verdict >= decide(before).verdict
