"""The opening round: what is due, ticked place by place, recorded in one go."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.log import broken_at
from app.audit.models import AuditEntry
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, CheckResult, CheckRound, Outcome, Scope
from app.people.models import Role
from tests.app.upkeep import machine_codes, measured
from tests.app.walk import changed, dump
from tests.factories import NOW

KEY = "key-of-a-round-0001"


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def technician(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def guard(shop):
    return shop.check()


@pytest.fixture
def draught(shop):
    return shop.check(scope=Scope.CONTROL)


@pytest.fixture
def saw(shop, bay):
    return shop.machine("Panel saw", area=bay)


@pytest.fixture
def drill(shop, bay):
    return shop.machine("Drill", area=bay)


@pytest.fixture(autouse=True)
def _covered(shop, saw, drill, guard, draught):
    shop.assess(saw, drill, checks=[guard, draught])


@pytest.fixture
def walk(visitor, bay, technician):
    """Send the round as the page does: with every line that it shows, and what was marked."""
    visitor.sign_in(technician)
    return walker(visitor, bay)


def walker(visitor, bay):
    address = f"/areas/{bay.id}/round"

    def send(**form):
        lines = form.pop("line", None) or shown(visitor.get(address).text)
        return visitor.post(address, data={"key": KEY, "line": lines, **form})

    return send


def shown(page):
    return re.findall(r'name="line" value="([^"]+)"', page)


def results(database):
    with database.read() as session:
        return session.execute(select(CheckResult).order_by(CheckResult.id)).scalars().all()


def rounds(database):
    with database.read() as session:
        return session.execute(select(CheckRound)).scalars().all()


def test_the_page_shows_each_check_of_each_machine_and_a_shared_one_once(
    shop, visitor, bay, technician, saw, drill, guard, draught
):
    page = visitor.sign_in(technician).get(f"/areas/{bay.id}/round").text
    assert sorted(shown(page)) == sorted(
        [f"{guard.id}-{saw.id}", f"{guard.id}-{drill.id}", f"{draught.id}-0"]
    )
    assert "serves Drill, Panel saw" in page
    assert "I have looked at each of these 3 checks" in page
    # Nothing is ticked beforehand: what nobody looked at is not passed.
    assert not re.search(r'type="checkbox"[^>]*checked', page)


def test_one_tick_over_all_of_them_records_a_round_in_which_all_was_well(
    shop, walk, saw, drill, database, technician
):
    assert walk(all="1").status_code == 303
    (walked,) = rounds(database)
    rows = results(database)
    assert [row.outcome for row in rows] == [Outcome.PASSED] * 3
    assert {row.round_id for row in rows} == {walked.id}
    assert {row.recorded_by_id for row in rows} == {technician.id}
    assert machine_codes(shop, saw) == machine_codes(shop, drill) == []
    with database.read() as session:
        (entry,) = session.execute(
            select(AuditEntry).where(AuditEntry.action.like("hazards:%"))
        ).scalars()
        assert entry.detail["results"] == [row.id for row in rows]
        assert broken_at(session) is None


def test_what_carries_no_tick_is_not_recorded_and_stays_due(
    shop, visitor, walk, saw, drill, database
):
    answer = walk(**{f"seen-m{saw.id}": "1"})
    assert [row.machine_id for row in results(database)] == [saw.id]
    assert "Still due here: 2." in visitor.get(answer.location).text
    assert machine_codes(shop, drill) == ["check-not-done", "check-not-done"]


def test_a_round_in_which_nothing_was_ticked_is_refused(walk, database):
    before = dump(database)
    answer = walk()
    assert answer.status_code == 422
    assert "Nothing was marked as looked at" in answer.text
    assert changed(before, dump(database)) == set()


def test_exceptions_are_marked_in_words_and_the_rest_passes(
    shop, visitor, walk, saw, drill, guard, draught, database
):
    answer = walk(
        all="1",
        **{
            f"mark-{guard.id}-{saw.id}": "failed",
            f"words-{guard.id}-{saw.id}": "It did not stop",
            f"mark-{draught.id}-0": "left",
        },
    )
    assert answer.status_code == 303
    by_unit = {(row.check_id, row.machine_id): row for row in results(database)}
    assert by_unit[guard.id, saw.id].outcome is Outcome.FAILED
    assert by_unit[guard.id, saw.id].note == "It did not stop"
    assert by_unit[guard.id, drill.id].outcome is Outcome.PASSED
    assert (draught.id, None) not in by_unit
    assert machine_codes(shop, saw)[0] == "check-failed"
    page = visitor.get(answer.location).text
    assert "Failed. Whatever relies on it is out of use for everybody." in page
    assert "It did not stop" in page


def test_an_exception_counts_without_any_tick(walk, saw, guard, database):
    unit = f"{guard.id}-{saw.id}"
    assert walk(**{f"mark-{unit}": "failed", f"words-{unit}": "Gap"}).status_code == 303
    assert [row.outcome for row in results(database)] == [Outcome.FAILED]


def test_a_failure_without_words_shows_the_page_again_as_it_was_filled_in(
    walk, saw, guard, database
):
    before = dump(database)
    unit = f"{guard.id}-{saw.id}"
    answer = walk(all="1", note="<b>cold</b>", **{f"mark-{unit}": "failed"})
    assert answer.status_code == 422
    assert "Say what failed." in answer.text
    assert "Nothing was recorded yet." in answer.text
    assert re.search(r'name="all" value="1" checked', answer.text)
    assert re.search(rf'name="mark-{unit}" value="failed" checked', answer.text)
    assert "&lt;b&gt;cold&lt;/b&gt;" in answer.text
    assert changed(before, dump(database)) == set()


def test_readings_decide_for_themselves_and_are_asked_for(shop, walk, saw, draught, database):
    measured(shop, draught)
    answer = walk(all="1")
    assert answer.status_code == 422
    assert "This check is a reading in m/s: type it." in answer.text
    assert walk(all="1", **{f"reading-{draught.id}-0": "0,4"}).status_code == 303
    row = next(row for row in results(database) if row.check_id == draught.id)
    assert (row.outcome, row.reading) == (Outcome.FAILED, "0,4")
    assert "0.10 m/s under the least" in row.note
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_reading_that_was_typed_was_taken_though_no_tick_was_set(shop, walk, draught, database):
    measured(shop, draught)
    walk(**{f"reading-{draught.id}-0": "0.6"})
    assert [(row.check_id, row.outcome) for row in results(database)] == [
        (draught.id, Outcome.PASSED)
    ]


def test_the_last_readings_stand_beside_the_field(shop, visitor, walk, bay, draught):
    measured(shop, draught)
    for value in ("0.61", "0.58"):
        walk(**{"key": f"key-of-a-round-{value}", f"reading-{draught.id}-0": value})
        shop.clock.at += timedelta(days=1)
    page = visitor.get(f"/areas/{bay.id}/round").text
    assert "Before: 0.58; 0.61" in page
    assert "Passes at least 0.50 m/s" in page


# --- twice, and by two people ------------------------------------------------------------------


def test_a_round_that_is_sent_twice_is_recorded_once(visitor, walk, bay, database):
    lines = shown(visitor.get(f"/areas/{bay.id}/round").text)
    walk(all="1", line=lines)
    before = dump(database)
    answer = walk(all="1", line=lines)
    assert answer.status_code == 303
    assert "recorded already: once" in visitor.get(answer.location).text
    assert changed(before, dump(database)) == set()
    assert len(rounds(database)) == 1


@pytest.mark.parametrize("key", ["", "short", "x" * 65])
def test_a_round_without_the_key_of_its_form_is_refused(walk, database, key):
    before = dump(database)
    assert walk(all="1", key=key).status_code in (400, 422)
    assert changed(before, dump(database)) == set()


def test_of_two_people_who_finish_the_same_round_the_second_is_told(
    shop, visitor, another, walk, bay, saw, guard, database
):
    second = walker(another.sign_in(shop.author), bay)
    lines = shown(another.get(f"/areas/{bay.id}/round").text)
    walk(all="1")
    shop.clock.at += timedelta(minutes=1)
    answer = second(all="1", line=lines, key="key-of-another-round")
    page = another.get(answer.location).text
    assert len(results(database)) == 3
    assert page.count("Recorded meanwhile, and left as it is.") == 3
    assert "passed, by Tess Turner" in page


def test_the_second_does_not_pass_over_the_failure_of_the_first(
    shop, another, walk, bay, saw, guard, database
):
    second = walker(another.sign_in(shop.author), bay)
    lines = shown(another.get(f"/areas/{bay.id}/round").text)
    unit = f"{guard.id}-{saw.id}"
    walk(all="1", **{f"mark-{unit}": "failed", f"words-{unit}": "It did not stop"})
    shop.clock.at += timedelta(minutes=1)
    answer = second(all="1", line=lines, key="key-of-another-round")
    assert "failed, by Tess Turner" in another.get(answer.location).text
    assert machine_codes(shop, saw) == ["check-failed"]


def test_the_failure_that_the_second_found_is_taken_down_all_the_same(
    shop, another, walk, bay, saw, guard, database
):
    second = walker(another.sign_in(shop.author), bay)
    lines = shown(another.get(f"/areas/{bay.id}/round").text)
    walk(all="1")
    shop.clock.at += timedelta(minutes=1)
    unit = f"{guard.id}-{saw.id}"
    marked = {f"mark-{unit}": "failed", f"words-{unit}": "It did not stop"}
    second(all="1", line=lines, key="key-of-another-round", **marked)
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_check_that_was_not_on_the_page_is_not_passed_by_its_tick(
    shop, visitor, walk, bay, saw, database
):
    lines = shown(visitor.get(f"/areas/{bay.id}/round").text)
    late = shop.check()
    shop.assess(saw, checks=[late])
    walk(all="1", line=lines)
    assert late.id not in {row.check_id for row in results(database)}


# --- what belongs to a round -------------------------------------------------------------------


def test_what_was_done_today_is_not_asked_for_again_today(visitor, walk, bay):
    walk(all="1")
    page = visitor.get(f"/areas/{bay.id}/round").text
    assert shown(page) == []
    assert "Nothing more is due here today." in page


def test_a_weekly_check_comes_on_its_last_day_and_not_before(shop, visitor, technician, bay):
    weekly = shop.check(every=1, unit=IntervalUnit.WEEK)
    bench = shop.machine("Bench", area=bay)
    shop.assess(bench, checks=[weekly])
    shop.do(weekly, bench)
    visitor.sign_in(technician)
    seen = []
    for _ in range(9):
        page = visitor.get(f"/areas/{bay.id}/round").text
        seen.append(f"{weekly.id}-{bench.id}" in shown(page))
        shop.clock.at += timedelta(days=1)
    assert seen == [False] * 7 + [True] * 2  # good through the seventh day after it


def test_failed_checks_examinations_and_those_before_each_use_are_no_part_of_it(
    shop, visitor, technician, bay, saw, guard
):
    used = shop.check(unit=IntervalUnit.USE)
    examined = shop.check(basis=Basis.STATUTORY, every=14, unit=IntervalUnit.MONTH)
    shop.assess(saw, checks=[used, examined])
    shop.do(guard, saw, Outcome.FAILED)
    page = visitor.sign_in(technician).get(f"/areas/{bay.id}/round").text
    for check in (used, examined, guard):
        assert f"{check.id}-{saw.id}" not in shown(page)
    assert f"Failed: {guard.title}, Panel saw." in page
    assert "A round cannot pass it." in page


def test_a_round_that_was_walked_earlier_says_when(shop, walk, database, saw):
    walk(all="1", done_time="07:45")
    (walked,) = rounds(database)
    assert walked.occurred_at == NOW.replace(hour=7, minute=45)
    assert walked.recorded_at == NOW
    assert {row.occurred_at for row in results(database)} == {walked.occurred_at}
    assert machine_codes(shop, saw) == []


def test_a_round_of_yesterday_brings_no_check_of_today(shop, visitor, walk, saw, database):
    yesterday = (NOW - timedelta(days=1)).date().isoformat()
    answer = walk(all="1", done_on=yesterday, done_time="17:00")
    assert len(results(database)) == 3
    assert machine_codes(shop, saw) == ["check-not-done", "check-not-done"]
    assert "Still due here: 3." in visitor.get(answer.location).text


def test_a_round_of_the_future_is_refused(walk, database):
    before = dump(database)
    answer = walk(all="1", done_time="23:00")
    assert answer.status_code == 422
    assert "in the future" in answer.text
    assert changed(before, dump(database)) == set()


def test_a_round_is_walked_by_who_may_check_in_that_area(shop, visitor, database, bay):
    elsewhere = shop.area("Wood bay")
    for person in (
        shop.person(roles=[Role.TECHNICIAN], area=elsewhere),
        shop.person(roles=[Role.APPROVER]),
        shop.person(roles=[Role.AUDITOR]),
        shop.person(),
    ):
        visitor.sign_in(person)
        before = dump(database)
        assert visitor.get(f"/areas/{bay.id}/round").status_code == 403
        answer = visitor.post(f"/areas/{bay.id}/round", data={"key": KEY, "all": "1"})
        assert answer.status_code == 403
        assert changed(before, dump(database)) == set()


def test_there_is_no_round_of_an_area_that_is_not_there(shop, visitor):
    visitor.sign_in(shop.author)
    assert visitor.get("/areas/999/round").status_code == 404
