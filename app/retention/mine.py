"""All that is on record about one person, as a file for themself: JSON with its schema, in a ZIP.

GDPR, article 15 (a copy of the data) and article 20 (in a format that machines read). Its tables
and columns have the names of the export. What others wrote about the person in private words is not
in it: it can name those who said it (article 15(4)), and is handed out by people who looked at it.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from sqlalchemy import Table, select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import Base
from app.errors import NotFound
from app.retention.named import NAMED, Named
from app.retention.people import tables, took_part, whole_person, whom
from app.retention.statement import terms
from app.site import site
from app.storage import Files
from app.transfer.export import schema
from app.transfer.exported import GROUPS

# Tables that stay out of an export of the register and belong into the file of the person.
OWN_COLUMNS: dict[str, str] = {
    "calendar_feed": "id person_id area_id ends_id recorded_at",
    "sign_in": "id person_id device started_at confirmed_at expires_at revoked_at",
}
# Tables about a person that are not in their file, each with its reason.
LEFT_OUT: dict[str, str] = {}

README = """\
What the register of {site} holds about you, as it stood at {at}.

You have a right to this copy and to have it in a format that machines read: General Data Protection
Regulation, articles 15 and 20, where it applies; elsewhere your local law decides.

data.json
  about_you   every row that is about you, by table. Your number here is {number}.
  you_did     rows about somebody or something else in which you took part: which row, in which
              part, when. What those rows say is about others and is not in your file.
  kept        how long each kind of record is kept here, and why.
files/        pictures that belong to your rows, under their SHA-256.
schema.json   each row of about_you as JSON Schema (draft 2020-12).

An instant is ISO 8601 in UTC, a day ISO 8601. Other people stand in it as numbers.

Not in it: your password (only a digest of it is kept), the digests of your sign-ins, and private
words that others wrote about you. Those can name somebody else (article 15(4)): ask {adviser}, and
somebody looks at them first. A training record is no licence to start a machine.
"""


def columns_of() -> dict[str, list[str]]:
    """Return the columns of each table that leave, by table."""
    found = {
        name: columns.split() for _says, group in GROUPS.values() for name, columns in group.items()
    }
    return found | {name: columns.split() for name, columns in OWN_COLUMNS.items()}


def about(session: Session, person_id: int) -> Iterator[tuple[Table, Named, list[dict[str, Any]]]]:
    """Give the rows that are about a person, by table, with the columns that leave."""
    ids, columns = whole_person(session, person_id), columns_of()
    for table, named in tables():
        theirs = whom(table, named)
        if theirs is None or table.name in LEFT_OUT or table.name not in columns:
            continue
        chosen = [table.c[name] for name in (*columns[table.name], *named.own.split())]
        statement = select(*chosen).where(theirs.in_(ids)).order_by(*table.primary_key.columns)
        rows = [dict(row) for row in session.connection().execute(statement).mappings()]
        for row in rows:
            for name in named.own.split():
                digest = row.pop(name)
                row[name.replace("digest", "words")] = log.note(session, digest) if digest else None
        if rows:
            yield table, named, rows


def did(session: Session, person_id: int) -> dict[str, list[dict[str, Any]]]:
    """Return in which rows a person took part, by table: the number, the part, and when."""
    ids, found = whole_person(session, person_id), {}
    for table, named in tables():
        when = table.c.get("recorded_at")
        mine = [*table.primary_key.columns, *([when] if when is not None else [])]
        rows = []
        for part in took_part(table, named):
            statement = select(*mine).where(table.c[part].in_(ids)).order_by(*mine)
            for row in session.connection().execute(statement).mappings():
                rows.append({**row, "as": part.removesuffix("_id").replace("_", " ")})
        if rows:
            found[table.name] = rows
    return found


def my_file(session: Session, files: Files, person_id: int, *, at: datetime) -> bytes:
    """Return the ZIP."""
    settings = site(session, at)
    out, rows = io.BytesIO(), {}
    pictures: set[str] = set()
    for table, named, found in about(session, person_id):
        rows[table.name] = found
        for row in found:
            pictures.update(row[name] for name in named.files.split() if row.get(name))
    data = {
        "made_at": at,
        "person": person_id,
        "about_you": rows,
        "you_did": did(session, person_id),
        "kept": [
            {
                "kind": key,
                "title": term.kind.title,
                "kept_for": str(term.span) if term.span else "without a term",
                "counted_from": term.kind.counted.value,
                "source": term.source,
            }
            for key, term in terms(session, regime=settings.regime, at=at).items()
        ],
    }
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        words = {"site": settings.name, "at": _plain(at), "number": person_id}
        archive.writestr("README.txt", README.format(**words, adviser=settings.adviser))
        archive.writestr("data.json", _json(data))
        archive.writestr("schema.json", _json(my_schema()))
        for digest in sorted(pictures):
            try:
                archive.writestr(f"files/{digest}", files.read(digest))
            except NotFound:
                continue  # it was removed before its row
    return out.getvalue()


def my_schema() -> dict[str, Any]:
    """Describe the rows of each table that can be in the file, as JSON Schema."""
    described = {key.rpartition("/")[2]: value for key, value in schema()["$defs"].items()}
    found = {}
    for name, columns in columns_of().items():
        if not NAMED[name].about:
            continue
        row = described.get(name, {"type": "object", "required": columns})
        own = {c.replace("digest", "words"): {"type": ["string", "null"]} for c in _own(name)}
        properties = {**row.get("properties", {column: {} for column in columns}), **own}
        found[name] = {**row, "properties": properties, "additionalProperties": False}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What a workshop holds about one person",
        "$defs": found,
    }


def _own(name: str) -> list[str]:
    return NAMED[name].own.split() if name in Base.metadata.tables else []


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, indent=1, default=_plain)


def _plain(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"no JSON for {type(value)}")
