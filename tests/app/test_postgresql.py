"""The same walks on PostgreSQL: what was answered on SQLite is answered there too."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from flask import Flask
from sqlalchemy import select, text

from app import create_app
from app.audit.log import broken_at
from app.hazards.models import Outcome
from app.inductions.models import InductionItem
from app.people.models import Role
from app.presence.models import Start
from app.training.standing import Result
from tests.app.group import Together
from tests.app.test_access import BEFORE_THE_SIGN_IN, OWN, OWN_RULES
from tests.app.walk import KEY, build, changed, changing, dump, rules
from tests.conftest import Visitor

pytestmark = pytest.mark.postgresql


@pytest.fixture
def served(register, settings, clock) -> Iterator[Flask]:
    """The program over a PostgreSQL database."""
    url = register.database.url
    app = create_app(replace(settings, database_url=url, embedded=False), clock=clock)
    app.config["WTF_CSRF_ENABLED"] = False
    yield app
    app.extensions["chuckkey"].database.close()


@pytest.fixture
def phone(served) -> Visitor:
    return Visitor(served.test_client())


def test_every_page_opens(register, served, phone):
    world = build(register)
    phone.sign_in(register.person(roles=list(Role)))
    for rule in rules(served, "GET"):
        if rule.endpoint not in OWN_RULES:
            with phone.get(world.address(served, rule)) as page:
                assert page.status_code in (200, 303), rule


def test_looking_writes_nothing_and_who_may_not_changes_nothing(register, served, phone):
    world = build(register)
    phone.sign_in(register.person(roles=[Role.AUDITOR]))
    before = dump(register.database)
    for rule in rules(served, "GET"):
        phone.get(world.address(served, rule)).close()
    for method, rule in changing(served):
        if rule.endpoint not in OWN | BEFORE_THE_SIGN_IN:
            phone.client.open(world.address(served, rule), method=method)
    assert changed(before, dump(register.database)) == set()


def test_from_the_sign_off_to_the_start(register, served, phone):
    basics, saw = register.induction("Basics"), register.machine("Panel saw")
    check = register.check()
    revision = register.assess(saw, inductions=[basics], checks=[check])
    technician, ada = register.technician(basics), register.person("Ada Quill")
    address = f"/m/{register.code(saw)}"
    phone.sign_in(technician)
    with register.database.read() as session:
        items = list(session.execute(select(InductionItem.id)).scalars())
    sheet = f"/people/{ada.id}/inductions/{basics.id}"
    form = {"key": KEY, "seen_record_id": "0", "item": items, "result": "on their own"}
    assert phone.post(sheet, data={**form, "note": "Left hand"}).status_code == 303
    assert phone.post(sheet, data=form).status_code == 303  # sent twice
    second = {**form, "key": "the-key-of-another"}
    assert phone.post(sheet, data=second).status_code == 409
    assert phone.post(f"/machines/{saw.id}/checks/{check.id}", data={"outcome": "passed"})
    assert register.codes(ada, saw) == ["acknowledgement-outstanding"]
    phone.sign_in(ada)
    assert phone.post(f"/acknowledge/{revision}").status_code == 303
    assert '<span class="word">Cleared</span>' in phone.get(address).text
    start = {"person_id": ada.id, "key": KEY, "material": "none"}
    for _ in range(2):
        assert phone.post(f"{address}/start", data=start).status_code == 303
    with register.database.read() as session:
        assert session.execute(select(Start.verdict)).scalars().all() == ["cleared"]
        assert broken_at(session) is None


def test_a_failed_check_a_hold_and_a_withdrawal_stop_everybody(register):
    check, saw = register.check(), register.machine()
    register.assess(saw, checks=[check])
    register.do(check, saw)
    assert register.codes(register.chief, saw) == ["acknowledgement-outstanding"]
    register.clock.at += timedelta(minutes=1)
    register.do(check, saw, Outcome.FAILED)
    assert "check-failed" in register.codes(register.chief, saw)


def test_standings_with_prerequisites_are_read_alike(register):
    first = register.induction()
    second = register.induction(requires=[first])
    saw, ada = register.machine(), register.person()
    register.acknowledge(ada, register.assess(saw, inductions=[second]))
    register.hold(ada, second)
    assert register.codes(ada, saw) == ["prerequisite-lapsed"]
    register.hold(ada, first, Result.SUPERVISED)
    assert register.codes(ada, saw) == ["prerequisite-with-supervision"]
    register.clock.at += timedelta(days=1)
    register.hold(ada, first)
    assert register.codes(ada, saw) == []


def test_instants_come_back_as_they_went_in_whatever_the_server_s_zone(register):
    with register.database.writer.connect() as connection:
        connection.execute(text("SET TIME ZONE 'Pacific/Kiritimati'"))
        kept = connection.execute(text("SELECT max(recorded_at) FROM audit_entry")).scalar_one()
    assert kept == register.now
    assert kept.utcoffset() is not None


def test_names_are_found_whatever_the_case_of_their_letters(register, phone):
    register.person("Ada Quill")
    phone.sign_in(register.author)
    assert "Ada Quill" in phone.get("/people?q=ADA").text
    assert "Ada Quill" not in phone.get("/people?q=%25da").text


def test_a_group_is_signed_off_and_has_read(register, served, phone):
    together = Together(register)
    sheet = register.assess(register.machine(), inductions=[together.basics])
    ada, bo, _ = together.people
    phone.sign_in(together.technician)
    register.sign_off(register.technician(together.basics), bo, together.basics)
    answer = phone.post(together.address, data=together.form(aside=[str(ada.id)]))
    assert answer.status_code == 409
    assert "Recorded: 1. Not recorded: 1." in answer.text
    reading = {"read": [str(bo.id)], "shown": [str(sheet)], "witnessed": "yes"}
    assert phone.post(f"{together.address}/read", data=reading).status_code == 303
    page = phone.get(together.address).text
    assert f'name="read" value="{bo.id}"' not in page
    assert f'name="record_{ada.id}"' in page
