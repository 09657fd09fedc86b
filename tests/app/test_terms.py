"""The interval and range of a check: who sets it, what is offered, and when it holds."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from sqlalchemy import select

from app.hazards.checks import terms_of
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, CheckTerms, Scope
from app.people.models import Role
from tests.app.upkeep import machine_codes
from tests.app.walk import changed, dump
from tests.factories import NOW

FORM = {
    "interval": "1-week",
    "basis": "common practice",
    "basis_source": "",
    "done_by": "A technician",
    "passes_when": "It stops",
}
LAW = {"basis": "statutory", "basis_source": "Some law, section 1"}


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def guard(shop):
    return shop.check()


@pytest.fixture
def saw(shop, bay, guard):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine, checks=[guard])
    return machine


@pytest.fixture
def technician(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def send(visitor, saw, guard):
    return lambda **form: visitor.post(f"/checks/{guard.id}/terms", data={**FORM, **form})


def newest(database, check):
    with database.read() as session:
        return terms_of(session, check.id)


@pytest.mark.parametrize(
    ("chosen", "every", "unit"),
    [
        ({"interval": "1-use"}, 1, IntervalUnit.USE),
        ({"interval": "1-day"}, 1, IntervalUnit.DAY),
        ({"interval": "1-week"}, 1, IntervalUnit.WEEK),
        ({"interval": "1-month"}, 1, IntervalUnit.MONTH),
        ({"interval": "3-month"}, 3, IntervalUnit.MONTH),
        ({"interval": "6-month"}, 6, IntervalUnit.MONTH),
        ({"interval": "12-month"}, 12, IntervalUnit.MONTH),
        ({"interval": "14-month"}, 14, IntervalUnit.MONTH),
        ({"interval": "other", "every": "26", "unit": "month"}, 26, IntervalUnit.MONTH),
        ({"interval": "other", "every": "2", "unit": "week"}, 2, IntervalUnit.WEEK),
    ],
)
def test_an_interval_is_chosen_and_history_is_kept(
    visitor, send, technician, database, guard, chosen, every, unit
):
    visitor.sign_in(technician)
    assert send(**chosen).status_code == 303
    row = newest(database, guard)
    assert (row.every, row.unit, row.recorded_by_id) == (every, unit, technician.id)
    with database.read() as session:
        assert len(session.execute(select(CheckTerms)).scalars().all()) == 2


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"interval": "2-month"}, "Choose an interval."),
        ({"interval": ""}, "Choose an interval."),
        ({"interval": "other", "every": "0", "unit": "day"}, "from 1 to 120"),
        ({"interval": "other", "every": "121", "unit": "day"}, "from 1 to 120"),
        ({"interval": "other", "every": "", "unit": "day"}, "from 1 to 120"),
        ({"interval": "other", "every": "2", "unit": "use"}, "every one of them"),
        ({"interval": "other", "every": "two", "unit": "day"}, "is not a whole number"),
        ({"interval": "other", "every": "2", "unit": "year"}, "Choose one"),
        ({"basis": "maker"}, "Name the law, the standard or the manual"),
        ({"basis": "habit"}, "Choose one"),
        ({"done_by": ""}, "Say who does it."),
        ({"passes_when": ""}, "Say what passes."),
        ({"low": "0.5"}, "Name the unit"),
        ({"measure": "m/s", "low": "high"}, "is not a reading in m/s"),
        ({"measure": "m/s", "low": "2", "high": "1"}, "the least is over the most"),
        ({"measure": "x" * 21}, "too long"),
    ],
)
def test_terms_that_cannot_be_are_refused(visitor, send, technician, database, wrong, says):
    visitor.sign_in(technician)
    before = dump(database)
    answer = send(**wrong)
    assert answer.status_code == 422
    assert says in answer.text
    assert changed(before, dump(database)) == set()


def test_a_statutory_interval_is_an_approvers(shop, visitor, send, technician, database, guard):
    visitor.sign_in(technician)
    before = dump(database)
    assert send(**LAW, interval="14-month").status_code == 403
    assert changed(before, dump(database)) == set()
    visitor.sign_in(shop.person(roles=[Role.APPROVER]))
    assert send(**LAW, interval="14-month").status_code == 403  # the routine one is not theirs
    visitor.sign_in(shop.person(roles=[Role.APPROVER, Role.TECHNICIAN]))
    assert send(**LAW, interval="1-use").status_code == 422
    assert send(**LAW, interval="14-month").status_code == 303
    assert newest(database, guard).basis is Basis.STATUTORY
    # What the law asks for is no longer a technician's to make routine again.
    visitor.sign_in(technician)
    assert send(interval="14-month").status_code == 403
    assert newest(database, guard).basis is Basis.STATUTORY


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR])
def test_nobody_else_sets_terms(shop, visitor, send, database, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert send().status_code == 403
    assert changed(before, dump(database)) == set()


def test_of_a_shared_control_the_right_is_asked_wherever_something_stops_with_it(
    shop, visitor, technician, bay, database
):
    shared = shop.check(scope=Scope.CONTROL)
    here, there = shop.machine(area=bay), shop.machine(area=shop.area("Wood bay"))
    shop.assess(here, there, checks=[shared])
    visitor.sign_in(technician)
    before = dump(database)
    answer = visitor.post(f"/checks/{shared.id}/terms", data=FORM)
    assert answer.status_code == 403
    assert "in every area that relies on this check" in answer.text
    assert changed(before, dump(database)) == set()
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    assert visitor.post(f"/checks/{shared.id}/terms", data=FORM).status_code == 303


def test_a_shorter_interval_holds_at_once_and_a_longer_one_from_the_next_time_on(
    shop, visitor, send, technician, saw, guard
):
    visitor.sign_in(technician)
    send(interval="1-month")
    shop.do(guard, saw)
    shop.clock.at += timedelta(days=10)
    assert machine_codes(shop, saw) == []
    visitor.sign_in(technician)
    answer = send(interval="1-week")
    page = visitor.get(answer.location).text
    assert "Counted from when it was last done, it has lapsed: Panel saw." in page
    assert machine_codes(shop, saw) == ["check-not-done"]
    shop.clock.at += timedelta(minutes=1)
    visitor.sign_in(technician)
    send(interval="1-month")  # what was told when it was done still holds, and no more
    assert machine_codes(shop, saw) == []
    shop.clock.at = NOW + timedelta(days=25)
    visitor.sign_in(technician)
    send(interval="12-month")
    assert machine_codes(shop, saw) == []
    shop.clock.at = NOW + timedelta(days=32)
    assert machine_codes(shop, saw) == ["check-not-done"]


def test_before_each_use_lapses_by_no_date_but_a_failure_stops(
    shop, visitor, send, technician, saw, guard
):
    visitor.sign_in(technician)
    send(interval="1-use")
    shop.do(guard, saw)
    shop.clock.at += timedelta(days=400)
    assert machine_codes(shop, saw) == []
    visitor.sign_in(technician)
    form = {"outcome": "failed", "note": "Cracked"}
    visitor.post(f"/machines/{saw.id}/checks/{guard.id}", data=form)
    assert machine_codes(shop, saw) == ["check-failed"]


# --- extraction --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("offer", "months", "says"),
    [
        # Control of Substances Hazardous to Health Regulations 2002 (Great Britain):
        # regulation 9(2)(a), at least once every 14 months; Schedule 4, column 2: 6 months for
        # metal articles dry-ground, abraded or polished by power for more than 12 hours in any
        # week, 1 month for blasting in the cleaning of metal castings.
        ("extraction-14", 14, "regulation 9(2)(a)"),
        ("extraction-6", 6, "Schedule 4"),
        ("extraction-1", 1, "Schedule 4"),
    ],
)
def test_the_law_of_extraction_is_offered_with_its_source_and_changes_nothing_by_itself(
    shop, visitor, saw, guard, database, offer, months, says
):
    visitor.sign_in(shop.person(roles=[Role.APPROVER, Role.TECHNICIAN]))
    before = dump(database)
    page = visitor.get(f"/checks/{guard.id}/terms?offer={offer}").text
    assert changed(before, dump(database)) == set()
    assert f'value="{months}-month" selected' in page
    assert 'value="statutory" selected' in page
    assert says in page
    assert "more than twelve hours in any week" in page
    assert "Elsewhere other law decides" in page


def test_an_offer_that_is_none_is_ignored(shop, visitor, saw, guard):
    visitor.sign_in(shop.author)
    assert 'value="1-day" selected' in visitor.get(f"/checks/{guard.id}/terms?offer=x").text


@pytest.mark.parametrize("months", [6, 14])
def test_an_examination_runs_out_on_the_day_that_dateutil_gives(shop, visitor, bay, months):
    check = shop.check(basis=Basis.STATUTORY, every=months, unit=IntervalUnit.MONTH)
    fan = shop.machine(area=bay)
    shop.assess(fan, checks=[check])
    shop.do(check, fan)
    due: date = NOW.date() + relativedelta(months=+months)
    shop.clock.at = datetime.combine(due, NOW.timetz())
    assert machine_codes(shop, fan) == []
    shop.clock.at += timedelta(days=1)
    assert machine_codes(shop, fan) == ["statutory-examination-overdue"]


def test_there_are_no_terms_of_a_check_that_is_not_there(shop, visitor):
    visitor.sign_in(shop.author)
    assert visitor.get("/checks/999/terms").status_code == 404
    assert visitor.post("/checks/999/terms", data=FORM).status_code == 404
