"""Retention on PostgreSQL: the door, an erasure and a run do what they do on SQLite."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.audit.log import broken_at
from app.dates import local_date
from app.machines.holds import take_out
from app.machines.models import MachineHold
from app.people.models import Person
from app.retention import run
from app.retention.work import Work
from app.settings import settings_from
from app.storage import Files
from tests.factories import ZONE


@pytest.mark.postgresql
def test_a_leaver_is_erased_and_what_is_over_goes(register, tmp_path):
    shop = register
    machine = shop.machine()
    ada = shop.person("Ada Quill", starts_on=date(2020, 1, 1), ends_on=shop.now.date())
    basics = shop.induction()
    shop.hold(ada, basics)
    with shop.database.write() as session:
        hold = take_out(
            session, machine, why="Ada Quill saw smoke", actor_id=shop.chief.id, now=shop.now
        )
    shop.clock.at += timedelta(days=366 * 7)
    today = local_date(shop.now, ZONE)
    with shop.database.write() as session:
        row = run.new(session, today=today, actor_id=shop.chief.id, now=shop.now)
        run.keep(session, row, run.plan(session, today=today, now=shop.now))
        assert row.counts["person"] == row.counts["training_record"] == 1
        digest = row.plan_digest
        run.begin(session, row, plan_digest=digest, actor_id=shop.chief.id, now=shop.now)
    settings = settings_from({}, data=tmp_path)
    files = Files(settings.files)
    Work(database=shop.database, clock=shop.clock, settings=settings, files=files).go_through(
        row.id
    )
    with shop.database.read() as session:
        assert session.get_one(Person, ada.id).name == f"Person {ada.id}"
        assert session.get_one(MachineHold, hold.id).why == f"Person {ada.id} saw smoke"
        assert run.plan(session, today=today, now=shop.now).rows == []
        assert broken_at(session) is None
