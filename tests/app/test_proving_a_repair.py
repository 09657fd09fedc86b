"""A test run: one named person runs an out-of-use machine for a while, to prove its repair."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.hazards.models import Outcome
from app.machines.holds import take_out
from app.machines.isolation import isolate
from app.machines.models import Hold, TestRun
from app.people.models import Role
from tests.app.walk import changed, dump
from tests.factories import NOW


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def guard(shop):
    return shop.check()


@pytest.fixture
def revision(shop, saw, basics, guard):
    made = shop.assess(saw, inductions=[basics], checks=[guard])
    shop.do(guard, saw)
    return made


@pytest.fixture
def saw(shop, bay):
    return shop.machine("Panel saw", area=bay)


@pytest.fixture
def ada(shop, revision, basics):
    person = shop.person("Ada Quill")
    shop.hold(person, basics)
    shop.acknowledge(person, revision)
    return person


@pytest.fixture
def tess(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def stopped(shop, saw, revision):
    hold(shop, saw)


def hold(shop, saw, sort=Hold.OUT_OF_USE):
    with shop.database.write() as session:
        take_out(session, saw, why="Belt", hold=sort, actor_id=shop.author.id, now=shop.now)


@pytest.fixture
def allow(visitor, tess, saw):
    visitor.sign_in(tess)

    def send(person, until="10:00", why="New belt", who=None):
        form = {"who": who or person.email, "until": until, "why": why}
        return visitor.post(f"/machines/{saw.id}/test-runs", data=form)

    return send


def answers(shop, person, saw):
    return shop.ask(person, saw).verdict.words, set(shop.codes(person, saw))


def test_one_named_person_may_run_it_until_the_time_and_nobody_else(
    shop, visitor, allow, ada, tess, saw, stopped, basics, revision
):
    bea = shop.person("Bea")
    shop.hold(bea, basics)
    shop.acknowledge(bea, revision)
    assert answers(shop, ada, saw) == ("out of use", {"out-of-use"})
    assert allow(ada).status_code == 303
    assert answers(shop, ada, saw) == ("supervised", {"test-run"})
    assert answers(shop, bea, saw) == ("out of use", {"out-of-use"})
    assert (
        "Test run until 10 Mar, 10:00: Ada Quill alone" in visitor.get(f"/machines/{saw.id}").text
    )
    shop.clock.at = NOW + timedelta(hours=1)
    assert answers(shop, ada, saw) == ("out of use", {"out-of-use"})
    assert "Test run until" not in visitor.get(f"/machines/{saw.id}").text


def test_it_proves_a_failed_check_too(shop, allow, ada, saw, guard):
    shop.clock.at += timedelta(minutes=1)
    shop.do(guard, saw, Outcome.FAILED)
    assert allow(ada).status_code == 303
    assert answers(shop, ada, saw) == ("supervised", {"test-run"})


def test_it_is_ended_by_hand_by_the_named_person_or_who_may_allow_it(
    shop, visitor, another, allow, ada, tess, saw, stopped, database
):
    allow(ada)
    with database.read() as session:
        run = session.execute(select(TestRun)).scalar_one()
    address = f"/machines/{saw.id}/test-runs/{run.id}/end"
    another.sign_in(shop.person())
    assert another.post(address, data={"words": "Runs"}).status_code == 403
    another.sign_in(ada)
    assert another.post(address, data={"words": ""}).status_code == 422
    assert another.post(address, data={"words": "Runs true"}).status_code == 303
    assert answers(shop, ada, saw) == ("out of use", {"out-of-use"})
    assert visitor.post(address, data={"words": "Again"}).status_code == 409
    assert allow(ada).status_code == 303
    with database.read() as session:
        second = session.execute(
            select(TestRun).where(TestRun.ends_id.is_(None)).order_by(TestRun.id.desc())
        ).scalars()
        address = f"/machines/{saw.id}/test-runs/{next(second).id}/end"
    assert visitor.post(address, data={"words": "Enough"}).status_code == 303


def test_a_technician_may_be_named_and_still_needs_an_induction_of_their_own(
    shop, allow, tess, saw, stopped
):
    assert allow(tess).status_code == 303
    verdict, codes = answers(shop, tess, saw)
    assert verdict == "not cleared"
    assert "induction-missing" in codes
    assert "out-of-use" not in codes


def test_whoever_would_not_be_cleared_in_order_is_not_let_run_it(
    shop, allow, saw, stopped, basics, database
):
    newcomer = shop.person("New Comer")
    leaver = shop.person("Lee Ver", ends_on=NOW.date() - timedelta(days=1))
    before = dump(database)
    for person in (newcomer, leaver):
        answer = allow(person)
        assert answer.status_code == 403
        assert person.name in answer.text
    assert changed(before, dump(database)) == set()


@pytest.mark.parametrize(
    ("form", "status"),
    [
        ({"until": "09:00"}, 422),
        ({"until": "08:00"}, 422),
        ({"until": "25:00"}, 422),
        ({"until": ""}, 422),
        ({"why": " "}, 422),
        ({"who": "nobody@puppets.example"}, 422),
        ({"who": "e"}, 422),
        ({"who": "Person"}, 422),  # several are called that
    ],
)
def test_a_test_run_that_says_too_little_is_refused(
    shop, allow, ada, saw, stopped, database, form, status
):
    for _ in range(2):
        shop.person()
    before = dump(database)
    assert allow(ada, **form).status_code == status
    assert changed(before, dump(database)) == set()


def test_a_machine_in_use_needs_no_test_run(allow, ada, revision):
    answer = allow(ada)
    assert answer.status_code == 409
    assert "is not out of use" in answer.text


def test_a_preserved_scene_and_a_lock_are_lifted_by_no_test_run(
    shop, allow, ada, saw, stopped, database
):
    with database.write() as session:
        isolate(
            session,
            saw,
            point="Wall",
            lock_number="7",
            why="Belt",
            actor_id=shop.author.id,
            now=shop.now,
        )
    answer = allow(ada)
    assert answer.status_code == 409
    assert "isolated" in answer.text


def test_a_preserved_scene_is_lifted_by_no_test_run(shop, allow, ada, saw, stopped, database):
    assert allow(ada).status_code == 303
    hold(shop, saw, Hold.SCENE_PRESERVED)
    verdict, codes = answers(shop, ada, saw)
    assert verdict == "out of use"
    assert "scene-preserved" in codes
    assert allow(ada, until="11:00").status_code == 409


def test_one_person_has_one_test_run_at_a_machine(allow, ada, stopped):
    assert allow(ada).status_code == 303
    assert allow(ada, until="11:00").status_code == 409


@pytest.mark.parametrize("role", [None, Role.AUDITOR, Role.ADMINISTRATOR])
def test_nobody_else_allows_one(shop, visitor, ada, saw, stopped, database, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    form = {"who": ada.email, "until": "10:00", "why": "Belt"}
    assert visitor.post(f"/machines/{saw.id}/test-runs", data=form).status_code == 403
    assert changed(before, dump(database)) == set()


def test_a_technician_of_another_area_allows_none(shop, visitor, ada, saw, stopped):
    visitor.sign_in(shop.person(roles=[Role.TECHNICIAN], area=shop.area("Wood bay")))
    form = {"who": ada.email, "until": "10:00", "why": "Belt"}
    assert visitor.post(f"/machines/{saw.id}/test-runs", data=form).status_code == 403
