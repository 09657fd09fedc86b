"""Holds and their ends: a preserved scene is released by an approver; every end is signed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.machines.models import Hold, MachineHold
from app.people.models import Role
from tests.app.walk import changed, dump
from tests.factories import PASSWORD

SCENE = {"hold": "scene preserved", "why": "A hand was cut"}
RELEASE = {"tests": "Released after the inquiry; guard test passed"}


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def saw(shop, bay):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine)
    return machine


@pytest.fixture
def technician(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def approver(shop):
    return shop.person("Opal Approver", roles=[Role.APPROVER])


def take_out(visitor, machine, **form):
    return visitor.post(f"/machines/{machine.id}/out-of-use", data=form)


def end_of_first(database, machine):
    with database.read() as session:
        first = session.execute(select(MachineHold).order_by(MachineHold.id)).scalars().first()
    return f"/machines/{machine.id}/holds/{first.id}/end"


def codes(shop, machine):
    reasons = shop.ask(shop.chief, machine).reasons
    return [r.code for r in reasons if r.code != "acknowledgement-outstanding"]


def test_a_technician_keeps_a_scene_with_one_form_and_no_password(shop, visitor, saw, technician):
    visitor.sign_in(technician)
    shop.clock.at += timedelta(minutes=6)
    answer = take_out(visitor, saw, **SCENE)
    assert answer.status_code == 303
    page = visitor.get(answer.headers["Location"]).text
    assert "This does not cut the power. Leave everything as it is." in page
    assert "An approver releases the scene." in page
    assert "Release the scene</button>" not in page
    assert codes(shop, saw) == ["scene-preserved"]


@pytest.mark.parametrize("choice", [{}, {"hold": ""}, {"hold": "out of use"}])
def test_without_another_choice_a_machine_is_simply_out_of_use(
    shop, visitor, saw, technician, choice
):
    visitor.sign_in(technician)
    assert take_out(visitor, saw, why="Smoke", **choice).status_code == 303
    assert codes(shop, saw) == ["out-of-use"]


def test_a_hold_of_no_known_sort_is_refused(visitor, database, saw, technician):
    visitor.sign_in(technician)
    before = dump(database)
    assert take_out(visitor, saw, why="Smoke", hold="resting").status_code == 422
    assert changed(before, dump(database)) == set()


def test_a_technician_cannot_release_a_scene(shop, visitor, database, saw, technician):
    visitor.sign_in(technician)
    take_out(visitor, saw, **SCENE)
    before = dump(database)
    answer = visitor.post(end_of_first(database, saw), data=RELEASE)
    assert answer.status_code == 403
    assert "You may not release a preserved scene in this area." in answer.text
    assert changed(before, dump(database)) == set()
    assert codes(shop, saw) == ["scene-preserved"]


def test_an_approver_of_another_area_cannot_release_a_scene(
    shop, visitor, database, saw, technician
):
    take_out(visitor.sign_in(technician), saw, **SCENE)
    visitor.sign_in(shop.person(roles=[Role.APPROVER], area=shop.area("Wood bay")))
    assert visitor.post(end_of_first(database, saw), data=RELEASE).status_code == 403
    assert codes(shop, saw) == ["scene-preserved"]


def test_an_approver_releases_a_scene_and_the_record_says_so(
    shop, visitor, database, saw, technician, approver
):
    take_out(visitor.sign_in(technician), saw, **SCENE)
    visitor.sign_in(approver)
    assert "Release the scene</button>" in visitor.get(f"/machines/{saw.id}").text
    answer = visitor.post(end_of_first(database, saw), data=RELEASE)
    assert answer.status_code == 303
    assert "Panel saw: scene released." in visitor.get(answer.headers["Location"]).text
    assert codes(shop, saw) == []
    with database.read() as session:
        end = session.execute(select(MachineHold).order_by(MachineHold.id.desc())).scalars().first()
    assert (end.hold, end.recorded_by_id) == (Hold.SCENE_PRESERVED, approver.id)


def test_a_scene_outlasts_the_return_to_use_from_another_hold(
    shop, visitor, database, saw, technician
):
    visitor.sign_in(technician)
    take_out(visitor, saw, why="Smoke")
    take_out(visitor, saw, **SCENE)
    answer = visitor.post(end_of_first(database, saw), data={"tests": "Ran it empty"})
    assert "Another hold still stands." in visitor.get(answer.headers["Location"]).text
    assert codes(shop, saw) == ["scene-preserved"]


@pytest.mark.parametrize("form", [{"hold": "out of use", "why": "Smoke"}, SCENE])
def test_every_end_of_a_hold_is_signed_with_the_password(
    shop, visitor, database, saw, approver, technician, form
):
    take_out(visitor.sign_in(technician), saw, **form)
    stopped = codes(shop, saw)
    visitor.sign_in(approver)
    shop.clock.at += timedelta(minutes=6)
    assert 'type="password"' in visitor.get(f"/machines/{saw.id}").text
    end = end_of_first(database, saw)
    for wrong in ({}, {"password": "not mine"}):
        answer = visitor.post(end, data={**RELEASE, **wrong})
        assert answer.status_code == 403
        assert "That is not your password. Nothing was recorded." in answer.text
    assert codes(shop, saw) == stopped
    assert visitor.post(end, data={**RELEASE, "password": PASSWORD}).status_code == 303
    assert codes(shop, saw) == []
