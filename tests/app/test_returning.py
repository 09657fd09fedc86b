"""After a failure a check passes only by the right person, who names the tests and signs."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.errors import Forbidden
from app.hazards.checks import record_check
from app.hazards.models import CheckResult, Outcome
from app.people.models import Role
from tests.app.upkeep import machine_codes
from tests.app.walk import changed, dump
from tests.factories import NOW, PASSWORD, ZONE


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
    shop.do(guard, machine, Outcome.FAILED)
    shop.clock.at += timedelta(minutes=20)
    return machine


@pytest.fixture
def page(saw, guard):
    return f"/machines/{saw.id}/checks/{guard.id}"


def test_whoever_may_not_return_to_use_cannot_pass_it(shop, saw, guard, database):
    before = dump(database)
    refused = pytest.raises(Forbidden, match="only somebody who may return machines to use")
    with refused, database.write() as session:
        record_check(
            session,
            guard,
            machine_id=saw.id,
            outcome=Outcome.PASSED,
            note="Ran ten times",
            actor_id=shop.author.id,
            now=shop.now,
            zone=ZONE,
        )
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("note", ["", "   "])
def test_the_tests_are_named(shop, visitor, page, saw, database, note):
    visitor.sign_in(shop.author)
    before = dump(database)
    answer = visitor.post(page, data={"outcome": "passed", "note": note})
    assert answer.status_code == 422
    assert "name the tests that it passed since" in answer.text
    assert changed(before, dump(database)) == set()


def test_it_passes_with_named_tests_and_the_password(shop, visitor, page, saw, database):
    visitor.sign_in(shop.author)
    shop.clock.at += timedelta(minutes=6)
    form = {"outcome": "passed", "note": "Stopped ten times of ten"}
    assert 'name="password"' in visitor.get(page).text
    assert visitor.post(page, data=form).status_code == 403
    assert machine_codes(shop, saw) == ["check-failed"]
    assert visitor.post(page, data={**form, "password": PASSWORD}).status_code == 303
    assert machine_codes(shop, saw) == []
    with database.read() as session:
        row = session.execute(select(CheckResult).order_by(CheckResult.id.desc())).scalars().first()
    assert (row.note, row.recorded_by_id) == ("Stopped ten times of ten", shop.author.id)


def test_a_routine_check_that_was_not_done_needs_neither(shop, visitor, bay):
    guard, drill = shop.check(), shop.machine(area=bay)
    shop.assess(drill, checks=[guard])
    visitor.sign_in(shop.author)
    shop.clock.at += timedelta(minutes=6)
    answer = visitor.post(f"/machines/{drill.id}/checks/{guard.id}", data={"outcome": "passed"})
    assert answer.status_code == 303
    assert machine_codes(shop, drill) == []


def test_an_approver_returns_to_use_and_does_no_checks(shop, visitor, page, saw):
    visitor.sign_in(shop.person(roles=[Role.APPROVER]))
    answer = visitor.post(page, data={"outcome": "passed", "note": "Looks fine"})
    assert answer.status_code == 403
    assert machine_codes(shop, saw) == ["check-failed"]


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR])
def test_nobody_else_passes_it(shop, visitor, page, saw, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    answer = visitor.post(page, data={"outcome": "passed", "note": "Looks fine"})
    assert answer.status_code == 403
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_pass_of_before_the_failure_needs_no_tests_and_undoes_nothing(
    shop, visitor, page, saw, database
):
    visitor.sign_in(shop.author)
    form = {"outcome": "passed", "done_on": NOW.date().isoformat(), "done_time": "08:30"}
    assert visitor.post(page, data=form).status_code == 303
    assert machine_codes(shop, saw) == ["check-failed"]
    with database.read() as session:
        row = session.execute(select(CheckResult).order_by(CheckResult.id.desc())).scalars().first()
    assert row.occurred_at == NOW.replace(hour=8, minute=30)
    assert row.recorded_at == shop.now


@pytest.mark.parametrize(
    ("done", "says"),
    [
        ({"done_time": "23:59"}, "in the future"),
        ({"done_on": "2026-03-11", "done_time": "08:00"}, "in the future"),
        ({"done_on": "2026-03-01", "done_time": "08:00"}, "more than 7 days ago"),
        ({"done_on": "2026-03-09"}, "Say at what time"),
        ({"done_time": "noon"}, "is not a time of day"),
        ({"done_on": "yesterday", "done_time": "08:00"}, "is not a date"),
        ({"done_time": "8:00Z"}, "is not a time of day"),
    ],
)
def test_a_moment_that_cannot_be_is_refused(shop, visitor, page, saw, database, done, says):
    visitor.sign_in(shop.author)
    before = dump(database)
    answer = visitor.post(page, data={"outcome": "failed", "note": "Worse", **done})
    assert answer.status_code == 422
    assert says in answer.text
    assert changed(before, dump(database)) == set()
