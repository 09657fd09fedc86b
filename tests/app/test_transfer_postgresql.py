"""A list applied, two rows merged and the register exported on PostgreSQL."""

from __future__ import annotations

import io
import zipfile

import pytest
from sqlalchemy import select

from app.jobs.worker import work_once
from app.people.models import Person
from app.transfer import lists
from app.transfer.choices import Choices
from app.transfer.columns import suggest
from app.transfer.export import write_export
from app.transfer.merge import merge
from app.transfer.models import PeopleList, PersonKey
from app.transfer.reading import read
from app.transfer.words import Phase
from app.transfer.work import handlers
from tests.app.test_transfer_lists import TWO

pytestmark = pytest.mark.postgresql


def through(shop, data):
    """Send a list, rehearse it, and apply it if it changes anything; return it."""
    by = {"actor_id": shop.chief.id, "now": shop.now}
    headings = read(data).rows[0][1]
    choices = Choices(columns=suggest(headings), source="campus")
    work = handlers(shop.database, shop.clock)
    with shop.database.write() as session:
        row = lists.send(session, data, file_name="x.csv", choices=choices, **by)
        lists.rehearse(session, row, choices, headings, **by)
    while work_once(shop.database, shop.clock, work):
        pass
    with shop.database.write() as session:
        row = session.get_one(PeopleList, row.id)
        if row.counts["added"] or row.counts["changed"]:
            lists.apply(session, row, plan_digest=row.plan_digest or "", **by)
    while work_once(shop.database, shop.clock, work):
        pass
    with shop.database.read() as session:
        return session.get_one(PeopleList, row.id)


def test_a_list_is_applied_once_and_the_same_again_changes_nothing(register):
    first = through(register, TWO.encode())
    assert (first.phase, first.counts["added"]) == (Phase.APPLIED, 2)
    again = through(register, TWO.encode("utf-16"))
    assert (again.phase, again.counts["same"]) == (Phase.REHEARSED, 2)
    moved = through(register, TWO.replace("Bo Marsh", "Bo Fenn").encode())
    assert (moved.phase, moved.counts["changed"]) == (Phase.APPLIED, 1)


def test_rows_are_merged_and_the_register_is_exported(register):
    through(register, TWO.encode())
    with register.database.write() as session:
        rows = session.execute(select(Person).where(Person.email.like("%@campus.example")))
        kept, absorbed = rows.scalars()
        merge(
            session, kept, absorbed, why="One", actor_id=register.chief.id,
            today=register.now.date(), now=register.now,
        )  # fmt: skip
        keys = select(PersonKey.key).where(PersonKey.person_id == kept.id)
        assert set(session.execute(keys).scalars()) == {"17", "18"}
    out = io.BytesIO()
    with register.database.read() as session:
        write_export(session, out, at=register.now)
    archive = zipfile.ZipFile(out)
    assert b"Bo Marsh" in archive.read("people/person.csv")
    assert archive.read("people/person_merge.csv").count(b"\n") == 2
