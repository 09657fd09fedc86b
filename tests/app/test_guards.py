"""Evidence is never changed: the database itself refuses, whoever asks and however."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlalchemy import JSON, Column, Connection, Table, delete, text, update
from sqlalchemy.exc import DatabaseError

import app.models  # the metadata is whole
from app.db import Base, Database, UtcDateTime, append_only_tables
from app.people.models import Membership

REFUSED = "evidence is never changed"
TABLES = append_only_tables()

assert app.models


def any_value(column: Column[Any]) -> Any:
    """Return a value that the column can hold. Foreign keys are off while it is written."""
    if column.nullable:
        return None
    if hasattr(column.type, "enums"):
        return column.type.enum_class(column.type.enums[0])
    if isinstance(column.type, JSON):
        return ["a"]
    if isinstance(column.type, UtcDateTime):
        return datetime(2026, 3, 10, tzinfo=UTC)
    known: dict[type, Any] = {
        int: 1,
        str: "x",
        bool: True,
        date: date(2026, 3, 10),
    }
    return known[column.type.python_type]


def plant(connection: Connection, table: Table) -> None:
    connection.execute(table.insert(), {c.name: any_value(c) for c in table.columns})


def rows(database: Database, table: str) -> list[str]:
    with database.reader.connect() as connection:
        return [str(row) for row in connection.execute(text(f"SELECT * FROM {table}"))]


@pytest.fixture
def planted(database: Database) -> Database:
    """One row in every append-only table, its references left hanging."""
    with database.writer.connect() as connection:
        driver: Any = connection.connection.dbapi_connection
        driver.execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            for name in TABLES:
                plant(connection, Base.metadata.tables[name])
        driver.execute("PRAGMA foreign_keys = ON")
    return database


def attempts(table: str) -> Iterator[str]:
    """Give the raw ways to change or remove a row that exist on both databases."""
    columns = [c.name for c in Base.metadata.tables[table].columns if c.name != "id"]
    column, names = columns[0], ", ".join(columns)
    yield f"UPDATE {table} SET {column} = {column}"
    yield f"UPDATE {table} SET {column} = {column} WHERE id = 1"
    yield f"UPDATE {table} SET id = id + 1"
    yield f"DELETE FROM {table}"
    yield f"DELETE FROM {table} WHERE id = 1"
    yield (
        f"INSERT INTO {table} (id, {names}) SELECT id, {names} FROM {table} WHERE true "
        f"ON CONFLICT (id) DO UPDATE SET {column} = excluded.{column}"
    )


def assert_refused(database: Database, table: str, statement: str) -> None:
    before = rows(database, table)
    assert before, table
    with pytest.raises(DatabaseError, match=REFUSED), database.writer.begin() as connection:
        connection.execute(text(statement))
    assert rows(database, table) == before, statement


@pytest.mark.parametrize("table", TABLES)
def test_sqlite_refuses_every_raw_way_to_change_evidence(planted, table):
    names = ", ".join(c.name for c in Base.metadata.tables[table].columns)
    for statement in attempts(table):
        assert_refused(planted, table, statement)
    assert_refused(
        planted, table, f"INSERT OR REPLACE INTO {table} ({names}) SELECT {names} FROM {table}"
    )
    assert_refused(planted, table, f"REPLACE INTO {table} ({names}) SELECT {names} FROM {table}")
    assert_refused(planted, table, f"UPDATE OR REPLACE {table} SET id = id")
    assert_refused(planted, table, f"UPDATE OR IGNORE {table} SET id = id + 1")


def test_a_replace_that_meets_another_unique_column_is_refused_too(shop, database):
    machine = shop.machine()
    with database.write() as session:
        session.execute(
            text(
                "INSERT INTO start (key, machine_id, person_id, recorded_by_id, verdict, reasons,"
                " rules, occurred_at, recorded_at)"
                " VALUES ('k', :m, :p, :p, 'cleared', '[]', 1, '2026-03-10', '2026-03-10')"
            ),
            {"m": machine.id, "p": shop.chief.id},
        )
    names = "key, machine_id, person_id, recorded_by_id, verdict, reasons, rules"
    assert_refused(
        database,
        "start",
        f"INSERT OR REPLACE INTO start ({names}, occurred_at, recorded_at)"
        " SELECT key, machine_id, person_id, recorded_by_id, 'supervised', reasons, rules,"
        " occurred_at, recorded_at FROM start",
    )


def test_a_change_through_the_mapper_is_refused(shop, database):
    before = rows(database, "membership")

    def change(column: str, value: object) -> None:
        with database.write() as session:
            setattr(session.get_one(Membership, 1), column, value)

    def remove() -> None:
        with database.write() as session:
            session.delete(session.get_one(Membership, 1))

    with pytest.raises(DatabaseError, match=REFUSED):
        change("ends_on", date(2099, 1, 1))
    with pytest.raises(DatabaseError, match=REFUSED):
        change("person_id", shop.author.id)
    with pytest.raises(DatabaseError, match=REFUSED):
        remove()
    assert rows(database, "membership") == before


def test_a_bulk_change_through_the_mapper_is_refused(shop, database):
    before = rows(database, "membership")
    changes = (
        update(Membership).values(ends_on=None),
        update(Membership).where(Membership.id == 1).values(ends_on=date(2099, 1, 1)),
        delete(Membership),
        delete(Membership).where(Membership.id == 1),
    )
    for statement in changes:
        with pytest.raises(DatabaseError, match=REFUSED), database.write() as session:
            session.execute(statement)
    with pytest.raises(DatabaseError, match=REFUSED), database.write() as session:
        session.bulk_update_mappings(Membership, [{"id": 1, "ends_on": date(2099, 1, 1)}])
    assert rows(database, "membership") == before


def test_what_is_refused_leaves_nothing_of_its_transaction(shop, database):
    before = rows(database, "area")
    add = text("INSERT INTO area (name, place, help) VALUES ('New', '', '')")
    remove = text("DELETE FROM membership")

    def add_and_remove() -> None:
        with database.write() as session:
            session.execute(add)
            session.execute(remove)

    with pytest.raises(DatabaseError, match=REFUSED):
        add_and_remove()
    assert rows(database, "area") == before


def test_the_identity_of_a_row_is_never_given_out_twice(database):
    with database.reader.connect() as connection:
        for table in TABLES:
            made_by = connection.execute(
                text("SELECT sql FROM sqlite_master WHERE name = :table"), {"table": table}
            ).scalar_one()
            assert "AUTOINCREMENT" in made_by.upper(), table


@pytest.mark.postgresql
def test_postgresql_refuses_every_raw_way_to_change_evidence(register):
    database = register.database
    with database.writer.begin() as connection:
        # A superuser's switch for loading data: here only so that references may hang.
        connection.execute(text("SET LOCAL session_replication_role = replica"))
        for name in TABLES:
            connection.execute(text(f"DELETE FROM {name}"))
            plant(connection, Base.metadata.tables[name])
    for table in TABLES:
        for statement in attempts(table):
            assert_refused(database, table, statement)
        assert_refused(database, table, f"TRUNCATE {table} CASCADE")


@pytest.mark.postgresql
def test_postgresql_refuses_a_merge_and_changes_through_the_mapper(register):
    database = register.database
    before = rows(database, "membership")
    assert_refused(
        database,
        "membership",
        "MERGE INTO membership USING (SELECT 1 AS one) AS s ON membership.id = s.one"
        " WHEN MATCHED THEN DELETE",
    )
    for statement in (update(Membership).values(ends_on=None), delete(Membership)):
        with pytest.raises(DatabaseError, match=REFUSED), database.write() as session:
            session.execute(statement)
    assert rows(database, "membership") == before


def test_a_program_that_sets_no_pragma_cannot_replace_a_row_either(shop, settings):
    shop.person("Ada Quill")
    with closing(sqlite3.connect(settings.data / "chuckkey.sqlite")) as bare:
        assert bare.execute("PRAGMA recursive_triggers").fetchone() == (0,)
        before = bare.execute("SELECT * FROM audit_entry").fetchall()
        for column in ("id, sequence", "sequence"):
            with pytest.raises(sqlite3.IntegrityError, match="evidence is never changed"):
                bare.execute(
                    f"INSERT OR REPLACE INTO audit_entry ({column}, action, subject, detail,"
                    f" recorded_at, previous_seal, seal) SELECT {column}, 'forged', subject,"
                    " detail, recorded_at, previous_seal, seal FROM audit_entry"
                )
        assert bare.execute("SELECT * FROM audit_entry").fetchall() == before
