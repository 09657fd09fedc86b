"""Statutory examinations: passed only by their report, which an approver records and signs."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select

from app.hazards.checks import latest_result
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, CheckResult, Outcome
from app.people.models import Role
from tests.app.walk import changed, dump
from tests.factories import NOW, PASSWORD

REPORT = {
    "outcome": "passed",
    "done_on": "2026-02-20",
    "examiner": "Ines Pector, Lantern Surveyors",
    "report": "LS-204",
}


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def extraction(shop):
    """Local exhaust ventilation: at least every 14 months.

    Control of Substances Hazardous to Health Regulations 2002 (Great Britain), regulation
    9(2)(a); the interval is from memory.
    """
    return shop.check(basis=Basis.STATUTORY, every=14, unit=IntervalUnit.MONTH)


@pytest.fixture
def saw(shop, bay, extraction):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine, checks=[extraction])
    return machine


@pytest.fixture
def page(saw, extraction):
    return f"/machines/{saw.id}/checks/{extraction.id}"


@pytest.fixture
def technician(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def approver(shop):
    return shop.person("Opal Approver", roles=[Role.APPROVER])


def results(database):
    with database.read() as session:
        return session.execute(select(CheckResult).order_by(CheckResult.id)).scalars().all()


def codes(shop, machine):
    reasons = shop.ask(shop.chief, machine).reasons
    return [r.code for r in reasons if r.code != "acknowledgement-outstanding"]


def test_a_technician_cannot_pass_an_examination_by_any_way(
    shop, visitor, database, saw, page, technician
):
    visitor.sign_in(technician)
    before = dump(database)
    answer = visitor.post(page, data={"outcome": "passed", "note": "Looks fine"})
    assert answer.status_code == 403
    assert "passes only by its examiner" in answer.text
    answer = visitor.post(f"{page}/examination", data=REPORT)
    assert answer.status_code == 403
    assert "You may not record a statutory examination." in answer.text
    assert changed(before, dump(database)) == set()
    assert codes(shop, saw) == ["statutory-examination-overdue"]


def test_a_technician_may_record_that_it_failed(shop, visitor, saw, page, technician):
    visitor.sign_in(technician)
    assert visitor.post(page, data={"outcome": "failed", "note": "No draught"}).status_code == 303
    assert codes(shop, saw) == ["check-failed"]


def test_the_next_is_due_counted_from_the_day_of_the_examination(
    shop, visitor, database, saw, page, approver
):
    visitor.sign_in(approver)
    answer = visitor.post(f"{page}/examination", data={**REPORT, "note": "Mend the damper"})
    assert answer.status_code == 303
    (row,) = results(database)
    assert row.next_due_on == date(2027, 4, 20)
    assert row.occurred_at == datetime(2026, 2, 20, 12, 0, tzinfo=UTC)
    assert (row.recorded_at, row.recorded_by_id) == (NOW, approver.id)
    said = "Examined by Ines Pector, Lantern Surveyors; report LS-204. Mend the damper"
    assert row.note == said
    assert said in visitor.get(page).text
    assert codes(shop, saw) == []


def test_an_examination_needs_the_password_where_it_was_not_given_just_now(
    shop, visitor, database, page, approver
):
    visitor.sign_in(approver)
    assert 'name="password"' not in visitor.get(page).text
    shop.clock.at += timedelta(minutes=6)
    assert 'name="password"' in visitor.get(page).text
    for wrong in ({}, {"password": "not mine"}):
        answer = visitor.post(f"{page}/examination", data={**REPORT, **wrong})
        assert answer.status_code == 403
        assert "That is not your password. Nothing was recorded." in answer.text
    assert results(database) == []
    answer = visitor.post(f"{page}/examination", data={**REPORT, "password": PASSWORD})
    assert answer.status_code == 303
    assert len(results(database)) == 1


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"done_on": "2026-03-11"}, "in the future"),
        ({"done_on": "9999-12-31"}, "in the future"),
        ({"done_on": "2025-01-09"}, "has run out already"),
        ({"done_on": "0001-01-01"}, "has run out already"),
        ({"done_on": "last week"}, "is not a date"),
        ({"examiner": " "}, "Name the examiner"),
        ({"report": ""}, "Name the examiner and the reference of the report."),
        ({"examiner": "x" * 201}, "too long"),
        ({"report": "x" * 201}, "too long"),
        ({"outcome": "failed"}, "Say what failed."),
        ({"outcome": "perhaps"}, "Choose one"),
    ],
)
def test_a_report_that_says_too_little_or_cannot_be_is_refused(
    visitor, database, page, approver, wrong, words
):
    visitor.sign_in(approver)
    before = dump(database)
    answer = visitor.post(f"{page}/examination", data={**REPORT, **wrong})
    assert answer.status_code == 422
    assert words in answer.text
    assert changed(before, dump(database)) == set()


def test_an_examination_of_the_last_day_that_still_counts_is_taken(visitor, page, approver):
    visitor.sign_in(approver)
    form = {**REPORT, "done_on": "2025-01-10"}  # through 10 March 2026, which is today
    assert visitor.post(f"{page}/examination", data=form).status_code == 303


def test_an_examination_of_today_undoes_a_failure_of_this_morning(
    shop, visitor, database, saw, page, extraction, approver
):
    shop.do(extraction, saw, Outcome.FAILED, at=NOW - timedelta(minutes=5))
    visitor.sign_in(approver)
    form = {**REPORT, "done_on": "2026-03-10"}
    answer = visitor.post(f"{page}/examination", data=form)
    assert "Passed: " in visitor.get(answer.headers["Location"]).text
    assert results(database)[-1].occurred_at == NOW
    assert codes(shop, saw) == []


def test_a_pass_of_a_day_before_the_failure_is_recorded_and_undoes_nothing(
    shop, visitor, saw, page, extraction, approver
):
    shop.do(extraction, saw, Outcome.FAILED)
    visitor.sign_in(approver)
    answer = visitor.post(f"{page}/examination", data=REPORT)
    assert answer.status_code == 303
    assert "still counts: out of use until it passes." in visitor.get(f"/machines/{saw.id}").text
    assert codes(shop, saw) == ["check-failed"]


def test_a_failed_examination_stops_the_machine(shop, visitor, saw, page, approver):
    visitor.sign_in(approver)
    form = {**REPORT, "outcome": "failed", "note": "The duct has come apart"}
    assert visitor.post(f"{page}/examination", data=form).status_code == 303
    assert codes(shop, saw) == ["check-failed"]


def test_an_approver_of_another_area_cannot_record_it(shop, visitor, database, page):
    visitor.sign_in(shop.person(roles=[Role.APPROVER], area=shop.area("Wood bay")))
    before = dump(database)
    answer = visitor.post(f"{page}/examination", data=REPORT)
    assert answer.status_code == 403
    assert "in this area" in answer.text
    assert changed(before, dump(database)) == set()


def test_an_approver_records_no_routine_check(shop, visitor, database, bay, approver):
    guard, drill = shop.check(), shop.machine(area=bay)
    shop.assess(drill, checks=[guard])
    visitor.sign_in(approver)
    before = dump(database)
    address = f"/machines/{drill.id}/checks/{guard.id}"
    form = {**REPORT, "done_on": "2026-03-10"}
    assert visitor.post(f"{address}/examination", data=form).status_code == 409
    assert visitor.post(address, data={"outcome": "passed"}).status_code == 403
    assert changed(before, dump(database)) == set()
    assert "A technician of the area records this check." in visitor.get(address).text


def test_the_page_offers_each_person_what_they_may_record(
    shop, visitor, page, technician, approver
):
    both = shop.person(roles=[Role.TECHNICIAN, Role.APPROVER])
    auditor = shop.person(roles=[Role.AUDITOR])
    offered = {}
    for name, who in (("t", technician), ("a", approver), ("b", both), ("n", auditor)):
        text = visitor.sign_in(who).get(page).text
        assert "recorded by an approver who signs" in text
        assert "A technician of the area may record that it failed." in text
        main = text[text.index("<main") :]
        forms = re.findall(r'<form method="post" action="[^"]*/checks/.*?</form>', main, re.DOTALL)
        offered[name] = [re.findall(r'name="outcome" value="(\w+)"', form) for form in forms]
    assert offered == {
        "t": [["failed"]],
        "a": [["passed", "failed"]],
        "b": [["passed", "failed"], ["failed"]],
        "n": [],
    }


def test_the_page_names_the_failure_of_two_results_at_one_instant(
    shop, visitor, database, saw, page, extraction, technician
):
    shop.do(extraction, saw, Outcome.FAILED)
    shop.do(extraction, saw, Outcome.PASSED)
    with database.read() as session:
        found = latest_result(session, extraction, saw.id)
    assert found is not None
    assert found.outcome is Outcome.FAILED
    assert "<dt>Last</dt><dd>failed," in visitor.sign_in(technician).get(page).text
    assert codes(shop, saw) == ["check-failed"]
