"""The start: the one thing of a scan that is written down."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.clearance.decision import RULES
from app.machines.holds import take_out
from app.machines.models import Machine
from app.people.models import Person
from app.people.rights import Role
from app.presence.models import Start
from app.training.standing import Result
from app.training.suspension import suspend
from tests.app.walk import KEY, changed, dump


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def revision(shop, saw, basics):
    return shop.assess(saw, inductions=[basics])


@pytest.fixture
def technician(shop, saw):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN])


@pytest.fixture
def hold(shop, basics, revision):
    """Give somebody a standing and their own word."""

    def give(result=Result.ALONE):
        person = shop.person("Ada Quill")
        shop.hold(person, basics, result)
        shop.acknowledge(person, revision)
        return person

    return give


def rows(database):
    with database.read() as session:
        return list(session.execute(select(Start).order_by(Start.id)).scalars())


def start(shop, visitor, machine, person, key=KEY, **more):
    form = {"person_id": person.id, "key": key, "material": "none", **more}
    return visitor.post(f"/m/{shop.code(machine)}/start", data=form)


def assert_refused(shop, visitor, database, machine, person, words):
    before = dump(database)
    answer = start(shop, visitor, machine, person)
    assert answer.status_code == 403
    assert words in answer.text
    assert changed(before, dump(database)) == set()


def test_a_cleared_person_starts_and_the_answer_is_kept(shop, visitor, database, saw, hold):
    ada = hold()
    visitor.sign_in(ada)
    assert "I start now" in visitor.get(f"/m/{shop.code(saw)}").text
    assert start(shop, visitor, saw, ada).status_code == 303
    (row,) = rows(database)
    assert (row.machine_id, row.person_id, row.recorded_by_id) == (saw.id, ada.id, ada.id)
    assert (row.verdict, row.reasons, row.rules) == ("cleared", [], RULES)
    with database.read() as session:
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "scan:start:record")
        ).scalar_one()
    assert entry.actor_id == ada.id


def test_two_taps_are_one_start(shop, visitor, database, saw, hold):
    ada = hold()
    visitor.sign_in(ada)
    assert [start(shop, visitor, saw, ada).status_code for _ in range(2)] == [303, 303]
    assert len(rows(database)) == 1


def test_each_use_that_was_finished_is_followed_by_a_start_of_its_own(
    shop, visitor, database, saw, hold
):
    ada = hold()
    visitor.sign_in(ada)
    start(shop, visitor, saw, ada, key="the-first-form-0001")
    refused = start(shop, visitor, saw, ada, key="the-second-form-002")
    assert refused.status_code == 409
    assert "not finished" in refused.text
    assert visitor.post(f"/uses/{rows(database)[0].id}/finish").status_code == 303
    assert start(shop, visitor, saw, ada, key="the-second-form-002").status_code == 303
    assert len(rows(database)) == 2


@pytest.mark.parametrize("key", ["", "short", " " * 20])
def test_a_form_without_a_key_starts_nothing(shop, visitor, database, saw, hold, key):
    ada = hold()
    visitor.sign_in(ada)
    assert start(shop, visitor, saw, ada, key=key).status_code == 400
    assert rows(database) == []


def test_the_form_of_another_start_starts_nothing(
    shop, visitor, another, database, saw, hold, basics
):
    ada, bob, drill = hold(), hold(), shop.machine("Drill")
    shop.acknowledge(ada, shop.assess(drill, inductions=[basics]))
    start(shop, visitor.sign_in(ada), saw, ada)
    assert start(shop, another.sign_in(bob), saw, bob).status_code == 403
    assert start(shop, visitor, drill, ada).status_code == 403
    assert len(rows(database)) == 1


def test_who_is_not_cleared_starts_nothing_and_is_told_why(shop, visitor, database, saw, revision):
    bob = shop.person("Bob Reed")
    visitor.sign_in(bob)
    assert "I start now" not in visitor.get(f"/m/{shop.code(saw)}").text
    assert_refused(shop, visitor, database, saw, bob, "Nothing was recorded.")
    assert "Basics" in start(shop, visitor, saw, bob).text


def test_nobody_starts_a_machine_that_is_out_of_use(
    shop, visitor, another, database, saw, hold, technician
):
    ada = hold()
    another.sign_in(technician)
    another.post(f"/machines/{saw.id}/out-of-use", data={"why": "Smoke"})
    assert_refused(shop, visitor.sign_in(ada), database, saw, ada, "Not started.")
    assert_refused(shop, another, database, saw, ada, "Not started.")


def test_nobody_starts_what_has_no_assessment(shop, visitor, database, saw, technician):
    visitor.sign_in(technician)
    assert_refused(shop, visitor, database, saw, technician, "Not started.")


def test_who_needs_a_supervisor_starts_only_through_a_technician(
    shop, visitor, another, database, saw, basics, hold, revision, technician
):
    ada = hold(Result.SUPERVISED)
    visitor.sign_in(ada)
    assert_refused(shop, visitor, database, saw, ada, "none is on duty here")
    another.sign_in(technician)
    # The technician is not cleared on this machine yet, and no supervisor here.
    assert_refused(shop, another, database, saw, ada, "nobody on duty here is cleared on this")
    shop.hold(technician, basics)
    shop.acknowledge(technician, revision)
    page = another.get(f"/m/{shop.code(saw)}/people/{ada.id}").text
    assert "Start Ada Quill now" in page
    assert start(shop, another, saw, ada).status_code == 303
    (row,) = rows(database)
    assert (row.verdict, row.person_id, row.recorded_by_id) == (
        "supervised",
        ada.id,
        technician.id,
    )
    assert row.supervisor_id == technician.id


def test_a_technician_who_needs_a_supervisor_does_not_start_themself(
    shop, visitor, database, saw, basics, revision, technician
):
    shop.hold(technician, basics, Result.SUPERVISED)
    shop.acknowledge(technician, revision)
    visitor.sign_in(technician)
    assert_refused(shop, visitor, database, saw, technician, "none is on duty here")


def test_a_person_starts_nobody_else(shop, visitor, database, saw, hold):
    ada, bob = hold(), hold()
    visitor.sign_in(ada)
    assert_refused(shop, visitor, database, saw, bob, "You may not start somebody else")


def test_a_technician_of_another_area_starts_nobody(shop, visitor, database, saw, hold):
    ada = hold()
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN], area=shop.area()))
    assert_refused(shop, visitor, database, saw, ada, "in this area")


def test_nobody_starts_who_is_unknown_erased_or_gone(
    shop, visitor, database, saw, hold, technician
):
    erased, gone = hold(), shop.person(ends_on=shop.now.date().replace(day=9))
    with database.write() as session:
        session.get_one(Person, erased.id).erased_at = shop.now
    visitor.sign_in(technician)
    for person in (erased, gone):
        assert start(shop, visitor, saw, person).status_code == 403
    form = {"person_id": 999999, "key": KEY}
    assert visitor.post(f"/m/{shop.code(saw)}/start", data=form).status_code == 404
    assert rows(database) == []


def test_a_suspended_person_starts_nothing(shop, visitor, another, database, saw, hold, technician):
    ada = hold()
    another.sign_in(technician)
    another.post(f"/people/{ada.id}/suspend", data={"reason": "Asked to wait"})
    visitor.sign_in(ada)
    assert_refused(shop, visitor, database, saw, ada, "You may not use this at present.")
    page = visitor.get(f"/m/{shop.code(saw)}").text
    assert "Asked to wait" not in page


def test_a_suspended_technician_starts_nobody_and_returns_nothing(
    shop, visitor, database, saw, hold, technician
):
    ada = hold(Result.ALONE)
    with database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.chief),
            person_id=technician.id,
            reason="Under review.",
            now=shop.now,
        )
    visitor.sign_in(technician)
    assert start(shop, visitor, saw, ada).status_code == 403
    assert visitor.get(f"/machines/{saw.id}").status_code == 403


def test_nothing_is_confirmed_while_the_clock_is_behind_the_log(shop, visitor, clock, saw, hold):
    visitor.sign_in(hold(Result.ALONE))
    clock.at -= timedelta(minutes=5)
    page = visitor.get(f"/m/{shop.code(saw)}")
    assert page.status_code == 503
    assert "clock of this server is behind its own records" in page.text


def test_a_start_is_decided_when_the_lock_is_held_and_not_when_it_was_asked_for(
    shop, visitor, clock, saw, hold, monkeypatch
):
    ada = hold(Result.ALONE)
    visitor.sign_in(ada)
    waited = clock.at + timedelta(seconds=2)
    with shop.database.write() as session:
        take_out(
            session,
            session.get_one(Machine, saw.id),
            why="Blade guard cracked.",
            actor_id=shop.author.id,
            now=clock.at + timedelta(seconds=1),
        )
    times = iter([clock.at])  # when the request began; later it is two seconds on
    monkeypatch.setattr(clock, "now", lambda: next(times, waited))
    assert start(shop, visitor, saw, ada).status_code == 403
