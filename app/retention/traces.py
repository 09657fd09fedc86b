"""Find a person in texts that others wrote, and put their number in the place of their name.

Found is what is written as on record: the whole name either way round, the e-mail, the card, the
registries' keys. Who is meant by a nickname or a first name alone, nobody can tell by searching.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import JSON, Column, ColumnElement, LargeBinary, String, Table, cast, or_, select
from sqlalchemy.orm import Session

from app.issued.models import IssuedDocument
from app.people.models import Person
from app.retention.people import tables
from app.risk_assessments.models import Fate, RevisionFate
from app.transfer.models import PersonKey

# A name of two letters or a key such as "17" would be found in every second text.
SHORTEST_NAME, SHORTEST_NUMBER = 4, 6


def pseudonym(person_id: int) -> str:
    """Return what a person is called once they are erased."""
    return f"Person {person_id}"


@dataclass(frozen=True, kw_only=True)
class Traces:
    """What gives a person away, and what stands in its place."""

    ids: tuple[int, ...]  # the numbers under which they are on record
    signs: tuple[str, ...]
    instead: str

    def without(self, value: Any) -> Any:
        """Return a text, or JSON, in which the person is a number."""
        if isinstance(value, str):
            for sign in self.signs:
                value = re.sub(
                    rf"(?<!\w){re.escape(sign)}(?!\w)", self.instead, value, flags=re.IGNORECASE
                )
            return value
        if isinstance(value, list):
            return [self.without(item) for item in value]
        if isinstance(value, dict):
            return {self.without(key): self.without(item) for key, item in value.items()}
        return value


def traces_of(session: Session, ids: Sequence[int]) -> Traces:
    """Gather by what a person could be found in texts: of every number that is theirs."""
    rows = session.execute(
        select(Person.name, Person.email, Person.card).where(Person.id.in_(ids))
    ).all()
    keys = session.execute(select(PersonKey.key).where(PersonKey.person_id.in_(ids))).scalars()
    names = {way for name, *_signs in rows for way in _both_ways(name)}
    # Where somebody else is called the same, nobody can tell which of the two a text means.
    names -= {way for name in _namesakes(session, ids, rows) for way in _both_ways(name)}
    numbers = {sign for _name, *signs in rows for sign in signs if sign} | set(keys)
    signs = {name for name in names if len(name) >= SHORTEST_NAME}
    signs |= {number for number in numbers if len(number) >= SHORTEST_NUMBER}
    return Traces(
        ids=tuple(ids),
        # The longest first: a card may stand within an e-mail.
        signs=tuple(sorted(signs, key=len, reverse=True)),
        instead=pseudonym(ids[0]),
    )


def _namesakes(session: Session, ids: Sequence[int], rows: Sequence[Any]) -> Iterator[str]:
    asked = select(Person.name).where(
        Person.id.not_in(ids), Person.name.in_([name for name, *_signs in rows])
    )
    yield from session.execute(asked).scalars()


def _both_ways(name: str) -> Iterator[str]:
    yield name
    first, _blank, last = name.rpartition(" ")
    if first:
        yield f"{last}, {first}"


def mentions(
    session: Session, traces: Traces, table: Table, columns: Sequence[str]
) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """Give the rows of a table that name the person: the row's key, and its texts without them."""
    chosen = [table.c[name] for name in columns if not isinstance(table.c[name].type, LargeBinary)]
    if not chosen or not traces.signs:
        return
    keys = list(table.primary_key.columns)
    asked = or_(*(_holds(column, sign) for column in chosen for sign in traces.signs))
    for row in session.connection().execute(select(*keys, *chosen).where(asked)).mappings().all():
        new = {column.name: traces.without(row[column.name]) for column in chosen}
        changed = {name: value for name, value in new.items() if value != row[name]}
        if changed:
            yield {key.name: row[key.name] for key in keys}, changed


def _holds(column: Column[Any], sign: str) -> ColumnElement[bool]:
    """Ask the database for rows that may hold a sign. Which do is decided by `Traces.without`."""
    text: ColumnElement[str] = column
    written = {sign, sign.lower(), sign.upper(), sign.casefold()}
    if isinstance(column.type, JSON):
        text = cast(column, String)
        written |= {json.dumps(way)[1:-1] for way in written}
    return or_(*(text.icontains(way, autoescape=True) for way in written))


def frozen_mentions(session: Session, traces: Traces) -> dict[str, list[int]]:
    """Return the rows of frozen texts that name the person: they are told of and not changed.

    A print is no text of the database: those of what they approved, which name them, are counted.
    """
    found: dict[str, list[int]] = {}
    approved = session.execute(
        select(RevisionFate.revision_id).where(
            RevisionFate.recorded_by_id.in_(traces.ids), RevisionFate.fate == Fate.APPROVED
        )
    ).scalars()
    printed = [f"revision:{id_}" for id_ in approved]
    prints = session.execute(
        select(IssuedDocument.id).where(IssuedDocument.subject.in_(printed))
    ).scalars()
    if rows := sorted(prints):
        found["issued_document"] = rows
    for table, named in tables():
        for name in named.frozen.split():
            if name.endswith("_digest") or not traces.signs:
                continue
            asked = or_(*(_holds(table.c[name], sign) for sign in traces.signs))
            ids = session.execute(select(table.c.id).where(asked).order_by(table.c.id)).scalars()
            if rows := list(ids):
                found[table.name] = rows
    return found
