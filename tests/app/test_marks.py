"""“Speak to a technician first”, and protective equipment: set, shown, ended, by whom."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import inspect, select

from app.audit.models import AuditEntry, PrivateNote
from app.people.rights import Role
from app.site import SiteSetting
from app.training.models import EquipmentIssue, PersonMark
from tests.app.walk import changed, dump


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def lathe(shop, bay):
    return shop.machine("Lathe", area=bay)


@pytest.fixture
def phone(shop, visitor, bay):
    """The phone of a technician of the metal bay alone."""
    return visitor.sign_in(shop.technician(area=bay))


def every(database, model):
    with database.read() as session:
        return list(session.execute(select(model).order_by(model.id)).scalars())


# --- marks --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("where", "words"), [("", "everywhere"), ("area", "in Metal bay"), ("machine", "at Lathe")]
)
def test_a_mark_is_set_somewhere_and_ended_by_a_row_that_is_added(
    phone, database, ada, bay, lathe, where, words
):
    number = {"": "", "area": f" {bay.id}", "machine": f" {lathe.id}"}[where]
    address = f"/people/{ada.id}/marks"
    assert phone.post(address, data={"where": f"{where}{number}"}).status_code == 303
    (row,) = every(database, PersonMark)
    assert row.area_id == (bay.id if where == "area" else None)
    assert row.machine_id == (lathe.id if where == "machine" else None)
    page = phone.get(f"/people/{ada.id}").text
    assert f"<b>Speaks to a technician first</b> {words}" in page
    assert "No ground is kept here or asked for" in page
    assert phone.post(address, data={"where": f"{where}{number}"}).status_code == 409
    assert phone.post(f"{address}/{row.id}/end").status_code == 303
    assert phone.post(f"{address}/{row.id}/end").status_code == 409
    assert "<b>Speaks to a technician first</b>" not in phone.get(f"/people/{ada.id}").text


def test_no_ground_of_a_mark_is_kept_even_if_one_is_sent(phone, database, ada):
    sent = {"reason": "An implant", "note": "An implant", "words": "An implant"}
    phone.post(f"/people/{ada.id}/marks", data=sent)
    assert not any("implant" in row for rows in dump(database).values() for row in rows)
    assert not any("note" in column.key for column in inspect(PersonMark).columns)
    with database.read() as session:
        assert session.execute(select(PrivateNote)).first() is None
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "training:mark:set")
        ).scalar_one()
    assert entry.detail == {"person": ada.id, "area": None, "machine": None}


def test_nobody_marks_in_an_area_that_is_not_theirs(shop, phone, database, ada):
    wood = shop.area("Wood bay")
    saw = shop.machine("Saw", area=wood)
    page = phone.get(f"/people/{ada.id}").text
    assert f'value="area {wood.id}"' not in page
    assert f'value="machine {saw.id}"' not in page
    before = dump(database)
    for where in (f"area {wood.id}", f"machine {saw.id}"):
        for what in ("marks", "suspend"):
            form = {"where": where, "reason": "Asked to wait"}
            assert phone.post(f"/people/{ada.id}/{what}", data=form).status_code == 403
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("where", ["area", "area x", "area 999999", "desk 1", "machine -1", "7"])
def test_a_place_that_is_none_is_refused(phone, database, ada, where):
    before = dump(database)
    answer = phone.post(f"/people/{ada.id}/marks", data={"where": where})
    assert answer.status_code in (404, 422)
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_mark_marks_nobody_and_ends_no_mark(shop, phone, another, database, ada, role):
    phone.post(f"/people/{ada.id}/marks")
    another.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert another.post(f"/people/{ada.id}/marks").status_code == 403
    assert another.post(f"/people/{ada.id}/marks/1/end").status_code == 403
    assert changed(before, dump(database)) == set()


def test_nobody_ends_a_mark_about_themself(shop, visitor, phone, another, database):
    me = shop.technician()
    phone.post(f"/people/{me.id}/marks")
    another.sign_in(me)
    assert "End the mark" not in another.get(f"/people/{me.id}").text
    assert another.post(f"/people/{me.id}/marks/1/end").status_code == 403


def test_a_mark_is_ended_under_its_own_person_only(shop, phone, ada):
    phone.post(f"/people/{ada.id}/marks")
    other = shop.person()
    assert phone.post(f"/people/{other.id}/marks/1/end").status_code == 404


# --- equipment ----------------------------------------------------------------------------


def test_equipment_is_fitted_shown_with_its_end_and_taken_back(phone, database, ada, clock):
    address = f"/people/{ada.id}/equipment"
    fitted = {"equipment": "Half  mask, size M", "expires_on": "2026-03-12"}
    assert phone.post(address, data=fitted).status_code == 303
    (row,) = every(database, EquipmentIssue)
    assert (row.equipment, row.expires_on) == ("Half mask, size M", date(2026, 3, 12))
    assert "Through 12 Mar 2026" in phone.get(f"/people/{ada.id}").text
    clock.at += timedelta(days=3)
    assert "Ran out with 12 Mar 2026" in phone.get(f"/people/{ada.id}").text
    assert phone.post(f"{address}/{row.id}/end").status_code == 303
    assert phone.post(f"{address}/{row.id}/end").status_code == 409
    assert "None was issued or fitted." in phone.get(f"/people/{ada.id}").text
    assert [each.ends_id for each in every(database, EquipmentIssue)] == [None, row.id]


@pytest.mark.parametrize(
    ("form", "status"),
    [
        ({"equipment": " "}, 422),
        ({"equipment": "x" * 201}, 422),
        ({"equipment": "Mask", "expires_on": "2026-03-09"}, 422),
        ({"equipment": "Mask", "expires_on": "soon"}, 422),
        ({"equipment": "visor"}, 409),
    ],
)
def test_an_issue_that_makes_no_sense_is_refused(phone, database, ada, form, status):
    address = f"/people/{ada.id}/equipment"
    phone.post(address, data={"equipment": "Visor"})
    before = dump(database)
    assert phone.post(address, data=form).status_code == status
    assert changed(before, dump(database)) == set()


def test_nobody_fits_themself_unless_one_person_is_all_there_is(shop, app, visitor, database):
    me = shop.technician()
    visitor.sign_in(me)
    address, visor = f"/people/{me.id}/equipment", {"equipment": "Visor"}
    assert "Issue or fit equipment" not in visitor.get(f"/people/{me.id}").text
    assert visitor.post(address, data=visor).status_code == 403
    with database.write() as session:
        session.add(SiteSetting(name="one_person_may_approve", value=True, recorded_at=shop.now))
    app.extensions["chuckkey"].forget_site()
    assert "Issue or fit equipment" in visitor.get(f"/people/{me.id}").text
    assert visitor.post(address, data=visor).status_code == 303


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR, Role.APPROVER])
def test_only_technicians_issue_equipment(shop, phone, another, database, ada, role):
    phone.post(f"/people/{ada.id}/equipment", data={"equipment": "Visor"})
    another.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    address = f"/people/{ada.id}/equipment"
    assert another.post(address, data={"equipment": "Mask"}).status_code == 403
    assert another.post(f"{address}/1/end").status_code == 403
    assert changed(before, dump(database)) == set()
