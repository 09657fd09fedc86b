"""What lapses in a workshop: each change may only make an answer worse."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import assume

from app.clearance.decision import (
    BookingFact,
    CheckFact,
    Conditions,
    ExposureFact,
    InductionFact,
    JobFact,
    MarkFact,
    SuspensionFact,
)
from app.machines.hours import Days
from app.presence.present import Being, Present
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, Result
from tests.unit.clearance.drawing import a_day, an_instant
from tests.unit.clearance.editing import (
    earlier,
    here,
    house,
    in_hours,
    machine,
    one_induction_of,
    one_of,
    person,
    with_records,
)
from tests.unit.clearance.sites import AREA, EQUIPMENT, HOLDS, INDUCTIONS, UNIT


def a_hold(dice, facts):
    return machine(facts, **{dice.choice(HOLDS): True})


def a_failed_check(dice, facts):
    return machine(
        facts, checks=one_of(dice, facts.machine.checks, lambda c: replace(c, failed=True))
    )


def a_check_that_is_due_earlier(dice, facts):
    def sooner(check):
        return check if check.due_on is None else replace(check, due_on=due(check.due_on))

    def due(day):
        return earlier(dice, facts, day)

    return machine(facts, checks=one_of(dice, facts.machine.checks, sooner))


def a_check_more(dice, facts):
    due_on = dice.choice((None, a_day(dice, facts.today)))
    more = CheckFact(id=99, title="one more", statutory=False, failed=False, due_on=due_on)
    return machine(facts, checks=(*facts.machine.checks, more))


def a_material_change(dice, facts):
    def changed(assessment):
        return replace(assessment, number=4, material_number=4)

    return machine(facts, assessments=one_of(dice, facts.machine.assessments, changed))


def a_stricter_run_mode(dice, facts):
    modes = list(RunMode)  # from the strictest

    def stricter(assessment):
        allowed = modes[: modes.index(assessment.run_mode) + 1]
        return replace(assessment, run_mode=dice.choice(allowed))

    return machine(facts, assessments=one_of(dice, facts.machine.assessments, stricter))


def a_new_revision_that_makes_sign_offs_outdated(dice, facts):
    assume(facts.machine.inductions)
    number = dice.choice(sorted(facts.machine.inductions))
    old = facts.machine.inductions[number]
    new = replace(old, counts_from=old.counts_from + dice.randint(1, 3))
    return machine(facts, inductions={**facts.machine.inductions, number: new})


def a_prerequisite_more(dice, facts):
    assume(facts.machine.inductions)
    number = dice.choice(sorted(facts.machine.inductions))
    old = facts.machine.inductions[number]
    more = InductionFact(id=50, title="one more", counts_from=1)
    new = replace(old, requires=(*old.requires, more.id))
    return machine(facts, inductions={**facts.machine.inductions, number: new, more.id: more})


def a_required_induction_more(dice, facts):
    missing = sorted(set(INDUCTIONS) - set(facts.machine.required))
    assume(missing)
    return machine(facts, required=(*facts.machine.required, dice.choice(missing)))


def a_suspension(dice, facts):
    where = SuspensionFact(area_id=dice.choice((None, AREA)), machine_id=dice.choice((None, UNIT)))
    return person(facts, suspensions=(*facts.person.suspensions, where))


def _worse_record(dice, facts, result):
    induction = one_induction_of(dice, facts)
    worse = Record(
        id=99,
        result=result,
        revision_number=3,
        occurred_at=an_instant(dice, facts.now),
        expires_on=None,
    )
    return with_records(facts, induction, (*facts.person.records[induction], worse))


def a_revocation(dice, facts):
    return _worse_record(dice, facts, Result.REVOKED)


def an_attempt_that_was_not_passed(dice, facts):
    return _worse_record(dice, facts, Result.NOT_YET)


def an_expiry_that_is_earlier(dice, facts):
    def shorter(record):
        return replace(record, expires_on=earlier(dice, facts, record.expires_on))

    induction = one_induction_of(dice, facts)
    records = one_of(dice, facts.person.records[induction], shorter)
    return with_records(facts, induction, records)


def an_account_that_ends_earlier(dice, facts):
    return person(facts, ends_on=earlier(dice, facts, facts.person.ends_on))


def an_account_that_starts_later(dice, facts):
    assume(facts.person.starts_on is not None)
    return person(facts, starts_on=max(facts.person.starts_on, a_day(dice, facts.today)))


def an_account_that_was_erased(dice, facts):
    return person(facts, erased=True)


def a_mark(dice, facts):
    where = MarkFact(area_id=dice.choice((None, AREA)), machine_id=dice.choice((None, UNIT)))
    return person(facts, marks=(*facts.person.marks, where))


def a_later_birthday(dice, facts):
    assume(facts.person.adult_on)
    return person(facts, adult_on=facts.person.adult_on + timedelta(days=dice.randint(1, 4000)))


def equipment_that_runs_out_earlier(dice, facts):
    def shorter(issue):
        return replace(issue, expires_on=earlier(dice, facts, issue.expires_on))

    return person(facts, equipment=one_of(dice, facts.person.equipment, shorter))


def an_exposure_more(dice, facts):
    more = ExposureFact(at=facts.now, magnitude=dice.choice((None, 5.0)), trigger_minutes=300)
    return person(facts, exposures=(*facts.person.exposures, more))


def a_loan_to_somebody_else(dice, facts):
    return machine(facts, loaned_to=8)


def more_watched_uses_asked(dice, facts):
    assume(facts.machine.inductions)
    number = dice.choice(sorted(facts.machine.inductions))
    old = facts.machine.inductions[number]
    new = replace(old, supervised_uses=old.supervised_uses + dice.randint(1, 3))
    return machine(facts, inductions={**facts.machine.inductions, number: new})


def stricter_conditions(dice, facts):
    """Each is at least as strict as it was, and as what the site says of disuse."""

    def stricter(assessment):
        old = assessment.conditions or Conditions()
        months = min(facts.machine.disuse_months or 12, dice.choice((1, 12)))
        new = replace(
            old,
            never_alone=old.never_alone or dice.choice((False, True)),
            companions=old.companions + dice.randint(0, 2),
            unstaffed=old.unstaffed and dice.choice((False, True)),
            first_aider=old.first_aider or dice.choice((False, True)),
            minimum_age=max(old.minimum_age or 0, dice.choice((0, 16, 21))),
            supervised_under=max(old.supervised_under or 0, dice.choice((0, 18, 25))),
            disuse_months=months,
            equipment=tuple({*old.equipment, dice.choice((*EQUIPMENT, "Gloves"))}),
        )
        return replace(assessment, conditions=new)

    return machine(facts, assessments=one_of(dice, facts.machine.assessments, stricter))


def a_stricter_house(dice, facts):
    old = facts.machine.house
    return house(
        facts,
        grace_days=old.grace_days // 2,
        review_grace_days=min(old.review_grace_days or 0, dice.randint(0, 30)),
        disuse_months=min(old.disuse_months or 12, dice.randint(1, 12)),
        people_per_supervisor=old.people_per_supervisor // 2,
        red_list=old.red_list | {UNIT},
        action_value_stops=True,
    )


def no_first_aid_induction(dice, facts):
    assume(facts.here)
    return here(facts, first_aid=None)


def a_job_that_runs(dice, facts):
    assume(facts.here)
    return here(facts, jobs=(*facts.here.jobs, JobFact(id=9, what="Overnight print")))


def a_booking_more(dice, facts):
    assume(facts.here)
    end = facts.now + timedelta(hours=1)
    more = BookingFact(id=9, person_id=8, starts_at=facts.now, ends_at=end)
    return here(facts, bookings=(*facts.here.bookings, more))


def somebody_else_at_the_machine(dice, facts):
    assume(facts.here)
    assume(not facts.machine.shared)
    more = Present(
        person_id=8,
        name="Somebody 8",
        being=Being.AT_WORK,
        since=facts.now,
        until=facts.now + timedelta(hours=1),
        machine_id=UNIT,
    )
    return here(facts, present=(*facts.here.present, more))


def less_room(dice, facts):
    assume(facts.here)
    most, watched = facts.here.capacity, facts.here.people_per_supervisor
    default = facts.machine.house.people_per_supervisor
    return here(
        facts,
        capacity=dice.randint(0, 9 if most is None else most),
        people_per_supervisor=dice.randint(0, default if watched is None else watched),
    )


def a_day_off(dice, facts):
    calendar = in_hours(facts)
    days = Days(first_on=facts.today, last_on=a_day(dice, facts.today))
    return here(facts, calendar=replace(calendar, closed=(*calendar.closed, days)))


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
    a_mark,
    a_later_birthday,
    equipment_that_runs_out_earlier,
    an_exposure_more,
    a_loan_to_somebody_else,
    more_watched_uses_asked,
    stricter_conditions,
    a_stricter_house,
    no_first_aid_induction,
    a_job_that_runs,
    a_booking_more,
    somebody_else_at_the_machine,
    less_room,
    a_day_off,
]
