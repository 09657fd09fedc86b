"""From rows to the answer: what holds just now, in the register itself."""

from __future__ import annotations

from datetime import timedelta

from app.clearance.decision import Code, Verdict
from app.clearance.facts import Beside
from app.machines.models import (
    AreaTerms,
    ClosedDays,
    During,
    OpeningHours,
    Staffing,
    Term,
)
from app.presence.models import (
    Booking,
    Duty,
    UnattendedJob,
    UseExtended,
    UseFinished,
)
from app.risk_assessments.models import Lone
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Result
from tests.app.rows import add, ask, at_work, codes, conditions, end, setting
from tests.factories import NOW

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
asked = codes


def opens(shop, bay, weekday=1, **values):
    usual = {
        "opens": "08:00",
        "closes": "18:00",
        "staffing": Staffing.STAFFED,
        "during": During.ALWAYS,
    }
    return add(shop, OpeningHours, area_id=bay.id, weekday=weekday, **{**usual, **values})


def test_the_hours_of_the_area_are_read_with_terms_and_days_off(shop, bay, saw, ada, revision):
    conditions(shop, revision, unstaffed=False)
    hours = opens(shop, bay)
    assert asked(shop, ada, saw) == []
    assert asked(shop, ada, saw, NOW + 9 * HOUR) == [Code.CLOSED_NOW]
    assert ask(shop, ada, saw).holds_until == NOW + 9 * HOUR
    day_off = add(
        shop,
        ClosedDays,
        area_id=None,
        name="Holiday",
        first_on=NOW.date(),
        last_on=NOW.date(),
    )
    assert asked(shop, ada, saw) == [Code.CLOSED_NOW]
    end(shop, day_off)
    end(shop, hours)
    opens(shop, bay, staffing=Staffing.UNSTAFFED, during=During.IN_TERM)
    assert asked(shop, ada, saw) == [Code.CLOSED_NOW]
    add(shop, Term, name="Spring", first_on=NOW.date(), last_on=NOW.date())
    assert asked(shop, ada, saw) == [Code.UNSTAFFED]


def test_company_comes_with_a_start_is_kept_on_and_ends_with_its_finish(
    shop, saw, drill, ada, hold, revision
):
    conditions(shop, revision, lone=Lone.NEVER, companions=1)
    assert asked(shop, ada, saw) == [Code.ALONE]
    bob = hold()
    use = at_work(shop, bob, drill, until=NOW + HOUR)
    assert asked(shop, ada, saw) == []
    assert asked(shop, ada, saw, NOW + HOUR) == [Code.ALONE]
    add(shop, UseExtended, start_id=use.id, runs_out_at=NOW + 3 * HOUR)
    assert asked(shop, ada, saw, NOW + 2 * HOUR) == []
    add(shop, UseFinished, start_id=use.id)
    assert asked(shop, ada, saw) == [Code.ALONE]


def test_a_partner_who_is_named_is_company_at_once(shop, saw, ada, hold, revision):
    conditions(shop, revision, lone=Lone.NEVER, companions=1)
    bob = hold()
    assert asked(shop, ada, saw, moment=Beside(partner_id=bob.id)) == []
    assert asked(shop, ada, saw, moment=Beside(partner_id=ada.id)) == [Code.ALONE]


def test_company_in_another_area_is_none(shop, saw, ada, hold, revision):
    conditions(shop, revision, lone=Lone.NEVER, companions=1)
    at_work(shop, hold(), shop.machine(), until=NOW + HOUR)
    assert asked(shop, ada, saw) == [Code.ALONE]


def test_a_machine_in_use_is_free_again_when_the_use_is_finished_or_runs_out(shop, saw, ada, hold):
    use = at_work(shop, hold(), saw, until=NOW + HOUR)
    assert asked(shop, ada, saw) == [Code.IN_USE]
    assert asked(shop, ada, saw, NOW + HOUR) == []
    add(shop, UseFinished, start_id=use.id)
    assert asked(shop, ada, saw) == []


def test_a_supervisor_is_on_duty_or_stands_beside_and_is_cleared_here(
    shop, bay, saw, hold, tess, revision
):
    bob = hold(Result.SUPERVISED)
    assert set(asked(shop, bob, saw)) == {Code.INDUCTION_SUPERVISED, Code.NO_SUPERVISOR}
    beside = ask(shop, bob, saw, moment=Beside(supervisor_id=tess.id))
    assert (beside.verdict, beside.supervisors) == (
        Verdict.SUPERVISED,
        ((tess.id, "Tess Turner"),),
    )
    duty = add(shop, Duty, person_id=tess.id, area_id=bay.id, runs_out_at=NOW + HOUR)
    answer = ask(shop, bob, saw)
    assert (answer.verdict, answer.holds_until) == (Verdict.SUPERVISED, NOW + HOUR)
    end(shop, duty)
    other = shop.technician()
    add(shop, Duty, person_id=other.id, area_id=bay.id, runs_out_at=NOW + HOUR)
    assert Code.SUPERVISOR_NOT_CLEARED in asked(shop, bob, saw)


def test_a_supervisor_watches_as_many_as_the_area_or_else_the_site_says(
    shop, bay, saw, drill, hold, tess, revision
):
    setting(shop, "people_per_supervisor", 1)
    bob, cat = hold(Result.SUPERVISED), hold(Result.SUPERVISED)
    at_work(
        shop,
        cat,
        drill,
        until=NOW + HOUR,
        verdict="supervised",
        recorded_by_id=tess.id,
    )
    # Whoever started somebody under supervision stands there and supervises.
    assert Code.SUPERVISOR_BUSY in asked(shop, bob, saw)
    add(shop, AreaTerms, area_id=bay.id, capacity=None, people_per_supervisor=2)
    assert ask(shop, bob, saw).verdict is Verdict.SUPERVISED


def test_a_first_aider_is_somebody_here_who_holds_what_the_site_says(
    shop, saw, drill, ada, hold, revision
):
    conditions(shop, revision, first_aider=True)
    aid = shop.induction("First aid")
    bob = hold()
    at_work(shop, bob, drill, until=NOW + HOUR)
    assert asked(shop, ada, saw) == [Code.NO_FIRST_AIDER]
    setting(shop, "first_aid_induction", aid.id)
    assert asked(shop, ada, saw) == [Code.NO_FIRST_AIDER]
    shop.hold(bob, aid)
    assert asked(shop, ada, saw) == []


def test_bookings_jobs_and_capacity_are_read(shop, bay, saw, drill, ada, hold):
    bob = hold()
    kept = add(
        shop, Booking, machine_id=saw.id, person_id=bob.id, starts_at=NOW, ends_at=NOW + HOUR
    )
    assert asked(shop, ada, saw) == [Code.BOOKED]
    assert asked(shop, bob, saw) == []
    end(shop, kept)
    job = add(
        shop,
        UnattendedJob,
        machine_id=saw.id,
        person_id=bob.id,
        contact_id=bob.id,
        what="Overnight print",
        expected_end_at=NOW + HOUR,
    )
    assert asked(shop, ada, saw, NOW + 5 * HOUR) == [Code.JOB_RUNNING]
    end(shop, job)
    add(shop, AreaTerms, area_id=bay.id, capacity=1, people_per_supervisor=None)
    assert asked(shop, ada, saw) == []
    at_work(shop, bob, drill, until=NOW + HOUR)
    assert asked(shop, ada, saw) == [Code.AREA_FULL]


def test_what_is_not_asked_about_the_moment_says_nothing_of_it(shop, saw, ada, hold):
    at_work(shop, hold(), saw, until=NOW + HOUR)
    assert asked(shop, ada, saw, moment=None) == []


def test_a_use_of_a_time_without_presences_is_none(shop, saw, ada, hold):
    at_work(shop, hold(), saw, until=None)
    assert asked(shop, ada, saw) == []


def test_the_run_mode_asks_for_a_supervisor_at_the_machine(shop, drill, basics, ada):
    revision = shop.assess(drill, inductions=[basics], run_mode=RunMode.SUPERVISED)
    shop.acknowledge(ada, revision)
    assert set(asked(shop, ada, drill)) == {Code.SUPERVISED_USE, Code.NO_SUPERVISOR}
