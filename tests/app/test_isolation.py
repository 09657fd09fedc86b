"""A lock on an isolator: only who applied it removes it, and an abandoned one needs two others."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.errors import Refused
from app.machines.isolation import open_isolations, remove_abandoned
from app.machines.models import Isolation
from app.people.models import Role
from tests.app.upkeep import machine_codes
from tests.app.walk import changed, dump
from tests.factories import PASSWORD

LOCK = {"point": "Isolator on the wall", "lock_number": "17", "why": "Belt off"}
WORDS = {"words": "Nobody at it, guards on"}


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def saw(shop, bay):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine)
    return machine


@pytest.fixture
def tess(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def omar(shop, bay):
    return shop.person("Omar Second", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def page(saw):
    return f"/machines/{saw.id}"


@pytest.fixture
def lock(visitor, tess, page, database):
    visitor.sign_in(tess)
    assert visitor.post(f"{page}/isolations", data=LOCK).status_code == 303
    with database.read() as session:
        return session.execute(select(Isolation)).scalar_one()


def still_on(database, saw):
    with database.read() as session:
        return open_isolations(session, saw.id)


def away(second, password=PASSWORD, **form):
    return {**WORDS, "second": second.email, "second_password": password, **form}


def test_a_lock_is_recorded_with_its_point_number_and_owner_and_cuts_nothing(
    shop, visitor, lock, page, saw, tess
):
    assert (lock.point, lock.lock_number, lock.recorded_by_id) == (
        "Isolator on the wall",
        "17",
        tess.id,
    )
    text = visitor.get(page).text
    assert "Lock 17 at Isolator on the wall" in text
    assert "applied by Tess Turner" in text
    assert "does not cut the power" in text
    assert machine_codes(shop, saw) == ["isolated"]
    assert shop.ask(shop.chief, saw).verdict.words == "out of use"


@pytest.mark.parametrize("missing", list(LOCK))
def test_a_lock_without_point_number_or_reason_is_refused(visitor, tess, page, database, missing):
    visitor.sign_in(tess)
    before = dump(database)
    assert visitor.post(f"{page}/isolations", data={**LOCK, missing: " "}).status_code == 422
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.APPROVER, Role.ADMINISTRATOR])
def test_only_who_may_isolate_records_a_lock(shop, visitor, page, database, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert visitor.post(f"{page}/isolations", data=LOCK).status_code == 403
    assert changed(before, dump(database)) == set()


def test_only_who_applied_it_takes_it_off(shop, visitor, another, lock, page, saw, omar, database):
    remove = f"{page}/isolations/{lock.id}/remove"
    for other in (omar, shop.chief, shop.person()):
        another.sign_in(other)
        before = dump(database)
        assert another.post(remove, data=WORDS).status_code == 403
        assert changed(before, dump(database)) == set()
    assert visitor.post(remove, data={"words": ""}).status_code == 422
    assert visitor.post(remove, data=WORDS).status_code == 303
    assert still_on(database, saw) == []
    assert machine_codes(shop, saw) == []
    assert visitor.post(remove, data=WORDS).status_code == 409


def test_it_is_taken_off_with_the_password(shop, visitor, lock, page, saw, database):
    shop.clock.at += timedelta(minutes=6)
    remove = f"{page}/isolations/{lock.id}/remove"
    assert visitor.post(remove, data=WORDS).status_code == 403
    assert still_on(database, saw) != []
    assert visitor.post(remove, data={**WORDS, "password": PASSWORD}).status_code == 303


def test_two_others_remove_an_abandoned_lock_and_both_are_named(
    shop, another, lock, page, saw, omar, database
):
    another.sign_in(shop.author)
    answer = another.post(f"{page}/isolations/{lock.id}/abandoned", data=away(omar))
    assert answer.status_code == 303
    assert "does not cut the power" in another.get(page).text
    assert still_on(database, saw) == []
    with database.read() as session:
        row = session.execute(select(Isolation).where(Isolation.ends_id == lock.id)).scalar_one()
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "machines:isolation:remove")
        ).scalar_one()
    assert (row.recorded_by_id, row.second_id, row.why) == (shop.author.id, omar.id, WORDS["words"])
    assert entry.detail == {"isolation": lock.id, "second": omar.id}


def test_an_abandoned_lock_stays_where_the_two_are_not_two_entitled_others(
    shop, another, lock, page, saw, tess, omar, database
):
    address = f"{page}/isolations/{lock.id}/abandoned"
    elsewhere = shop.person(roles=[Role.TECHNICIAN], area=shop.area("Wood bay"))
    leaver = shop.person(roles=[Role.TECHNICIAN], ends_on=shop.now.date() - timedelta(days=1))
    another.sign_in(shop.author)
    for form, status in (
        (away(shop.author), 422),  # one person is not two
        (away(tess), 422),  # their own lock they remove themselves
        (away(omar, password="a guess"), 403),
        (away(omar) | {"second": ""}, 403),
        (away(omar, words=" "), 422),
        (away(elsewhere), 403),
        (away(shop.person()), 403),
        (away(leaver), 403),
    ):
        assert another.post(address, data=form).status_code == status, form
        assert [row.id for row in still_on(database, saw)] == [lock.id], form


def test_who_may_not_return_machines_to_use_begins_no_removal(
    shop, another, lock, page, saw, omar, database
):
    for person in (
        shop.person(),
        shop.person(roles=[Role.AUDITOR]),
        shop.person(roles=[Role.TECHNICIAN], area=shop.area("Wood bay")),
    ):
        another.sign_in(person)
        before = dump(database)
        answer = another.post(f"{page}/isolations/{lock.id}/abandoned", data=away(omar))
        assert answer.status_code == 403
        assert changed(before, dump(database)) == set()


def test_the_second_password_cannot_be_guessed_without_end(
    shop, another, lock, page, saw, omar, database
):
    another.sign_in(shop.author)
    address = f"{page}/isolations/{lock.id}/abandoned"
    seen = [another.post(address, data=away(omar, password=f"g{n}")).status_code for n in range(6)]
    assert seen == [403] * 5 + [429]
    assert another.post(address, data=away(omar)).status_code == 429
    assert still_on(database, saw) != []


def test_the_rule_of_two_holds_below_the_pages(shop, lock, tess, omar, database):
    for actor, second in ((tess.id, omar.id), (omar.id, tess.id), (omar.id, omar.id)):
        with database.write() as session, pytest.raises(Refused):
            remove_abandoned(
                session,
                session.get_one(Isolation, lock.id),
                words="Away",
                second_id=second,
                actor_id=actor,
                now=shop.now,
            )


def test_a_lock_is_not_removed_by_way_of_another_machine_nor_its_end_again(
    shop, visitor, lock, page, bay, database
):
    other = shop.machine(area=bay)
    assert (
        visitor.post(f"/machines/{other.id}/isolations/{lock.id}/remove", data=WORDS).status_code
        == 404
    )
    visitor.post(f"{page}/isolations/{lock.id}/remove", data=WORDS)
    with database.read() as session:
        ending = session.execute(select(Isolation.id).where(Isolation.ends_id == lock.id))
        assert (
            visitor.post(f"{page}/isolations/{ending.scalar_one()}/remove", data=WORDS).status_code
            == 404
        )


def test_two_locks_are_each_removed_by_their_own(
    shop, visitor, another, lock, page, saw, omar, database
):
    another.sign_in(omar)
    another.post(f"{page}/isolations", data={**LOCK, "lock_number": "18"})
    visitor.post(f"{page}/isolations/{lock.id}/remove", data=WORDS)
    assert [row.lock_number for row in still_on(database, saw)] == ["18"]
    assert machine_codes(shop, saw) == ["isolated"]
