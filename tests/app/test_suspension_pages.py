"""Suspended everywhere, in an area or at a machine; the reason for few eyes; who restores."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.people.rights import Role
from app.training.models import Suspension
from tests.app.walk import changed, dump

WHY = "Ran the saw unguarded"


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def setter(shop):
    return shop.technician()


@pytest.fixture
def phone(visitor, setter):
    return visitor.sign_in(setter)


def suspend(phone, person, where="", reason=WHY):
    return phone.post(f"/people/{person.id}/suspend", data={"where": where, "reason": reason})


def test_a_suspension_reaches_as_far_as_it_was_set(shop, phone, ada):
    basics, bay = shop.induction(), shop.area("Metal bay")
    lathe, drill = shop.machine("Lathe", area=bay), shop.machine("Drill", area=bay)
    saw = shop.machine("Saw")
    revision = shop.assess(lathe, drill, saw, inductions=[basics])
    shop.hold(ada, basics)
    shop.acknowledge(ada, revision)

    def stopped():
        return {m.name for m in (lathe, drill, saw) if "suspended" in shop.codes(ada, m)}

    for where, reached in (
        (f"machine {lathe.id}", {"Lathe"}),
        (f"area {bay.id}", {"Lathe", "Drill"}),
        ("", {"Lathe", "Drill", "Saw"}),
    ):
        shop.clock.at += timedelta(seconds=20)
        assert suspend(phone, ada, where).status_code == 303
        assert stopped() == reached
        assert suspend(phone, ada, where).status_code == 409
    page = phone.get(f"/people/{ada.id}").text
    for words in ("at Lathe", "in Metal bay", "everywhere"):
        assert f"<b>Suspended</b> {words}, since" in page
    for number, left in ((3, {"Lathe", "Drill"}), (2, {"Lathe"}), (1, set())):
        shop.clock.at += timedelta(seconds=20)
        answer = phone.post(f"/suspensions/{number}/lift", data={"reason": "Talked it over"})
        assert answer.status_code == 303
        assert stopped() == left


def test_every_suspension_that_stands_is_on_one_list(shop, phone, ada, another):
    bo = shop.person("Bo Tarn")
    suspend(phone, ada)
    suspend(phone, bo, reason="Keys lent")
    page = phone.get("/suspensions").text
    assert page.index("Bo Tarn") < page.index("Ada Quill")
    assert WHY in page
    phone.post("/suspensions/1/lift", data={"reason": "Talked it over"})
    page = phone.get("/suspensions").text
    assert "Bo Tarn" in page
    assert "Ada Quill" not in page
    assert another.sign_in(bo).get("/suspensions").status_code == 403


@pytest.mark.parametrize(
    ("role", "reads"),
    [
        (Role.TECHNICIAN, False),
        (Role.APPROVER, True),
        (Role.AUDITOR, False),
        (Role.ADMINISTRATOR, False),
    ],
)
def test_the_list_gives_the_reason_to_those_entitled(shop, phone, ada, another, role, reads):
    suspend(phone, ada)
    page = another.sign_in(shop.person(roles=[role])).get("/suspensions").text
    assert "Ada Quill" in page
    assert (WHY in page) is reads
    assert ("Restore</summary>" in page) is reads


def test_the_reason_is_never_on_the_persons_own_screen(shop, phone, another):
    bay = shop.area("Metal bay")
    lathe = shop.machine("Lathe", area=bay)
    head = shop.person("Opal Approver", roles=[Role.APPROVER, Role.TECHNICIAN])
    suspend(phone, head, f"area {bay.id}")
    another.sign_in(head)
    for address in (
        "/suspensions",
        f"/people/{head.id}",
        "/me",
        "/me/code",
        f"/m/{shop.code(lathe)}",
        f"/m/{shop.code(lathe)}/people/{head.id}",
    ):
        page = another.get(address)
        assert page.status_code == 200, address
        assert WHY not in page.text, address
    answer = another.post("/suspensions/1/lift", data={"reason": "I am fine"})
    assert answer.status_code == 403


def test_another_technician_does_not_restore_whom_somebody_else_suspended(
    shop, phone, ada, another, database
):
    suspend(phone, ada)
    another.sign_in(shop.technician())
    before = dump(database)
    answer = another.post("/suspensions/1/lift", data={"reason": "Talked it over"})
    assert answer.status_code == 403
    assert "Only whoever suspended this person, or an approver" in answer.text
    assert changed(before, dump(database)) == set()


def test_an_approver_restores_and_both_reasons_are_kept_apart(shop, phone, ada, another, database):
    suspend(phone, ada)
    another.sign_in(shop.chief)
    assert another.post("/suspensions/1/lift", data={"reason": " "}).status_code == 422
    assert another.post("/suspensions/1/lift", data={"reason": "Watched again"}).status_code == 303
    assert another.post("/suspensions/1/lift", data={"reason": "Watched again"}).status_code == 409
    assert another.post("/suspensions/2/lift", data={"reason": "x"}).status_code == 404
    with database.read() as session:
        rows = list(session.execute(select(Suspension).order_by(Suspension.id)).scalars())
    assert [row.ends_id for row in rows] == [None, 1]
    assert all(row.note_digest and len(row.note_digest) == 64 for row in rows)
    log = "".join(dump(database)["audit_entry"])
    assert WHY not in log
    assert "Watched again" not in log


def test_nobody_suspends_themself(phone, setter, database):
    before = dump(database)
    assert suspend(phone, setter).status_code == 403
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_suspend_sees_no_form_for_it(shop, visitor, ada, database, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert suspend(visitor, ada).status_code == 403
    assert "<summary>Suspend</summary>" not in visitor.get(f"/people/{ada.id}").text
    assert changed(before, dump(database)) == set()


def test_a_technician_of_one_area_may_stop_somebody_everywhere(shop, visitor, ada):
    local = shop.technician(area=shop.area("Metal bay"))
    assert suspend(visitor.sign_in(local), ada).status_code == 303
