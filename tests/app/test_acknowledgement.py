"""The person's own word that they have read an assessment and will follow it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.training.acknowledgement import outstanding
from app.training.models import Acknowledgement, Way
from app.training.standing import Result
from tests.app.walk import auditor, changed, dump
from tests.factories import PASSWORD


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def draft(shop, saw, basics):
    return shop.draft(saw, inductions=[basics])


@pytest.fixture
def ada(shop, basics):
    person = shop.person("Ada Quill")
    shop.hold(person, basics)
    return person


def rows(database):
    with database.read() as session:
        return list(session.execute(select(Acknowledgement)).scalars())


def test_a_person_acknowledges_on_their_own_phone(shop, visitor, database, draft, ada, saw):
    revision = shop.approve(draft)
    assert shop.codes(ada, saw) == ["acknowledgement-outstanding"]
    visitor.sign_in(ada)
    page = visitor.get(f"/acknowledge/{revision}").text
    assert "A hand meets the blade." in page
    assert "I have read it and will follow it" in page
    assert visitor.post(f"/acknowledge/{revision}").status_code == 303
    (row,) = rows(database)
    assert (row.person_id, row.way, row.witness_id) == (ada.id, Way.OWN_PHONE, None)
    assert shop.codes(ada, saw) == []
    assert "Nothing is outstanding here for you." in visitor.get(f"/acknowledge/{revision}").text


def test_on_a_shared_device_it_is_kept_as_such(shop, visitor, database, draft, ada, saw):
    revision = shop.approve(draft)
    visitor.sign_in(shop.author)
    assert visitor.post("/device", data={"name": "Tablet at the door"}).status_code == 303
    visitor.sign_in(ada)
    assert visitor.post(f"/acknowledge/{revision}").status_code == 303
    (row,) = rows(database)
    assert (row.person_id, row.way, row.witness_id) == (ada.id, Way.SHARED_DEVICE, None)
    assert row.way == "on a shared device"
    assert shop.codes(ada, saw) == []


def test_a_witness_at_a_shared_device_is_still_a_witness(shop, visitor, database, draft, ada):
    revision = shop.approve(draft)
    visitor.sign_in(shop.author)
    visitor.post("/device", data={"name": "Tablet at the door"})
    visitor.sign_in(shop.technician())
    visitor.post(f"/acknowledge/{revision}", data={"person_id": ada.id})
    (row,) = rows(database)
    assert row.way is Way.FACE_TO_FACE


def test_acknowledged_twice_is_one_record(shop, visitor, database, draft, ada):
    revision = shop.approve(draft)
    visitor.sign_in(ada)
    for _ in range(2):
        assert visitor.post(f"/acknowledge/{revision}").status_code == 303
    assert len(rows(database)) == 1


def test_face_to_face_names_the_technician_as_the_witness(
    shop, visitor, database, draft, ada, basics, saw
):
    revision = shop.approve(draft)
    technician = shop.technician(basics)
    visitor.sign_in(technician)
    page = visitor.get(f"/acknowledge/{revision}?for={ada.id}").text
    assert "Ada Quill acknowledged, I witnessed it" in page
    answer = visitor.post(f"/acknowledge/{revision}", data={"person_id": ada.id})
    assert answer.status_code == 303
    (row,) = rows(database)
    assert (row.person_id, row.way) == (ada.id, Way.FACE_TO_FACE)
    assert row.witness_id == technician.id
    assert shop.codes(ada, saw) == []


def test_a_technician_never_acknowledges_as_the_person(shop, visitor, database, draft, ada):
    """Whatever is sent, the record says whose hands the phone was in."""
    revision = shop.approve(draft)
    visitor.sign_in(shop.technician())
    form = {"person_id": ada.id, "way": "on their own phone", "witness_id": ""}
    visitor.post(f"/acknowledge/{revision}", data=form)
    (row,) = rows(database)
    assert row.way is Way.FACE_TO_FACE
    assert row.witness_id is not None


def test_a_witness_signs_with_the_password(shop, visitor, database, draft, ada, clock):
    revision = shop.approve(draft)
    visitor.sign_in(shop.technician())
    clock.at += timedelta(minutes=6)
    form = {"person_id": ada.id}
    assert visitor.post(f"/acknowledge/{revision}", data=form).status_code == 403
    assert rows(database) == []
    signed = {**form, "password": PASSWORD}
    assert visitor.post(f"/acknowledge/{revision}", data=signed).status_code == 303


def test_who_is_no_technician_witnesses_nothing(shop, visitor, database, draft, ada):
    revision = shop.approve(draft)
    for who in (shop.person(), auditor(shop), shop.chief):
        visitor.sign_in(who)
        before = dump(database)
        answer = visitor.post(f"/acknowledge/{revision}", data={"person_id": ada.id})
        assert answer.status_code == 403
        assert "Only a technician witnesses" in answer.text
        assert changed(before, dump(database)) == set()
        assert "I witnessed it" not in visitor.get(f"/acknowledge/{revision}?for={ada.id}").text


def test_nobody_unknown_is_witnessed(shop, visitor, database, draft):
    revision = shop.approve(draft)
    visitor.sign_in(shop.technician())
    answer = visitor.post(f"/acknowledge/{revision}", data={"person_id": 999999})
    assert answer.status_code == 404
    assert rows(database) == []
    assert visitor.get(f"/acknowledge/{revision}?for=999999").status_code == 404


def test_a_material_change_asks_again(shop, visitor, draft, ada, saw):
    shop.acknowledge(ada, shop.approve(draft))
    revision = shop.approve(draft, material=True, note="A new blade.")
    assert shop.codes(ada, saw) == ["assessment-changed"]
    visitor.sign_in(ada)
    assert "A new blade." in visitor.get(f"/acknowledge/{revision}").text
    visitor.post(f"/acknowledge/{revision}")
    assert shop.codes(ada, saw) == []


def test_a_change_that_is_not_material_asks_nobody(shop, draft, ada, saw):
    shop.acknowledge(ada, shop.approve(draft))
    shop.approve(draft, material=False)
    assert shop.codes(ada, saw) == []


def test_a_material_change_is_not_forgotten_by_a_small_one_after_it(shop, draft, ada, saw):
    shop.acknowledge(ada, shop.approve(draft))
    shop.approve(draft, material=True)
    shop.approve(draft, material=False)
    assert shop.codes(ada, saw) == ["assessment-changed"]


def test_what_is_not_in_force_cannot_be_acknowledged(shop, visitor, database, draft, ada):
    old = shop.approve(draft)
    shop.approve(draft)
    visitor.sign_in(ada)
    for revision in (old, 999999):
        assert visitor.get(f"/acknowledge/{revision}").status_code == 404
        assert visitor.post(f"/acknowledge/{revision}").status_code == 404
    assert rows(database) == []


def test_the_technician_sees_what_a_person_has_still_to_acknowledge(
    shop, visitor, draft, basics, saw
):
    revision = shop.approve(draft)
    technician, bob = shop.technician(basics), shop.person("Bob Reed")
    visitor.sign_in(technician)
    assert f"/acknowledge/{revision}" not in visitor.get(f"/people/{bob.id}").text
    number = shop.sign_off(technician, bob, basics, Result.SUPERVISED)
    assert f"/acknowledge/{revision}" in visitor.get(f"/people/{bob.id}").text
    assert (
        "Nobody types a password on somebody else’s phone."
        in visitor.get(f"/sign-offs/{number}").text
    )


def test_what_is_outstanding_is_asked_of_each_assessment_by_itself(shop):
    basics = shop.induction("Basics")
    first, second = shop.machine(), shop.machine()
    draft = shop.draft(first, inductions=[basics])
    shop.approve(draft)
    newest = shop.approve(draft)  # a material change: revision 2
    other = shop.assess(second, inductions=[basics])  # revision 1 of another assessment
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics)

    with shop.database.read() as session:
        assert [r.id for r in outstanding(session, ada.id, at=shop.now)] == [newest, other]
    shop.acknowledge(ada, other)
    with shop.database.read() as session:
        assert [r.id for r in outstanding(session, ada.id, at=shop.now)] == [newest]
