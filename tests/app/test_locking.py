"""Many at once: nothing is lost, nobody waits for ever, and the log has no gaps."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager

import pytest
from sqlalchemy import func, select, text
from sqlalchemy.exc import DBAPIError

import app.db
from app.audit.log import broken_at
from app.audit.models import AuditEntry
from app.db import Database
from app.errors import Refused
from app.people.models import Person
from app.training.models import SignOff, TrainingRecord
from tests.app.walk import changed, dump
from tests.factories import Workshop


def together(work: list[Callable[[], object]]) -> list[object]:
    """Do all of it at the same time; return the results, or what was raised instead."""
    ready = threading.Barrier(len(work))

    def one(task: Callable[[], object]) -> object:
        ready.wait(timeout=30)
        try:
            return task()
        except (Refused, DBAPIError) as error:
            return error

    with ThreadPoolExecutor(len(work)) as pool:
        return list(pool.map(one, work))


def count(database: Database, model: type) -> int:
    with database.read() as session:
        return session.execute(select(func.count(model.id))).scalar_one()


def assert_the_log_is_whole(database: Database) -> None:
    with database.read() as session:
        assert broken_at(session) is None
        numbers = list(session.execute(select(AuditEntry.sequence)).scalars())
    assert sorted(numbers) == list(range(1, len(numbers) + 1))


def assert_sign_offs_side_by_side_are_all_kept(shop: Workshop) -> None:
    basics = shop.induction()
    technicians = [shop.technician(basics) for _ in range(3)]
    people = [shop.person() for _ in range(8)]
    before = count(shop.database, SignOff)
    results = together(
        [
            lambda i=i, person=person: shop.sign_off(technicians[i % 3], person, basics)
            for i, person in enumerate(people)
        ]
    )
    assert all(isinstance(result, int) for result in results), results
    assert count(shop.database, SignOff) == before + len(people)
    assert_the_log_is_whole(shop.database)


def assert_the_second_of_two_is_told(shop: Workshop, sign_off: Callable[..., int]) -> None:
    """Both opened the page before either had signed: only one of them may be recorded."""
    basics = shop.induction()
    first, second, ada = shop.technician(basics), shop.technician(basics), shop.person()
    with shop.database.read() as session:
        kept = session.execute(select(func.count(TrainingRecord.id))).scalar_one()
    results = together([lambda by=by: sign_off(by, ada, basics, seen=0) for by in (first, second)])
    refused = [result for result in results if isinstance(result, Refused)]
    assert len(refused) == 1, results
    assert refused[0].code == "changed-meanwhile"
    assert count(shop.database, TrainingRecord) == kept + 1
    assert_the_log_is_whole(shop.database)


def assert_one_form_sent_many_times_is_one_record(shop: Workshop) -> None:
    basics = shop.induction()
    technician, ada = shop.technician(basics), shop.person()
    key = "one-form-sent-often"
    send = [lambda: shop.sign_off(technician, ada, basics, key=key) for _ in range(4)]
    results = together(send)
    assert len(set(results)) == 1, results
    assert count(shop.database, SignOff) == 1


@contextmanager
def held_by_another_process(database: Database):
    """Hold the write lock, as another process would that hangs."""
    other = Database(database.url)
    with closing(other), other.writer.connect() as connection, connection.begin():
        connection.execute(text("SELECT 1"))
        yield


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait for half a second instead of five."""
    monkeypatch.setattr(app.db, "LOCK_WAIT_SECONDS", 0.5)


def test_sign_offs_side_by_side_are_all_kept(shop):
    assert_sign_offs_side_by_side_are_all_kept(shop)


def test_of_two_technicians_at_once_the_second_is_told(shop):
    assert_the_second_of_two_is_told(shop, shop.sign_off)


def test_one_form_sent_many_times_at_once_is_one_record(shop):
    assert_one_form_sent_many_times_is_one_record(shop)


@pytest.mark.postgresql
def test_postgresql_keeps_all_sign_offs_side_by_side(register):
    assert_sign_offs_side_by_side_are_all_kept(register)


@pytest.mark.postgresql
def test_postgresql_tells_the_second_of_two_technicians_at_once(register):
    assert_the_second_of_two_is_told(register, register.sign_off)


@pytest.mark.postgresql
def test_postgresql_keeps_one_record_of_a_form_sent_many_times(register):
    assert_one_form_sent_many_times_is_one_record(register)


def test_a_writer_waits_for_another_to_finish(shop):
    done: list[float] = []

    def hold() -> None:
        with shop.database.write() as session:
            session.execute(select(Person.id))
            time.sleep(1)
            done.append(time.monotonic())

    holder = threading.Thread(target=hold)
    holder.start()
    time.sleep(0.3)
    shop.person("Ada Quill")  # no "database is locked"
    assert done, "it did not wait"
    holder.join()


def test_a_reader_waits_for_nobody_and_sees_what_was_committed(shop, visitor):
    saw = shop.machine("Panel saw")
    with held_by_another_process(shop.database):
        begun = time.monotonic()
        assert "Panel saw" in visitor.get(f"/m/{shop.code(saw)}").text
        assert time.monotonic() - begun < 2


def test_a_database_locked_for_too_long_is_told_and_nothing_is_half_written(
    impatient, settings, clock
):
    from app import create_app

    served = create_app(settings, clock=clock)
    served.config["WTF_CSRF_ENABLED"] = False
    database = served.extensions["chuckkey"].database
    saw = Workshop(database, clock)
    machine, client = saw.machine(), served.test_client()
    sent = {"login": saw.author.email, "password": "correct horse battery"}
    assert client.post("/sign-in", data=sent).status_code == 303
    before = dump(database)
    with held_by_another_process(database):
        address = f"/machines/{machine.id}/out-of-use"
        answer = client.post(address, data={"why": "Smoke"})
        asked_as_json = client.post(
            address, data={"why": "Smoke"}, headers={"Accept": "application/json"}
        )
    assert answer.status_code == 503
    assert "The register is busy. Nothing was recorded; try again in a moment." in answer.text
    assert asked_as_json.status_code == 503
    assert asked_as_json.json["error"]["code"] == "register-unavailable"
    assert changed(before, dump(database)) == set()
    assert client.post(address, data={"why": "Smoke"}).status_code == 303  # it comes back
    database.close()


@pytest.mark.postgresql
def test_postgresql_locked_for_too_long_is_told_and_nothing_is_half_written(
    impatient, register, settings, clock
):
    from dataclasses import replace

    from app import create_app

    machine = register.machine()
    url = register.database.url
    served = create_app(replace(settings, database_url=url, embedded=False), clock=clock)
    served.config["WTF_CSRF_ENABLED"] = False
    client = served.test_client()
    sent = {"login": register.author.email, "password": "correct horse battery"}
    assert client.post("/sign-in", data=sent).status_code == 303
    before = dump(register.database)
    with held_by_another_process(register.database):
        answer = client.post(f"/machines/{machine.id}/out-of-use", data={"why": "Smoke"})
    assert answer.status_code == 503
    assert "The register is busy." in answer.text
    assert changed(before, dump(register.database)) == set()
    served.extensions["chuckkey"].database.close()


def test_a_writer_that_fails_gives_the_lock_back(shop):
    def fail() -> None:
        with shop.database.write() as session:
            session.add(Person(name="Half", registered_at=shop.now))
            session.flush()
            raise Refused("Something came between.")

    with pytest.raises(Refused):
        fail()
    shop.person("Ada Quill")
    with shop.database.read() as session:
        assert session.execute(select(Person).where(Person.name == "Half")).first() is None
