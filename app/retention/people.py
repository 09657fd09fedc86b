"""Whom a row is about, and the tables in which people stand, read from `named.py`."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import ColumnElement, Table, select
from sqlalchemy.orm import Session

from app import models as _every_model  # noqa: F401 - the metadata are whole
from app.db import Base
from app.retention.named import BY, NAMED, Named
from app.transfer.models import PersonMerge


def tables() -> Iterator[tuple[Table, Named]]:
    """Give every table with what is said of it."""
    for name, named in NAMED.items():
        yield Base.metadata.tables[name], named


def whom(table: Table, named: Named) -> ColumnElement[int] | None:
    """Return the number of the person whom a row of the table is about; None: it is about none."""
    if not named.about:
        return None
    if "." not in named.about:
        return table.c[named.about]
    mine, theirs = named.about.split(".")
    (key,) = table.c[mine].foreign_keys
    whole = key.column.table
    return select(whole.c[theirs]).where(whole.c.id == table.c[mine]).scalar_subquery()


def took_part(table: Table, named: Named) -> list[str]:
    """Return the columns of people who only took part in what a row of the table says."""
    return [*named.by.split(), *([BY] if BY in table.c else [])]


def whole_person(session: Session, person_id: int) -> list[int]:
    """Return the numbers under which a person is on record: their own, and merged ones."""
    found, fresh = [person_id], [person_id]
    while fresh:
        rows = session.execute(
            select(PersonMerge.absorbed_id).where(PersonMerge.kept_id.in_(fresh))
        ).scalars()
        fresh = [id_ for id_ in rows if id_ not in found]
        found += fresh
    return found
