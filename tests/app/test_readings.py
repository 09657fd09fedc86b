"""A check that is a reading: the number decides, and a mistyped one is taken again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.hazards.models import CheckResult, Outcome
from app.people.models import Role
from tests.app.upkeep import machine_codes, measured
from tests.app.walk import changed, dump


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def technician(shop, visitor, bay):
    person = shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)
    visitor.sign_in(person)
    return person


@pytest.fixture
def flow(shop):
    """A face velocity with a least. The value is the site's own, as its examiner set it."""
    return measured(shop, shop.check())


@pytest.fixture
def saw(shop, bay, flow, technician):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine, checks=[flow])
    return machine


@pytest.fixture
def send(visitor, saw, flow):
    return lambda **form: visitor.post(f"/machines/{saw.id}/checks/{flow.id}", data=form)


def results(database):
    with database.read() as session:
        return session.execute(select(CheckResult).order_by(CheckResult.id)).scalars().all()


def test_a_reading_within_the_range_passes_by_itself_and_is_kept_as_it_was_typed(
    shop, send, saw, database
):
    assert send(reading="0,55 m/s").status_code == 303
    (row,) = results(database)
    assert (row.outcome, row.reading, row.note) == (Outcome.PASSED, "0,55 m/s", "")
    assert machine_codes(shop, saw) == []


def test_a_reading_outside_is_a_failure_that_says_by_how_much(shop, visitor, send, saw, database):
    answer = send(reading="0.42")
    assert answer.status_code == 303
    (row,) = results(database)
    assert row.outcome is Outcome.FAILED
    assert row.note == "0.42 m/s is 0.08 m/s under the least, 0.50 m/s."
    assert "0.08 m/s under the least" in visitor.get(answer.location).text
    assert machine_codes(shop, saw) == ["check-failed"]


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"reading": "0.42", "outcome": "passed"}, "that is a failure"),
        ({"reading": "", "outcome": "passed"}, "This check is a reading in m/s: type it."),
        ({"reading": ""}, "This check is a reading in m/s: type it."),
        ({"reading": "fine"}, "is not a reading in m/s"),
        ({"reading": "0.55 Pa"}, "is not a reading in m/s"),
        ({"reading": "0.55", "outcome": "failed"}, "Say what failed."),
    ],
)
def test_a_number_and_a_word_that_disagree_are_refused(send, database, form, says):
    before = dump(database)
    answer = send(**form)
    assert answer.status_code == 422
    assert says in answer.text
    assert changed(before, dump(database)) == set()


def test_whoever_reads_may_call_it_failed_whatever_the_number_says(shop, send, saw):
    assert send(reading="0.55", outcome="failed", note="The duct rattles").status_code == 303
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_unit_without_ends_asks_for_a_number_and_leaves_the_word_to_the_reader(
    shop, visitor, bay, technician, database
):
    level, drill = measured(shop, shop.check(), low="", unit="dB(A)"), shop.machine(area=bay)
    shop.assess(drill, checks=[level])
    address = f"/machines/{drill.id}/checks/{level.id}"
    assert visitor.post(address, data={"reading": "82"}).status_code == 422
    assert visitor.post(address, data={"outcome": "passed"}).status_code == 422
    assert visitor.post(address, data={"reading": "82", "outcome": "passed"}).status_code == 303


def test_the_page_shows_the_range_the_last_readings_and_a_drawing_of_them(
    shop, visitor, send, saw, flow
):
    address = f"/machines/{saw.id}/checks/{flow.id}"
    send(reading="0.55")
    assert '<svg class="plot"' not in visitor.get(address).text  # one dot says nothing
    shop.clock.at += timedelta(minutes=1)
    send(reading="0.61")
    page = visitor.get(address).text
    assert "passes at least 0.50 m/s" in page
    assert "Before: 0.61; 0.55" in page
    assert "The last 2 readings, the newest last: 0.55, 0.61 m/s." in page
    assert page.count("<circle") == 2


def test_a_hostile_reading_is_shown_as_text(shop, visitor, database, saw, flow):
    shop.do(flow, saw, Outcome.FAILED)
    with database.write() as session:
        row = results(database)[0]
        session.add(
            CheckResult(
                check_id=row.check_id,
                machine_id=row.machine_id,
                outcome=Outcome.FAILED,
                reading="<script>1</script>",
                note="<b>x</b>",
                next_due_on=row.next_due_on,
                recorded_by_id=row.recorded_by_id,
                occurred_at=row.occurred_at + timedelta(seconds=1),
                recorded_at=row.recorded_at,
            )
        )
    page = visitor.get(f"/machines/{saw.id}/checks/{flow.id}").text
    assert "<script>1" not in page
    assert "<b>x</b>" not in page


# --- mistyped ---------------------------------------------------------------------------------


def test_a_mistyped_reading_is_taken_again_at_once_and_both_stay(
    shop, visitor, send, saw, flow, database
):
    answer = send(reading="0.055")
    page = visitor.get(answer.location).text
    assert "Mistyped?" in page
    shop.clock.at += timedelta(minutes=9)
    mistaken = results(database)[0]
    assert send(reading="0.55", retakes=mistaken.id).status_code == 303
    first, second = results(database)
    assert (first.reading, second.reading) == ("0.055", "0.55")
    assert (second.retakes_id, second.outcome) == (first.id, Outcome.PASSED)
    assert machine_codes(shop, saw) == []
    with database.read() as session:
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "hazards:check:passed")
        ).scalar_one()
    assert entry.detail["retakes"] == first.id


def test_after_ten_minutes_it_passes_only_after_named_tests(shop, visitor, send, saw, database):
    send(reading="0.055")
    shop.clock.at += timedelta(minutes=10, seconds=1)
    before = dump(database)
    assert send(reading="0.55", retakes=results(database)[0].id).status_code == 409
    assert changed(before, dump(database)) == set()
    assert machine_codes(shop, saw) == ["check-failed"]


def test_somebody_else_cannot_take_it_again(shop, another, send, saw, flow, bay, database):
    send(reading="0.055")
    another.sign_in(shop.person(roles=[Role.TECHNICIAN], area=bay))
    address = f"/machines/{saw.id}/checks/{flow.id}"
    assert "Mistyped?" not in another.get(address).text
    form = {"reading": "0.55", "retakes": results(database)[0].id}
    assert another.post(address, data=form).status_code == 409
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_reading_is_taken_again_once_and_not_until_it_passes(shop, visitor, send, saw, database):
    send(reading="0.41")
    shop.clock.at += timedelta(minutes=1)
    first = results(database)[0]
    assert send(reading="0.43", retakes=first.id).status_code == 303
    shop.clock.at += timedelta(minutes=1)
    for mistaken in results(database):
        assert send(reading="0.55", retakes=mistaken.id).status_code == 409
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_wrong_second_reading_does_not_undo_the_failure_before_it(shop, send, saw, database):
    send(outcome="failed", note="No draught at all")
    shop.clock.at += timedelta(minutes=1)
    send(reading="0.1")
    shop.clock.at += timedelta(minutes=1)
    assert send(reading="0.55", retakes=results(database)[-1].id).status_code == 409
    assert machine_codes(shop, saw) == ["check-failed"]


def test_a_failure_in_words_is_no_mistyped_reading(shop, visitor, send, saw, flow, database):
    send(reading="0.55", outcome="failed", note="The duct has come apart")
    shop.clock.at += timedelta(minutes=1)
    assert "Mistyped?" not in visitor.get(f"/machines/{saw.id}/checks/{flow.id}").text
    assert send(reading="0.55", retakes=results(database)[0].id).status_code == 409
    assert machine_codes(shop, saw) == ["check-failed"]
