"""The schema of the database: brought up by migrations, and only by them."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection
from sqlalchemy.exc import DatabaseError

from app.db import Base, Database
from app.errors import CannotStart
from app.settings import Settings

MIGRATIONS = Path(__file__).with_name("migrations")


def prepare(database: Database, settings: Settings) -> None:
    """Bring the embedded database to the newest schema; check one that is somebody else's.

    A server database may hold other people's work while a new version is rolled out, so
    it is migrated only when an administrator says ``chuckkey init``.
    """
    if not settings.embedded and _found(database) != newest():
        raise CannotStart(
            "The database has no schema or an older one: make a copy, then run `chuckkey init`."
        )
    migrate(database, settings)


def migrate(database: Database, settings: Settings) -> None:
    """Bring the database to the newest schema, an embedded one after a copy of it was made."""
    found = _found(database)
    if found == newest():
        return
    try:
        if settings.embedded and found is not None:
            _copy(settings)
        upgrade(database)
    except DatabaseError as error:
        raise CannotStart(f"The database cannot be migrated: {error.orig}.") from error


def _found(database: Database) -> str | None:
    """Return the schema that the database has, None for none; refuse one from the future."""
    try:
        found = _revision(database)
    except DatabaseError as error:
        raise CannotStart(f"The database cannot be opened: {error.orig}.") from error
    if found is not None and not _known(found):
        raise CannotStart(
            f"The database has schema {found}, which is newer than this program knows. "
            "Start the program version that wrote it, or restore a copy."
        )
    return found


def upgrade(database: Database, to: str = "head") -> None:
    """Run the migrations up to ``to`` in one transaction that holds the lock."""
    with database.writer.connect() as connection, _unlinked(connection), connection.begin():
        command.upgrade(_config(connection), to)


def downgrade(database: Database, to: str) -> None:
    """Run the migrations back to ``to``: for tests, or a failed roll-out with a copy at hand."""
    with database.writer.connect() as connection, _unlinked(connection), connection.begin():
        command.downgrade(_config(connection), to)


class _unlinked:  # noqa: N801
    """Switch foreign keys off while tables are copied: SQLite can, outside a transaction."""

    def __init__(self, connection: Connection) -> None:
        self.driver: Any = connection.connection.dbapi_connection
        self.sqlite = connection.dialect.name == "sqlite"

    def __enter__(self) -> None:
        self._set("OFF")

    def __exit__(self, *_: object) -> None:
        self._set("ON")

    def _set(self, state: str) -> None:
        if self.sqlite:
            self.driver.execute(f"PRAGMA foreign_keys = {state}")


def newest() -> str:
    """Return the schema that this program needs."""
    return str(ScriptDirectory(str(MIGRATIONS)).get_current_head())


def _known(revision: str) -> bool:
    return any(s.revision == revision for s in ScriptDirectory(str(MIGRATIONS)).walk_revisions())


def _revision(database: Database) -> str | None:
    with database.writer.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def _config(connection: Connection) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    config.attributes["metadata"] = Base.metadata
    return config


def _copy(settings: Settings) -> None:
    """Keep a copy of the embedded database from before the migration; the first is the true one."""
    path = Path(settings.database_url.removeprefix("sqlite:///"))
    copy = path.with_suffix(f".before-{newest()}.sqlite")
    if copy.exists():
        return
    # SQLite's own backup: a copy of the file alone would miss what is still in its log.
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
