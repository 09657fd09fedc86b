"""Guests of a day: under a host, without a membership, over with the night."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.people.identity import identities
from app.people.models import Membership, Person, Visit
from app.people.rights import Role
from tests.app.walk import changed, dump

GUEST = {"name": "Vera Loom", "kind": "visitor"}


@pytest.fixture
def technician(shop):
    return shop.technician()


@pytest.fixture
def door(visitor, technician):
    """A technician's phone, at the door."""
    return visitor.sign_in(technician)


def rows(database):
    with database.read() as session:
        return list(session.execute(select(Visit).order_by(Visit.id)).scalars())


def test_a_guest_is_put_down_without_e_mail_membership_or_password(door, database, technician):
    answer = door.post("/visitors/new", data=GUEST)
    assert answer.status_code == 303
    (row,) = rows(database)
    assert (row.host_id, row.day, row.ends_id) == (technician.id, date(2026, 3, 10), None)
    with database.read() as session:
        vera = session.get_one(Person, row.person_id)
        assert (vera.name, vera.email, vera.card, vera.password_hash) == (
            "Vera Loom",
            None,
            None,
            None,
        )
        memberships = select(Membership.id).where(Membership.person_id == vera.id)
        assert session.execute(memberships).first() is None
        identity = identities(session, [vera.id], row.day)[vera.id]
        assert not identity.belongs_on(row.day)  # so that no role would ever count
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "people:visit:receive")
        ).scalar_one()
    assert entry.detail == {"person": vera.id, "host": technician.id, "kind": "visitor"}
    page = door.get(answer.headers["Location"]).text
    assert "Vera Loom" in page
    assert "Uses nothing alone." in page
    assert "A guest today" in door.get(f"/people/{vera.id}").text


@pytest.mark.parametrize("kind", ["visitor", "contractor", "cleaner", "one-day course"])
def test_each_kind_of_guest_can_be_received(door, database, kind):
    assert door.post("/visitors/new", data=GUEST | {"kind": kind}).status_code == 303
    assert rows(database)[0].kind.value == kind


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": ""}, "A person needs a name."),
        ({"name": "Vera\u2066"}, "That name holds a sign that cannot be read."),
        ({"kind": "member"}, "Choose one for “kind”"),
        ({"host": "Nobody Known"}, "Nobody is found under what you typed for the host."),
        ({"host": "Twin"}, "Several people are found: choose the host."),
    ],
)
def test_what_cannot_be_kept_is_refused(shop, door, database, changes, sentence):
    shop.person("Twin One")
    shop.person("Twin Two")
    before = dump(database)
    answer = door.post("/visitors/new", data=GUEST | changes)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert changed(before, dump(database)) == set()


def test_one_of_several_hosts_is_chosen(shop, door, database):
    one, two = shop.person("Twin One"), shop.person("Twin Two")
    page = door.post("/visitors/new", data=GUEST | {"host": "Twin"}).text
    assert re.findall(r'name="host_id" value="(\d+)"', page) == [str(one.id), str(two.id)]
    assert 'value="Vera Loom"' in page
    assert door.post("/visitors/new", data=GUEST | {"host_id": two.id}).status_code == 303
    assert rows(database)[0].host_id == two.id


def test_a_host_belongs_here_today_and_is_not_suspended(shop, door, database):
    left = shop.person("Left Long Ago", ends_on=date(2026, 3, 9))
    out = shop.person("Out Of It")
    door.post(f"/people/{out.id}/suspend", data={"reason": "Asked to wait"})
    before = dump(database)
    for host in (left, out):
        answer = door.post("/visitors/new", data=GUEST | {"host_id": host.id})
        assert answer.status_code == 422
        assert "A host is somebody who belongs here today" in answer.text
    assert changed(before, dump(database)) == set()


def test_a_guest_is_nobodys_host(shop, door, database):
    door.post("/visitors/new", data=GUEST)
    vera = rows(database)[0].person_id
    answer = door.post("/visitors/new", data={"name": "Bo", "kind": "visitor", "host_id": vera})
    assert answer.status_code == 422


def test_a_form_that_is_sent_twice_is_one_guest(door, database):
    assert door.post("/visitors/new", data=GUEST).status_code == 303
    answer = door.post("/visitors/new", data=GUEST | {"name": "vera  loom"})
    assert answer.status_code == 409
    assert len(rows(database)) == 1


def test_a_visit_is_over_with_its_day_by_itself(door, database, clock):
    door.post("/visitors/new", data=GUEST)
    assert "Vera Loom" in door.get("/visitors").text
    clock.at = clock.at.replace(hour=23, minute=59)
    assert "Uses nothing alone." in door.get("/visitors/1").text
    clock.at += timedelta(minutes=1)
    assert "Vera Loom" not in door.get("/visitors").text
    page = door.get("/visitors/1").text
    assert "This visit is over." in page
    assert "<svg class=" not in page
    assert door.post("/visitors/1/end").status_code == 409
    assert "Does not belong here now." in door.get(f"/people/{rows(database)[0].person_id}").text


def test_a_visit_is_ended_early_once(door, database, clock):
    door.post("/visitors/new", data=GUEST)
    clock.at += timedelta(hours=1)
    assert door.post("/visitors/1/end").status_code == 303
    assert door.post("/visitors/1/end").status_code == 409
    assert [row.ends_id for row in rows(database)] == [None, 1]
    assert "left" in door.get("/visitors").text
    assert "This visit is over." in door.get("/visitors/1").text
    assert door.get("/visitors/2").status_code == 404  # the row that ends is no visit


def test_somebody_who_was_here_before_is_received_again_under_the_same_file(
    shop, door, database, clock
):
    door.post("/visitors/new", data=GUEST)
    vera = rows(database)[0].person_id
    again = {"person_id": vera, "kind": "contractor"}
    assert door.post("/visitors/new", data=again).status_code == 422  # on the list already
    clock.at += timedelta(days=1)
    assert f"/visitors/new?person={vera}" in door.get(f"/people/{vera}").text
    assert "Vera Loom" in door.get(f"/visitors/new?person={vera}").text
    assert door.post("/visitors/new", data=again | {"adult": "yes"}).status_code == 303
    assert [row.person_id for row in rows(database)] == [vera, vera]
    with database.read() as session:
        assert session.get_one(Person, vera).adult_on == date(2026, 3, 11)
    member = shop.person("Ada Quill")
    answer = door.post("/visitors/new", data={"person_id": member.id, "kind": "visitor"})
    assert "belongs here today, and needs no host" in answer.text
    own = {"person_id": vera, "host_id": vera, "kind": "visitor"}
    assert door.post("/visitors/new", data=own).status_code == 422


# --- who may ------------------------------------------------------------------------------


def test_the_host_shows_the_slip_on_their_own_phone_and_ends_the_visit(
    shop, door, another, database
):
    ada = shop.person("Ada Quill")
    door.post("/visitors/new", data=GUEST | {"host": "Ada Quill"})
    another.sign_in(ada)
    assert "Vera Loom" in another.get("/visitors").text
    assert '<svg class="scan-code"' in another.get("/visitors/1").text
    assert another.post("/visitors/1/end").status_code == 303


def test_a_host_who_no_longer_belongs_here_shows_nobody(shop, door, another):
    ada = shop.person("Ada Quill", ends_on=date(2026, 3, 10))
    door.post("/visitors/new", data=GUEST | {"host": "Ada Quill"})
    another.sign_in(ada)
    shop.clock.at += timedelta(days=1)
    assert another.get("/visitors/1").status_code == 403


def test_a_guest_of_somebody_else_is_nobodys_business(shop, door, another, database):
    door.post("/visitors/new", data=GUEST)
    another.sign_in(shop.person())
    assert "Vera Loom" not in another.get("/visitors").text
    before = dump(database)
    assert another.get("/visitors/1").status_code == 403
    assert another.post("/visitors/1/end").status_code == 403
    assert another.post("/visitors/new", data=GUEST).status_code == 403
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("role", [Role.AUDITOR, Role.APPROVER])
def test_who_sees_people_sees_guests_and_receives_none(shop, door, another, role):
    door.post("/visitors/new", data=GUEST)
    another.sign_in(shop.person(roles=[role]))
    assert "Vera Loom" in another.get("/visitors").text
    assert another.get("/visitors/1").status_code == 200
    assert another.post("/visitors/1/end").status_code == 403
    assert another.get("/visitors/new").status_code == 403


def test_the_code_on_the_slip_leads_a_technician_to_the_guest(door, database, app, clock):
    from app.people.codes import code_for

    door.post("/visitors/new", data=GUEST)
    vera = rows(database)[0].person_id
    code = code_for(vera, secret=app.config["SECRET_KEY"], now=clock.at)
    answer = door.get(f"/c/{code}")
    assert answer.headers["Location"] == f"/people/{vera}"
