"""Technicians on duty, jobs that run on alone, and the page that shows an area as it is."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.log import broken_at
from app.machines.areas import set_terms
from app.machines.models import Area, Form, Machine
from app.people.rights import Role
from app.presence.models import Duty, Start, UnattendedJob, UseFinished
from app.training.standing import Result
from tests.app.walk import KEY, changed, dump


@pytest.fixture
def yard(shop):
    return shop.area("Clay yard")


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def kiln(shop, yard):
    return shop.machine("Kiln", area=yard)


@pytest.fixture
def revision(shop, kiln, basics):
    return shop.assess(kiln, inductions=[basics])


@pytest.fixture
def cleared(shop, basics, revision):
    def give(name, result=Result.ALONE, **more):
        person = shop.person(name, **more)
        shop.hold(person, basics, result)
        shop.acknowledge(person, revision)
        return person

    return give


@pytest.fixture
def technician(cleared):
    return cleared("Tess Turner", roles=[Role.TECHNICIAN])


def rows(database, model):
    with database.read() as session:
        return list(session.execute(select(model).order_by(model.id)).scalars())


def start(shop, visitor, machine, person, key=KEY):
    form = {"person_id": person.id, "key": key, "material": "none"}
    return visitor.post(f"/m/{shop.code(machine)}/start", data=form)


# --- duty ----------------------------------------------------------------------------------


def test_duty_lets_a_supervised_person_be_started_and_runs_out(
    shop, visitor, another, clock, kiln, yard, cleared, technician
):
    ada = cleared("Ada Quill", Result.SUPERVISED)
    address = f"/m/{shop.code(kiln)}"
    visitor.sign_in(ada)
    assert "none is on duty here" in visitor.get(address).text
    another.sign_in(technician)
    assert another.post(f"/duty/{yard.id}").status_code == 303
    assert '<span class="word">Supervised</span>' in visitor.get(address).text
    clock.at += timedelta(minutes=119)
    assert another.post(f"/duty/{yard.id}").status_code == 303  # still here
    clock.at += timedelta(minutes=119)
    assert '<span class="word">Supervised</span>' in visitor.get(address).text
    clock.at += timedelta(minutes=1)
    assert "none is on duty here" in visitor.get(address).text


def test_leaving_ends_the_duty_at_once_and_is_kept(
    shop, visitor, another, database, kiln, yard, cleared, technician
):
    ada = cleared("Ada Quill", Result.SUPERVISED)
    another.sign_in(technician)
    another.post(f"/duty/{yard.id}")
    for _ in range(2):
        assert another.post(f"/duty/{yard.id}/leave").status_code == 303
    assert [row.ends_id is None for row in rows(database, Duty)] == [True, False]
    page = visitor.sign_in(ada).get(f"/m/{shop.code(kiln)}").text
    assert "none is on duty here" in page


def test_nobody_is_on_duty_where_they_are_no_technician(shop, visitor, database, yard):
    stranger = shop.person(roles=[Role.TECHNICIAN], area=shop.area("Elsewhere"))
    visitor.sign_in(stranger)
    before = dump(database)
    assert visitor.post(f"/duty/{yard.id}").status_code == 403
    assert visitor.post(f"/duty/{yard.id}/leave").status_code == 403
    assert visitor.post("/duty/99999").status_code == 404
    assert changed(before, dump(database)) == set()
    assert "Clay yard" not in visitor.get("/duty").text


def test_the_page_shows_who_is_at_work_and_marks_what_is_about_to_run_out(
    shop, visitor, another, clock, database, kiln, yard, cleared, technician
):
    ada = cleared("Ada Quill")
    start(shop, visitor.sign_in(ada), kiln, ada)
    with database.write() as session:
        set_terms(
            session,
            session.get_one(Area, yard.id),
            capacity=6,
            people_per_supervisor=None,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    another.sign_in(technician)
    another.post(f"/duty/{yard.id}")
    page = another.get("/duty").text
    assert "<b>2</b> here" in page
    assert "<b>1</b> of 6 at work" in page
    assert "Ada Quill" in page
    assert "runs out 11:00" not in page
    clock.at += timedelta(minutes=105)
    assert "runs out 11:00" in another.get("/duty").text
    use = rows(database, Start)[0]
    done = another.post(f"/uses/{use.id}/finish", data={"back": "duty"})
    assert done.headers["Location"] == "/duty"
    assert "Ada Quill" not in another.get("/duty").text


# --- jobs that run on alone ----------------------------------------------------------------


def leave(shop, visitor, machine, contact, **more):
    form = {
        "what": "Glaze firing",
        "contact_id": contact.id,
        "reach": "House phone 214",
        "end_on": "2026-03-10",
        "end_time": "21:30",
        **more,
    }
    return visitor.post(f"/m/{shop.code(machine)}/job", data=form)


def test_a_use_is_left_running_and_the_machine_is_taken_until_the_job_ends(
    shop, visitor, another, database, kiln, cleared
):
    ada, bob = cleared("Ada Quill"), cleared("Bob Reed")
    start(shop, visitor.sign_in(ada), kiln, ada)
    assert "Leave it running" in visitor.get(f"/m/{shop.code(kiln)}/job").text
    assert leave(shop, visitor, kiln, ada).status_code == 303
    assert len(rows(database, UseFinished)) == 1
    another.sign_in(bob)
    page = another.get(f"/m/{shop.code(kiln)}").text
    assert "A job is running here on its own: Glaze firing." in page
    assert "Contact: Ada Quill." in page
    assert "House phone" not in page
    assert start(shop, another, kiln, bob, "another-key-0123456").status_code == 403
    (job,) = rows(database, UnattendedJob)
    assert another.post(f"/jobs/{job.id}/end").status_code == 403
    for _ in range(2):
        assert visitor.post(f"/jobs/{job.id}/end").status_code == 303
    assert len(rows(database, UnattendedJob)) == 2
    assert start(shop, another, kiln, bob, "another-key-0123456").status_code == 303
    with database.read() as session:
        assert broken_at(session) is None


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"what": ""}, 422),
        ({"reach": ""}, 422),
        ({"end_time": "08:00"}, 422),  # before now
        ({"end_on": "2026-03-18"}, 422),  # more than a week
        ({"end_on": "9999-12-31"}, 422),
        ({"end_time": "25:00"}, 422),
        ({"end_on": "soon"}, 422),
        ({"contact_id": "99999"}, 403),
    ],
)
def test_a_job_needs_its_words_an_end_and_a_contact_who_is_here(
    shop, visitor, database, kiln, cleared, more, status
):
    ada = cleared("Ada Quill")
    start(shop, visitor.sign_in(ada), kiln, ada)
    before = dump(database)
    assert leave(shop, visitor, kiln, ada, **more).status_code == status
    assert changed(before, dump(database)) == set()


def test_nothing_is_left_running_without_a_use_under_supervision_or_out_of_use(
    shop, visitor, another, database, kiln, cleared, technician
):
    ada, bob = cleared("Ada Quill"), cleared("Bob Reed", Result.SUPERVISED)
    visitor.sign_in(ada)
    assert leave(shop, visitor, kiln, ada).status_code == 403
    another.sign_in(technician)
    assert start(shop, another, kiln, bob).status_code == 303
    phone = type(visitor)(visitor.client.application.test_client()).sign_in(bob)
    assert "under supervision is not left" in phone.get(f"/m/{shop.code(kiln)}/job").text
    assert leave(shop, phone, kiln, bob).status_code == 409
    phone.post(f"/uses/{rows(database, Start)[0].id}/finish")
    assert start(shop, visitor, kiln, ada, "another-key-0123456").status_code == 303
    another.post(f"/machines/{kiln.id}/out-of-use", data={"why": "Smoke"})
    assert leave(shop, visitor, kiln, ada).status_code == 403
    assert rows(database, UnattendedJob) == []


def test_a_job_is_handed_over_to_whoever_is_on_duty_and_its_way_of_reaching_stays_private(
    shop, visitor, another, database, kiln, yard, cleared, technician
):
    ada = cleared("Ada Quill")
    start(shop, visitor.sign_in(ada), kiln, ada)
    leave(shop, visitor, kiln, ada)
    (job,) = rows(database, UnattendedJob)
    another.sign_in(technician)
    assert "House phone 214" in another.get("/duty").text
    form = {"reach": "Porter", "end_on": "2026-03-10", "end_time": "22:00"}
    refused = another.post(f"/jobs/{job.id}/hand-over", data={**form, "contact_id": ada.id})
    assert refused.status_code == 403  # not on duty
    taken = {**form, "contact_id": technician.id}
    assert another.post(f"/jobs/{job.id}/hand-over", data=taken).status_code == 303
    assert another.post(f"/jobs/{job.id}/hand-over", data=taken).status_code == 409
    *_, ended, now_running = rows(database, UnattendedJob)
    assert (ended.ends_id, now_running.ends_id) == (job.id, None)
    assert now_running.contact_id == technician.id
    page = another.get("/duty").text
    assert "Contact: Tess Turner, Porter" in page
    assert "House phone 214" not in page


def test_a_job_that_is_late_is_marked_and_still_keeps_the_machine(
    shop, visitor, another, clock, kiln, cleared, technician
):
    ada = cleared("Ada Quill")
    start(shop, visitor.sign_in(ada), kiln, ada)
    leave(shop, visitor, kiln, ada)
    clock.at += timedelta(hours=13)
    page = another.sign_in(technician).get(f"/m/{shop.code(kiln)}").text
    assert "late" in page
    assert '<span class="word">Not cleared</span>' in page


# --- benches -------------------------------------------------------------------------------


def test_a_bench_lists_its_tools_each_with_this_persons_answer(
    shop, visitor, another, database, yard, cleared, basics
):
    ada, more = cleared("Ada Quill"), shop.induction("Knives")
    bench, knife, brush = (shop.machine(name, area=yard) for name in ("Bench", "Knife", "Brush"))
    for machine, induction in ((bench, basics), (knife, more), (brush, basics)):
        shop.acknowledge(ada, shop.assess(machine, inductions=[induction]))
    with database.write() as session:
        session.get_one(Machine, bench.id).form = Form.BENCH
        for tool in (knife, brush):
            session.get_one(Machine, tool.id).carried_by_id = bench.id
    page = visitor.sign_in(ada).get(f"/m/{shop.code(bench)}").text
    tools = page.split("Tools of this bench")[1].split("</ul>")[0]
    assert tools.index("Brush") < tools.index("Knife")
    assert "Cleared" in tools.split("Knife")[0]
    assert "Not cleared. You have not done the induction “Knives”." in tools.split("Knife")[1]
    assert f"/m/{shop.code(knife)}" in tools
    signed_out = another.get(f"/m/{shop.code(bench)}").text.split("Tools of this bench")[1]
    assert "Not confirmed" in signed_out
    assert "Cleared" not in signed_out.split("</ul>")[0]
