"""The door through the guards: open for the rows named, used, and closed, in one transaction.

`app/migrations/guards.py` says what the database itself allows through it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Table, delete, insert, update
from sqlalchemy.orm import Session

from app.db import Base
from app.retention.models import PurgeDoor

_AT_ONCE = 500  # parameters of one statement


def remove(session: Session, table: str, ids: Sequence[int]) -> int:
    """Remove rows by their number; return how many there were."""
    found, removed = Base.metadata.tables[table], 0
    for some in _portions(ids):
        with _open(session, found, some, "remove"):
            removed += (
                session.connection().execute(delete(found).where(found.c.id.in_(some))).rowcount
            )
    return removed


def empty(session: Session, table: str, key: Mapping[str, Any], words: Mapping[str, Any]) -> None:
    """Put other words into texts of one row: empty ones, or such without a name."""
    found = Base.metadata.tables[table]
    here = [found.c[name] == value for name, value in key.items()]
    with _open(session, found, [key.get("id", 0)], "empty"):
        session.connection().execute(update(found).where(*here).values(dict(words)))


@contextmanager
def _open(session: Session, table: Table, ids: Sequence[int], verb: str) -> Iterator[None]:
    if not table.info.get("append_only"):
        yield
        return
    connection = session.connection()
    connection.execute(
        insert(PurgeDoor),
        [{"table_name": table.name, "row_id": id_, "verb": verb, "closed_id": 1} for id_ in ids],
    )
    yield
    # Where something went wrong it is rolled back with everything else.
    connection.execute(delete(PurgeDoor).where(PurgeDoor.table_name == table.name))


def _portions(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    for first in range(0, len(ids), _AT_ONCE):
        yield ids[first : first + _AT_ONCE]
