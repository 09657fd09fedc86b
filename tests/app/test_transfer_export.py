"""The register as a file: everything that may leave, nothing that may not, harmless to open."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import subprocess
import sys
import zipfile
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

import app.models
from app.audit.chain import FIRST_SEAL
from app.db import Base
from app.jobs.worker import work_once
from app.people.models import Person
from app.people.rights import Role
from app.training.suspension import suspend
from app.transfer.export import as_it_was, handlers, harmless
from app.transfer.exported import GROUPS, STAYING, WITHHELD
from app.transfer.models import RegisterExport

assert app.models
LEAVING = {
    name: columns.split() for _w, tables in GROUPS.values() for name, columns in tables.items()
}


class Archive:
    """An export, opened."""

    def __init__(self, data):
        self.zip = zipfile.ZipFile(io.BytesIO(data))
        self.names = self.zip.namelist()

    def rows(self, name):
        text = self.zip.read(name).decode("utf-8")
        return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def made(world, visitor, settings):
    """An export of a workshop that has one of everything, as it is handed out."""
    shop = world.shop
    with shop.database.write() as session:
        session.get_one(Person, world.person.id).name = '=cmd|" /C calc"!A0'
        actor = shop.actor(shop.author)
        suspend(session, actor=actor, person_id=shop.chief.id, reason="Private words", now=shop.now)
        chief = shop.person  # the chief is suspended, so another administrator asks
    visitor.sign_in(chief("Adam Admin", roles=[Role.ADMINISTRATOR]))
    assert visitor.post("/export").status_code == 303
    work(shop, settings)
    with shop.database.read() as session:
        row = session.execute(select(RegisterExport)).scalars().first()
    answer = visitor.get(f"/export/{row.id}.zip")
    data = answer.data
    answer.close()
    assert answer.status_code == 200
    assert hashlib.sha256(data).hexdigest() == row.file_digest
    assert len(data) == row.bytes
    return Archive(data)


def work(shop, settings):
    while work_once(shop.database, shop.clock, handlers(shop.database, shop.clock, settings)):
        pass


# --- what leaves --------------------------------------------------------------------------


def test_every_table_is_named_as_leaving_or_as_staying():
    tables = set(Base.metadata.tables)
    assert set(LEAVING) | set(STAYING) == tables, "app/transfer/exported.py"
    assert set(LEAVING).isdisjoint(STAYING)


def test_a_worker_that_has_met_no_other_part_knows_every_table():
    words = "from app.transfer.export import schema; print(len(schema()['$defs']))"
    command = [sys.executable, "-c", words]
    found = subprocess.run(command, check=True, capture_output=True, text=True, timeout=60)
    assert int(found.stdout) == len(LEAVING)


@pytest.mark.parametrize("table", sorted(LEAVING))
def test_every_column_is_named_as_leaving_or_as_staying(table):
    columns = {column.name for column in Base.metadata.tables[table].columns}
    staying = {name for name in columns if name in WITHHELD or f"{table}.{name}" in WITHHELD}
    assert set(LEAVING[table]) | staying == columns, "app/transfer/exported.py"
    assert staying.isdisjoint(LEAVING[table])


def test_an_export_holds_every_row_of_what_leaves(made, database):
    with database.reader.connect() as connection:
        for group, (_words, tables) in GROUPS.items():
            for table in tables:
                rows = made.rows(f"{group}/{table}.csv")
                there = connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one()
                assert len(rows) == there, table
    assert made.zip.testzip() is None


def test_no_secret_and_no_private_word_leaves(made, database):
    whole = b"\n".join(made.zip.read(name) for name in made.names).decode()
    with database.reader.connect() as connection:
        for statement in (
            "SELECT password_hash FROM person WHERE password_hash IS NOT NULL",
            "SELECT token_digest FROM sign_in",
            "SELECT words FROM private_note WHERE words IS NOT NULL",
            "SELECT digest FROM private_note",
        ):
            secrets = connection.exec_driver_sql(statement).scalars().all()
            assert secrets, statement
            for secret in secrets:
                assert secret not in whole, statement
    assert "$argon2" not in whole


def test_a_frozen_assessment_leaves_as_the_text_that_was_frozen(made, world):
    rows = made.rows("assessments/assessment_revision.csv")
    name = f"assessments/frozen/{world.values['reference']}-1.json"
    frozen = made.zip.read(name)
    assert hashlib.sha256(frozen).hexdigest() == rows[0]["digest"]
    assert json.loads(frozen)


def test_the_log_leaves_whole(made):
    rows = made.rows("log/audit_entry.csv")
    before = FIRST_SEAL
    for sequence, row in enumerate(rows, 1):
        assert (int(row["sequence"]), row["previous_seal"]) == (sequence, before)
        before = row["seal"]


def test_cells_fit_the_schema_that_goes_with_them(made):
    schema = json.loads(made.zip.read("schema.json"))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    for name in made.names:
        if not name.endswith(".csv"):
            continue
        described = schema["$defs"][name.removesuffix(".csv")]
        for row in made.rows(name):
            assert list(row) == described["required"] == list(described["properties"])
            for column, cell in row.items():
                assert fits(described["properties"][column], cell), (name, column, cell)


def fits(kind, cell):
    """Read a cell as README.txt says, and hold it against its description."""
    from datetime import date, datetime

    if cell == "":
        return kind in ({}, {"type": "string"}) or {"type": "null"} in kind.get("anyOf", ())
    kind = kind.get("anyOf", [kind])[0]
    if "enum" in kind:
        return cell in kind["enum"]
    if kind.get("type") == "boolean":
        return cell in ("true", "false")
    if kind.get("type") == "integer":
        return str(int(cell)) == cell
    if kind.get("format") == "date":
        return date.fromisoformat(cell)
    if kind.get("format") == "date-time":
        return cell.endswith("Z") and datetime.fromisoformat(cell)
    return kind == {"type": "string"} or json.loads(as_it_was(cell)) is not None


def test_a_name_that_a_spreadsheet_would_run_does_not_run(made, world):
    (row,) = [row for row in made.rows("people/person.csv") if int(row["id"]) == world.person.id]
    assert row["name"] == """'=cmd|" /C calc"!A0"""
    for name in made.names:
        if name.endswith(".csv"):
            for row in made.rows(name):
                for cell in row.values():
                    assert not cell.startswith(("=", "+", "@", "\t", "\r"))
                    assert not cell.startswith("-") or cell[1:].isdigit()


@given(st.text(st.sampled_from("=+-@'\t\r\n＝ａ1")))
def test_what_was_made_harmless_can_be_read_as_it_was(words):
    assert as_it_was(harmless(words)) == words
    assert not harmless(words).startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝"))


# --- who, when, and until when ------------------------------------------------------------


@pytest.mark.parametrize("role", list(Role))
def test_administrators_and_auditors_export_and_nobody_else(shop, visitor, role):
    visitor.sign_in(shop.person("Pat", roles=[role]))
    status = 303 if role in (Role.ADMINISTRATOR, Role.AUDITOR) else 403
    assert visitor.post("/export").status_code == status
    assert visitor.get("/export").status_code == (200 if status == 303 else 403)
    assert visitor.get("/export/1.zip").status_code == (404 if status == 303 else 403)


def test_asked_for_twice_while_it_is_made_it_is_made_once(shop, visitor, settings):
    visitor.sign_in(shop.chief)
    for _ in range(2):
        visitor.post("/export")
    assert "Being made" in visitor.get("/export").text
    work(shop, settings)
    assert len(list((settings.data / "exports").iterdir())) == 1
    assert "register-20260310-0900-1.zip" in visitor.get("/export").text


def test_a_day_later_the_file_is_gone(shop, visitor, settings):
    visitor.sign_in(shop.chief)
    visitor.post("/export")
    work(shop, settings)
    shop.clock.at += timedelta(days=1, minutes=1)
    work(shop, settings)
    assert list((settings.data / "exports").iterdir()) == []
    visitor.sign_in(shop.chief)
    assert "Removed" in visitor.get("/export").text
    assert visitor.get("/export/1.zip").status_code == 404
