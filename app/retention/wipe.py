"""Let what was removed leave the disk as well: the database's own pages, and files of the store."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, select, text
from sqlalchemy.orm import Session

from app.db import Database
from app.retention.people import tables
from app.settings import Settings
from app.storage import Files
from app.transfer.models import RegisterExport

# A file may be in the store a moment before the row that names it is committed.
YOUNGEST = timedelta(days=1)
# Copies that an upgrade left behind hold everything as it was then.
COPIES_KEPT = timedelta(days=30)


def wipe(database: Database) -> None:
    """Write the database anew, so that no page and no log of it holds what was removed.

    SQLite keeps what was deleted in free pages, and older pages in its log. On PostgreSQL a plain
    VACUUM gives the space of dead rows to be written over; its archive of the log, where somebody
    keeps one, is a copy like others and goes by the site's own time for copies.
    """
    if database.writer.dialect.name == "sqlite":
        connection = database.writer.raw_connection()
        try:
            driver: Any = connection.driver_connection
            driver.execute("VACUUM")
            driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        finally:
            connection.close()
        return
    # The engine of the writer takes its lock when a transaction begins: neither is wanted here.
    engine = create_engine(database.url, isolation_level="AUTOCOMMIT")
    with engine.connect() as plain:
        plain.execute(text("VACUUM"))
    engine.dispose()


def named_files(session: Session) -> set[str]:
    """Return the digests of every file of the store that a row still names."""
    found: set[str] = set()
    for table, named in tables():
        for name in (*named.files.split(), *named.frozen.split()):
            if name.endswith("_digest"):
                column = table.c[name]
                found.update(
                    session.execute(select(column).where(column.is_not(None)).distinct()).scalars()
                )
    return found


def sweep(database: Database, files: Files, *, now: datetime, at_once: Iterable[str] = ()) -> int:
    """Remove files that no row names any more, those named here whatever their age."""
    with database.read() as session:
        named = named_files(session)
    removed = 0
    for path in sorted(files.folder.glob("??/*")):
        old = path.stat().st_mtime < (now - YOUNGEST).timestamp()
        if path.name not in named and (old or path.name in set(at_once)):
            path.unlink()
            removed += 1
    return removed


def remove_exports(session: Session, settings: Settings, *, now: datetime) -> None:
    """Remove the exports that are still there: they name everybody."""
    for row in session.execute(
        select(RegisterExport).where(RegisterExport.removed_at.is_(None))
    ).scalars():
        row.removed_at, row.step = now, "removed"
        if row.file_name:
            (settings.data / "exports" / row.file_name).unlink(missing_ok=True)


def copies(settings: Settings) -> list[Path]:
    """Return the copies that were made before an upgrade, and are still there."""
    return sorted(settings.data.glob("*.before-*.sqlite"))


def remove_copies(settings: Settings, *, now: datetime) -> int:
    """Remove copies from before an upgrade that are older than a month."""
    old = [
        path for path in copies(settings) if path.stat().st_mtime < (now - COPIES_KEPT).timestamp()
    ]
    for path in old:
        path.unlink()
    return len(old)
