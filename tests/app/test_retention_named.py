"""Everything on record is named for how long it is kept and whom it names."""

from __future__ import annotations

import pytest
from sqlalchemy import JSON, Enum, LargeBinary, String

import app.models
from app.db import Base
from app.retention.named import BY, NAMED
from app.retention.schedule import kinds

assert app.models
TABLES = sorted(Base.metadata.tables)
HOW = "add it to its line in app/retention/named.py, whose head says how: "


def points_at_people(column):
    return any(key.column.table.name == "person" for key in column.foreign_keys)


def holds_words(column):
    kind = column.type
    return isinstance(kind, String | JSON | LargeBinary) and not isinstance(kind, Enum)


def test_every_table_is_named_for_how_long_it_is_kept():
    unnamed = sorted(set(TABLES) - set(NAMED))
    assert not unnamed, (
        "say in one line of app/retention/named.py how long its rows are kept: "
        + ", ".join(f'"{table}": Named("…")' for table in unnamed)
    )
    assert set(NAMED) <= set(TABLES), "a table that is no more is still named"


@pytest.mark.parametrize("table", TABLES)
def test_every_column_of_words_or_of_a_person_is_named(table):
    named, columns = NAMED[table], Base.metadata.tables[table].columns
    people = {c.name for c in columns if points_at_people(c)} - {BY}
    assert people - set(named.people) == set(), f"{HOW}about or by, in {table}"
    words = {c.name for c in columns if holds_words(c)}
    assert words - set(named.texts) == set(), f"{HOW}words, signs, notes, files… in {table}"
    assert set(named.texts) <= words, f"{table} has no such text"
    twice = [name for name in named.texts if named.texts.count(name) > 1]
    assert not twice, f"{table} names {twice} twice"


@pytest.mark.parametrize("table", TABLES)
def test_what_a_line_says_is_there(table):
    named, columns = NAMED[table], Base.metadata.tables[table].columns
    assert named.kind in kinds(), f"{table}: no such kind in app/retention/schedule.toml"
    told = " ".join((named.since, named.part_of, named.over, named.newest))
    for name in [*named.people, *told.split()]:
        assert name in columns, f"{table} has no column {name}"
    if "." in named.about:
        mine, theirs = named.about.split(".")
        (key,) = columns[mine].foreign_keys
        assert theirs in key.column.table.columns, table
    if named.part_of:
        (key,) = columns[named.part_of].foreign_keys
        assert NAMED[key.column.table.name].kind == named.kind, table


@pytest.mark.parametrize("table", TABLES)
def test_a_digest_is_of_a_note_a_file_or_nothing_of_a_person(table):
    """A new column of a note or a file that is called a code would never be emptied."""
    named = NAMED[table]
    digests = {c.name for c in Base.metadata.tables[table].columns if c.name.endswith("_digest")}
    kept = set(f"{named.notes} {named.own} {named.files} {named.frozen}".split())
    of_code = {
        "token_digest",
        "key_digest",
        "headings_digest",
        "plan_digest",
        "person_import.file_digest",
        "people_list.file_digest",
        "register_export.file_digest",
    }
    for name in digests - kept:
        assert name in of_code or f"{table}.{name}" in of_code, (table, name)
