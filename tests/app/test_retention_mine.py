"""One's own data as a file: all of it, nothing of others, in a form that machines read."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

import app.models
from app.db import Base
from app.people.models import Person
from app.retention.mine import LEFT_OUT, OWN_COLUMNS, columns_of, my_file
from app.retention.named import NAMED
from app.retention.people import whom
from app.storage import Files
from app.training.suspension import suspend
from app.transfer.exported import WITHHELD

assert app.models
ABOUT_PEOPLE = sorted(name for name, named in NAMED.items() if named.about)


def opened(data):
    archive = zipfile.ZipFile(io.BytesIO(data))
    return archive, json.loads(archive.read("data.json"))


@pytest.fixture
def file_of(database, settings, shop):
    def make(person):
        with database.read() as session:
            return opened(my_file(session, Files(settings.files), person.id, at=shop.now))

    return make


@pytest.mark.parametrize("table", ABOUT_PEOPLE)
def test_every_table_about_a_person_is_in_it_or_left_out_with_a_reason(table):
    how = (
        "a table about a person that no export holds: name its columns in OWN_COLUMNS of "
        "app/retention/mine.py, or the reason why it stays in LEFT_OUT: "
    )
    assert (table in columns_of()) != (table in LEFT_OUT), how + table
    assert LEFT_OUT.get(table, "a reason")
    secret = {name for name in OWN_COLUMNS.get(table, "").split() if name in WITHHELD}
    assert not secret


def test_it_holds_every_row_about_the_person_and_none_about_somebody_else(world, database, file_of):
    _archive, data = file_of(world.person)
    with database.read() as session:
        for name in ABOUT_PEOPLE:
            table, named = Base.metadata.tables[name], NAMED[name]
            theirs = whom(table, named) == world.person.id
            there = len(session.execute(table.select().where(theirs)).all())
            assert len(data["about_you"].get(name, [])) == there, name
    assert data["about_you"]["person"][0]["name"] == "Ada Quill"
    assert data["about_you"]["sign_off"]
    whole = json.dumps(data)
    for other in (world.shop.chief, world.technician):
        assert other.name not in whole
        assert other.email not in whole


def test_secrets_and_words_of_others_about_the_person_are_not_in_it(shop, visitor, file_of):
    person = shop.person("Ada Quill")
    with shop.database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.author),
            person_id=person.id,
            reason="Bo saw it",
            now=shop.now,
        )
    visitor.sign_in(person)
    archive, data = file_of(person)
    whole = b"".join(archive.read(name) for name in archive.namelist()).decode()
    assert "Bo saw it" not in whole
    assert "argon2" not in whole
    assert data["about_you"]["suspension"]
    assert data["about_you"]["sign_in"][0]["device"] is not None
    with shop.database.read() as session:
        digest = session.get_one(Person, person.id).password_hash
    assert digest not in whole


def test_who_only_took_part_is_told_which_row_and_no_more(world, file_of):
    _archive, data = file_of(world.technician)
    rows = data["you_did"]["sign_off"]
    assert {"id", "recorded_at", "as"} == set(rows[0])
    assert rows[0]["as"] == "technician"


def test_its_rows_fit_the_schema_that_goes_with_it(world, file_of):
    archive, data = file_of(world.person)
    schema = json.loads(archive.read("schema.json"))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    for table, rows in data["about_you"].items():
        described = schema["$defs"][table]
        for row in rows:
            assert set(row) <= set(described["properties"]), table
            assert set(described["required"]) <= set(row), table
    assert "article" in archive.read("README.txt").decode()


def test_a_person_takes_it_from_their_own_page_and_not_from_a_shared_device(shop, visitor, another):
    person = shop.person("Ada Quill")
    visitor.sign_in(person)
    assert "Your data as a file" in visitor.get("/me").text
    assert "Download my data" in visitor.get("/me/data").text
    answer = visitor.get("/me/data.zip")
    _archive, data = opened(answer.data)
    answer.close()
    assert data["person"] == person.id
    assert another.get("/me/data.zip").status_code == 303
    with visitor.client.session_transaction() as cookie:
        cookie["shared_seen"] = shop.now.timestamp()
    assert visitor.get("/me/data.zip").status_code == 403
    assert "shared device" in visitor.get("/me/data").text
