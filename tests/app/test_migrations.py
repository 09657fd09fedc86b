"""Migrations: every step up and down, the guards after each, and what a start does with them."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text
from sqlalchemy.exc import DatabaseError

import app.models  # the metadata is whole
from app import schema
from app.db import Base, Database, append_only_tables
from app.errors import CannotStart
from app.settings import settings_from

ROOT = Path(__file__).parents[2]
assert app.models
NEXT = '''"""A step of tomorrow."""

import sqlalchemy as sa
from alembic import op

revision = "9999"
down_revision = "{before}"


def upgrade():
    op.create_table("tomorrow", sa.Column("id", sa.Integer(), primary_key=True))


def downgrade():
    op.drop_table("tomorrow")
'''


def steps() -> list[str]:
    """Return the revisions, oldest first."""
    scripts = ScriptDirectory(str(schema.MIGRATIONS))
    return [script.revision for script in reversed(list(scripts.walk_revisions()))]


def tables(database: Database) -> set[str]:
    return set(inspect(database.writer).get_table_names()) - {"alembic_version", "sqlite_sequence"}


def guards(database: Database, table: str) -> set[str]:
    """Return the verbs that the table's triggers refuse."""
    if database.url.startswith("sqlite"):
        asked = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = :table"
    else:
        asked = (
            "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O'"
            " AND tgrelid = to_regclass(:table)"
        )
    with database.writer.connect() as connection:
        names = connection.execute(text(asked), {"table": table}).scalars()
        return {name.rpartition("_")[2] for name in names if name.startswith("guard_")}


def assert_guarded_after_every_step(database: Database) -> None:
    verbs = {"update", "delete"}
    # On SQLite an insert may replace; only PostgreSQL can truncate.
    verbs |= {"insert"} if database.url.startswith("sqlite") else {"truncate"}
    for step in steps():
        schema.upgrade(database, step)
        for table in set(append_only_tables()) & tables(database):
            assert guards(database, table) == verbs, (step, table)
    assert set(append_only_tables()) <= tables(database)
    for step in [*reversed(steps()[:-1]), "base"]:
        schema.downgrade(database, step)
        for table in set(append_only_tables()) & tables(database):
            assert guards(database, table) == verbs, (step, table)


def assert_up_down_up(database: Database) -> None:
    schema.upgrade(database)
    there = tables(database)
    assert there == set(Base.metadata.tables)
    schema.downgrade(database, "base")
    assert tables(database) == set()
    schema.upgrade(database)
    assert tables(database) == there
    with database.writer.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


@pytest.fixture
def empty(tmp_path: Path) -> Database:
    database = Database(f"sqlite:///{tmp_path / 'empty.sqlite'}")
    yield database
    database.close()


def test_sqlite_goes_up_down_and_up_and_equals_the_models(empty):
    assert_up_down_up(empty)


def test_sqlite_keeps_its_guards_after_every_step(empty):
    assert_guarded_after_every_step(empty)


@pytest.mark.postgresql
def test_postgresql_goes_up_down_and_up_and_equals_the_models(postgresql):
    assert_up_down_up(postgresql)


@pytest.mark.postgresql
def test_postgresql_keeps_its_guards_after_every_step(postgresql):
    assert_guarded_after_every_step(postgresql)


def test_a_reader_of_sqlite_cannot_write(database):
    for statement in (
        "DELETE FROM tag",
        "CREATE TABLE x (id INTEGER)",
        "INSERT INTO cohort (name, starts_on) VALUES ('x', '2026-03-10')",
    ):
        with pytest.raises(DatabaseError, match="readonly"), database.read() as session:
            session.execute(text(statement))


@pytest.mark.postgresql
def test_a_reader_of_postgresql_cannot_write(register):
    for statement in ("DELETE FROM tag", "CREATE TABLE x (id INTEGER)"):
        with pytest.raises(DatabaseError, match="read-only"), register.database.read() as session:
            session.execute(text(statement))


def test_a_migration_that_breaks_leaves_the_schema_as_it_was(empty, tmp_path, monkeypatch):
    schema.upgrade(empty)
    before = tables(empty)
    folder = with_next_step(tmp_path, monkeypatch)
    script = folder / "versions" / "9999_tomorrow.py"
    broken = "    op.execute('SELECT * FROM no_such_table')\n\n\ndef downgrade"
    script.write_text(script.read_text().replace("\n\ndef downgrade", broken))
    with pytest.raises(DatabaseError):
        schema.upgrade(empty)
    assert tables(empty) == before


# --- at the start ---------------------------------------------------------------------------


def with_next_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the program one migration more, as its next version would bring."""
    folder = tmp_path / "migrations"
    shutil.copytree(schema.MIGRATIONS, folder)
    script = folder / "versions" / "9999_tomorrow.py"
    script.write_text(NEXT.format(before=steps()[-1]))
    monkeypatch.setattr(schema, "MIGRATIONS", folder)
    return folder


def test_the_embedded_database_is_copied_whole_before_it_is_migrated(
    shop, database, settings, tmp_path, monkeypatch
):
    with_next_step(tmp_path, monkeypatch)
    shop.person("Ada Quill")  # still in SQLite's log: the connections are open
    schema.prepare(database, settings)
    assert "tomorrow" in tables(database)
    copy = settings.data / "chuckkey.before-9999.sqlite"
    with closing(sqlite3.connect(copy)) as connection:
        names = {name for (name,) in connection.execute("SELECT name FROM person")}
        made = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    assert "Ada Quill" in names
    assert "tomorrow" not in made


def test_a_new_embedded_database_is_made_without_a_copy(tmp_path):
    settings = settings_from({}, data=tmp_path / "new")
    database = Database(settings.database_url)
    schema.prepare(database, settings)
    database.close()
    assert not list(settings.data.glob("*before-*"))


def test_a_database_of_ones_own_is_never_migrated_by_a_start(empty, tmp_path):
    settings = settings_from(
        {"CHUCKKEY_DATABASE_URL": empty.url, "CHUCKKEY_SECRET": "s" * 40}, data=tmp_path
    )
    with pytest.raises(CannotStart, match="chuckkey init"):
        schema.prepare(empty, settings)
    assert tables(empty) == set()


def test_a_database_of_ones_own_needs_a_secret_of_ones_own(tmp_path):
    with pytest.raises(CannotStart, match="CHUCKKEY_SECRET"):
        settings_from({"CHUCKKEY_DATABASE_URL": "sqlite:///x"}, data=tmp_path)


# --- what the command says ------------------------------------------------------------------

COMMANDS = (["verify"], ["clearance", "ada", "saw"], ["work"])


def run(*arguments: str, data: Path) -> subprocess.CompletedProcess[str]:
    """Run the command as somebody whom the file system can refuse: root is above it."""
    command = [sys.executable, "-m", "app.cli", *arguments, "--data", str(data)]
    if os.geteuid() == 0:
        without = "-dac_override,-dac_read_search"
        command = ["setpriv", f"--bounding-set={without}", f"--inh-caps={without}", *command]
    environ = {k: v for k, v in os.environ.items() if not k.startswith("CHUCKKEY_")}
    return subprocess.run(
        command, capture_output=True, text=True, cwd=ROOT, env=environ, timeout=60, check=False
    )


def assert_one_sentence(done: subprocess.CompletedProcess[str], words: str) -> None:
    assert done.returncode == 1, done
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1, done.stderr
    assert done.stderr.startswith("chuckkey: ")
    assert done.stderr.endswith(".\n")
    assert words in done.stderr


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_a_database_of_a_newer_version_is_left_alone(settings, command):
    path = settings.data / "chuckkey.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9998'")
        connection.commit()
    assert_one_sentence(run(*command, data=settings.data), "newer than this program")


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_a_corrupt_database_is_told_in_one_sentence(settings, command):
    (settings.data / "chuckkey.sqlite").write_bytes(b"This is no database." * 500)
    assert_one_sentence(run(*command, data=settings.data), "not a database")


def test_a_read_only_database_still_answers_and_records_nothing(settings):
    (settings.data / "chuckkey.sqlite").chmod(0o444)
    assert run("verify", data=settings.data).stdout == "The log is whole.\n"
    someone = ("--name", "Ada Quill", "--email", "ada@puppets.example", "--password", "x" * 12)
    assert_one_sentence(run("init", *someone, data=settings.data), "readonly")


def test_a_folder_that_cannot_be_written_is_told_in_one_sentence(tmp_path):
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o555)
    assert_one_sentence(run("verify", data=closed), "cannot be used")
    assert_one_sentence(run("verify", data=closed / "deeper"), "cannot be used")


def test_a_folder_that_is_a_file_is_told_in_one_sentence(tmp_path):
    taken = tmp_path / "taken"
    taken.write_text("I am a file.")
    assert_one_sentence(run("verify", data=taken), "cannot be used")


def test_a_damaged_secret_is_told_in_one_sentence(settings):
    (settings.data / "secret").write_text("short")
    assert_one_sentence(run("verify", data=settings.data), "damaged")


def test_a_locked_database_is_told_in_one_sentence_after_the_wait(settings):
    path = settings.data / "chuckkey.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert_one_sentence(run("verify", data=settings.data), "locked")
