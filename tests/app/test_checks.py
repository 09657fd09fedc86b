"""Checks and holds: what stops a machine for everybody, and what brings it back."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.clearance.decision import worst
from app.errors import Refused
from app.hazards.models import Basis, CheckResult, Outcome, Scope
from app.machines.models import MachineHold
from app.people.models import Role
from tests.app.walk import changed, dump
from tests.factories import NOW


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def technician(shop, visitor, bay):
    person = shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)
    visitor.sign_in(person)
    return person


def send(visitor, machine, check, **form):
    return visitor.post(f"/machines/{machine.id}/checks/{check.id}", data=form)


def machine_reasons(shop, machine, person):
    """Return what stands against the machine, whoever has still to acknowledge."""
    reasons = shop.ask(person or shop.chief, machine).reasons
    return [reason for reason in reasons if reason.code != "acknowledgement-outstanding"]


def codes(shop, machine, person=None):
    return [reason.code for reason in machine_reasons(shop, machine, person)]


def verdict(shop, machine, person=None):
    return worst(machine_reasons(shop, machine, person)).words


def test_a_failed_check_of_a_shared_control_stops_every_machine_that_relies_on_it(
    shop, visitor, bay, technician
):
    shared = shop.check(scope=Scope.CONTROL)
    saw, sander, drill = (shop.machine(area=bay) for _ in range(3))
    shop.assess(saw, checks=[shared])
    shop.assess(sander, checks=[shared])
    shop.assess(drill)
    assert send(visitor, saw, shared, outcome="passed").status_code == 303
    people = (shop.chief, technician, shop.person())
    assert [verdict(shop, m, p) for m in (saw, sander) for p in people] == ["cleared"] * 6
    shop.clock.at += timedelta(minutes=1)
    answer = send(visitor, saw, shared, outcome="failed", note="No draught")
    assert answer.status_code == 303
    page = visitor.get(answer.headers["Location"]).text
    assert "everything that relies on this is out of use for everybody" in page
    assert [verdict(shop, m, p) for m in (saw, sander) for p in people] == ["out of use"] * 6
    assert verdict(shop, drill) == "cleared"
    shop.clock.at += timedelta(minutes=1)
    assert send(visitor, sander, shared, outcome="passed").status_code == 422  # no tests named
    assert [verdict(shop, machine) for machine in (saw, sander)] == ["out of use"] * 2
    send(visitor, sander, shared, outcome="passed", note="Streamer lies flat at each hood")
    assert [verdict(shop, machine) for machine in (saw, sander)] == ["cleared"] * 2


def test_a_failed_check_of_one_unit_stops_that_unit_alone(shop, visitor, bay, technician):
    guard = shop.check(scope=Scope.MACHINE)
    one, twin = shop.machine(area=bay), shop.machine(area=bay)
    shop.assess(one, twin, checks=[guard])
    for machine in (one, twin):
        send(visitor, machine, guard, outcome="passed")
    shop.clock.at += timedelta(minutes=1)
    send(visitor, one, guard, outcome="failed", note="It did not stop")
    assert (verdict(shop, one), verdict(shop, twin)) == ("out of use", "cleared")


def test_a_pass_written_up_late_does_not_hide_a_failure_after_it(shop, bay):
    guard, saw = shop.check(), shop.machine(area=bay)
    shop.assess(saw, checks=[guard])
    shop.clock.at += timedelta(hours=2)
    shop.do(guard, saw, Outcome.FAILED, at=NOW + timedelta(hours=1))
    shop.do(guard, saw, Outcome.PASSED, at=NOW)
    assert codes(shop, saw) == ["check-failed"]


def test_of_two_results_at_one_instant_the_failure_counts(shop, bay):
    guard, saw = shop.check(), shop.machine(area=bay)
    shop.assess(saw, checks=[guard])
    shop.do(guard, saw, Outcome.FAILED)
    shop.do(guard, saw, Outcome.PASSED)
    assert codes(shop, saw) == ["check-failed"]


def test_a_check_from_the_future_is_refused(shop, bay, database):
    guard, saw = shop.check(), shop.machine(area=bay)
    shop.assess(saw, checks=[guard])
    before = dump(database)
    with pytest.raises(Refused, match="in the future"):
        shop.do(guard, saw, at=shop.now + timedelta(seconds=1))
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(
    ("basis", "stops", "code"),
    [
        (Basis.STATUTORY, "out of use", "statutory-examination-overdue"),
        (Basis.MAKER, "not cleared", "check-not-done"),
        (Basis.COMMON_PRACTICE, "not cleared", "check-not-done"),
    ],
)
def test_a_check_that_lapses_stops_as_its_basis_says(shop, bay, basis, stops, code):
    guard, saw = shop.check(basis=basis), shop.machine(area=bay)
    shop.assess(saw, checks=[guard])
    shop.do(guard, saw)
    assert codes(shop, saw) == []
    shop.clock.at += timedelta(days=1)
    assert codes(shop, saw) == [code]
    assert verdict(shop, saw) == stops


@pytest.mark.parametrize(
    ("form", "status"),
    [
        ({"outcome": "failed"}, 422),
        ({"outcome": "failed", "note": "   "}, 422),
        ({"outcome": "perhaps"}, 422),
        ({}, 422),
        ({"outcome": "passed", "reading": "x" * 101}, 422),
        ({"outcome": "passed", "note": "x" * 2001}, 422),
    ],
)
def test_a_result_that_says_too_little_or_too_much_is_refused(
    shop, visitor, database, bay, technician, form, status
):
    guard, saw = shop.check(), shop.machine(area=bay)
    shop.assess(saw, checks=[guard])
    before = dump(database)
    assert send(visitor, saw, guard, **form).status_code == status
    assert changed(before, dump(database)) == set()


def test_a_result_is_kept_with_its_reading_and_who_did_it(shop, visitor, database, bay, technician):
    guard, saw = shop.check(), shop.machine(area=bay)
    shop.assess(saw, checks=[guard])
    send(visitor, saw, guard, outcome="passed", reading=" 0.4 s ", note="")
    with database.read() as session:
        row = session.execute(select(CheckResult)).scalar_one()
    assert (row.reading, row.recorded_by_id, row.machine_id) == ("0.4 s", technician.id, saw.id)
    assert row.next_due_on == NOW.date()
    page = visitor.get(f"/machines/{saw.id}/checks/{guard.id}").text
    assert "reading 0.4 s" in page


def test_a_check_of_another_area_cannot_be_passed_by_way_of_a_machine_of_ones_own(
    shop, visitor, database, bay, technician
):
    shared = shop.check(scope=Scope.CONTROL)
    elsewhere, mine = shop.machine(area=shop.area("Wood bay")), shop.machine(area=bay)
    shop.assess(elsewhere, checks=[shared])
    shop.assess(mine)
    shop.do(shared, elsewhere, Outcome.FAILED)
    before = dump(database)
    for address in (mine, elsewhere):
        answer = send(visitor, address, shared, outcome="passed")
        assert answer.status_code == (404 if address is mine else 403)
    assert changed(before, dump(database)) == set()
    assert verdict(shop, elsewhere) == "out of use"


# --- holds ------------------------------------------------------------------------------------


def test_a_machine_is_taken_out_of_use_for_everybody_and_returned_after_named_tests(
    shop, visitor, database, bay, technician
):
    saw = shop.machine("Panel saw", area=bay)
    shop.assess(saw)
    address = f"/machines/{saw.id}"
    assert visitor.post(f"{address}/out-of-use", data={"why": " "}).status_code == 422
    assert verdict(shop, saw) == "cleared"
    answer = visitor.post(f"{address}/out-of-use", data={"why": "Smoke from the motor"})
    assert answer.status_code == 303
    page = visitor.get(address).text
    assert "This does not cut the power." in page
    assert "Smoke from the motor" in page
    for who in (shop.chief, technician, shop.person()):
        assert verdict(shop, saw, who) == "out of use"
    with database.read() as session:
        hold = session.execute(select(MachineHold)).scalar_one()
    end = f"{address}/holds/{hold.id}/end"
    assert visitor.post(end, data={"tests": ""}).status_code == 422
    assert verdict(shop, saw) == "out of use"
    assert visitor.post(end, data={"tests": "Ran it empty for ten minutes"}).status_code == 303
    assert verdict(shop, saw) == "cleared"
    assert visitor.post(end, data={"tests": "Again"}).status_code == 409


def test_every_hold_must_be_ended_by_itself(shop, visitor, database, bay, technician):
    saw = shop.machine(area=bay)
    shop.assess(saw)
    for why in ("Smoke", "Noise"):
        visitor.post(f"/machines/{saw.id}/out-of-use", data={"why": why})
    with database.read() as session:
        first, second = session.execute(select(MachineHold.id).order_by(MachineHold.id)).scalars()
    visitor.post(f"/machines/{saw.id}/holds/{first}/end", data={"tests": "Ran"})
    assert "Another hold still stands." in visitor.get(f"/machines/{saw.id}").text
    assert verdict(shop, saw) == "out of use"
    visitor.post(f"/machines/{saw.id}/holds/{second}/end", data={"tests": "Ran"})
    assert verdict(shop, saw) == "cleared"


def test_a_hold_is_not_ended_by_way_of_another_machine(shop, visitor, database, bay, technician):
    elsewhere, mine = shop.machine(area=shop.area()), shop.machine(area=bay)
    other = shop.person(roles=[Role.TECHNICIAN])
    visitor.sign_in(other)
    visitor.post(f"/machines/{elsewhere.id}/out-of-use", data={"why": "Smoke"})
    visitor.sign_in(technician)
    with database.read() as session:
        hold = session.execute(select(MachineHold.id)).scalar_one()
    before = dump(database)
    answer = visitor.post(f"/machines/{mine.id}/holds/{hold}/end", data={"tests": "Ran"})
    assert answer.status_code == 404
    assert changed(before, dump(database)) == set()


def test_the_end_of_a_hold_cannot_itself_be_ended(shop, visitor, database, bay, technician):
    saw = shop.machine(area=bay)
    visitor.post(f"/machines/{saw.id}/out-of-use", data={"why": "Smoke"})
    with database.read() as session:
        hold = session.execute(select(MachineHold.id)).scalar_one()
    visitor.post(f"/machines/{saw.id}/holds/{hold}/end", data={"tests": "Ran"})
    answer = visitor.post(f"/machines/{saw.id}/holds/{hold + 1}/end", data={"tests": "Ran"})
    assert answer.status_code == 409
