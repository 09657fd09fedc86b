"""Two rows that are one person: history stays, nothing that bars is lost, nothing is guessed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.log import broken_at
from app.people.models import Membership, Person, SignIn
from app.people.rights import Role
from app.training.models import TrainingRecord
from app.training.suspension import suspend
from app.transfer.models import PersonKey, PersonMerge
from tests.app.test_transfer_lists import TWO, Office
from tests.app.walk import changed, dump


@pytest.fixture
def office(visitor, shop):
    return Office(visitor, shop)


@pytest.fixture
def two(office):
    """A walk-in of this morning, and the same person as the registry's list brought them."""
    walk_in = office.shop.person("Bo Marsh")
    office.apply(office.rehearse(TWO))
    (listed,) = office.all(select(Person).where(Person.email == "bo@campus.example"))
    return walk_in, listed


def merge(office, kept, absorbed, why="The card shows it"):
    sent = {"other_id": absorbed.id, "why": why}
    return office.visitor.post(f"/people/{kept.id}/merge", data=sent)


def refresh(office, person):
    (row,) = office.all(select(Person).where(Person.id == person.id))
    return row


def test_one_row_stands_for_both_and_the_other_keeps_its_history(office, two):
    kept, absorbed = two
    page = office.page(f"/people/{kept.id}/merge?other={absorbed.id}")
    assert "Is absorbed" in page
    assert merge(office, kept, absorbed).status_code == 303
    gone = refresh(office, absorbed)
    assert (gone.name, gone.email, gone.card) == ("Bo Marsh", None, None)
    assert refresh(office, kept).email == kept.email  # it had one of its own
    stays = office.all(select(Membership).where(Membership.person_id == gone.id))
    assert stays[-1].ends_on == office.shop.now.date() - timedelta(days=1)
    assert len(stays) == 2
    (row,) = office.all(select(PersonMerge))
    assert (row.kept_id, row.absorbed_id) == (kept.id, absorbed.id)
    with office.shop.database.read() as session:
        assert broken_at(session) is None


def test_the_registry_finds_the_row_that_stays(office, two):
    kept, absorbed = two
    merge(office, kept, absorbed)
    keys = office.all(select(PersonKey).where(PersonKey.key == "17").order_by(PersonKey.id))
    assert [row.person_id for row in keys] == [absorbed.id, absorbed.id, kept.id]
    assert keys[1].ends_id == keys[0].id
    page = office.page(office.rehearse(TWO.replace("bo@campus.example", "")))
    assert "changed" in page
    assert f'href="/people/{kept.id}"' in page


def test_an_e_mail_moves_to_who_has_none(office):
    with office.shop.database.write() as session:
        kept = Person(name="Bo Marsh", registered_at=office.shop.now)
        session.add(kept)
    absorbed = office.shop.person("Bo Marsh")
    office.visitor.client.application.test_client().post(
        "/sign-in", data={"login": absorbed.email, "password": "correct horse battery"}
    )
    assert merge(office, kept, absorbed).status_code == 303
    now = refresh(office, kept)
    assert (now.email, now.card) == (absorbed.email, absorbed.card)
    assert now.password_hash == absorbed.password_hash
    signed = office.all(select(SignIn).where(SignIn.person_id == absorbed.id))
    assert signed[0].revoked_at == office.shop.now


def test_training_is_not_carried_over_and_must_be_on_record_for_who_stays(office, shop, two):
    kept, absorbed = two
    induction = shop.induction("Basics")
    technician = shop.technician(induction)
    shop.sign_off(technician, absorbed, induction)
    page = office.page(f"/people/{kept.id}/merge?other={absorbed.id}")
    assert "“Basics” is on record for the one that is absorbed" in page
    assert "this cannot be taken back" not in page
    assert merge(office, kept, absorbed).status_code == 409
    office.shop.clock.at += timedelta(minutes=5)
    shop.hold(kept, induction)
    assert merge(office, kept, absorbed).status_code == 303
    records = office.all(select(TrainingRecord).where(TrainingRecord.person_id == absorbed.id))
    assert len(records) == 1


def test_a_suspension_is_never_lost_in_a_merge(office, shop, two):
    kept, absorbed = two
    with shop.database.write() as session:
        actor = shop.actor(shop.author)
        suspend(session, actor=actor, person_id=absorbed.id, reason="Asked", now=shop.now)
    answer = merge(office, kept, absorbed)
    assert answer.status_code == 409
    assert "suspended or marked" in answer.text
    # The other way round nothing is lost: the suspended row is the one that stays.
    assert merge(office, absorbed, kept).status_code == 303


def test_what_makes_no_sense_is_refused(office, shop, two, database):
    kept, absorbed = two
    before = dump(database)
    assert merge(office, kept, kept).status_code == 409
    assert merge(office, kept, absorbed, why=" ").status_code == 422
    assert merge(office, kept, shop.author).status_code == 409  # holds a role
    assert merge(office, shop.chief, kept).status_code == 403  # nobody merges themselves
    nobody = {"other_id": 10**6, "why": "x"}
    assert office.visitor.post(f"/people/{kept.id}/merge", data=nobody).status_code == 404
    assert changed(before, dump(database)) == set()
    assert merge(office, kept, absorbed).status_code == 303
    assert merge(office, kept, absorbed).status_code == 409
    assert "merged before" in office.page(f"/people/{absorbed.id}/merge")


def test_only_who_manages_people_merges(office, shop, two):
    kept, absorbed = two
    for role in (Role.TECHNICIAN, Role.APPROVER, Role.AUDITOR):
        browser = type(office.visitor)(office.visitor.client.application.test_client())
        browser.sign_in(shop.person(f"A {role.value}", roles=[role]))
        assert browser.get(f"/people/{kept.id}/merge").status_code == 403
        sent = {"other_id": absorbed.id, "why": "x"}
        assert browser.post(f"/people/{kept.id}/merge", data=sent).status_code == 403
