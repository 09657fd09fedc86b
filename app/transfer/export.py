"""The whole register in open formats: CSV (RFC 4180, UTF-8) with a JSON Schema, in one ZIP.

The worker writes it row by row to a file of its own, from one consistent look at the register.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, BinaryIO

from sqlalchemy import JSON, Boolean, Column, Date, Integer, Table, select
from sqlalchemy.orm import Session

from app import models as _every_model  # noqa: F401 - the worker may have met few of them
from app.audit import log
from app.clock import Clock
from app.db import Base, Database, UtcDateTime
from app.jobs import outbox
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.risk_assessments.models import Revision, RiskAssessment
from app.settings import Settings
from app.transfer.exported import GROUPS
from app.transfer.models import RegisterExport

EXPORT_JOB = "register-export"
EXPORT_CLEAR_JOB = "register-export-clear"
KEPT_FOR = timedelta(days=1)
_ROWS_AT_ONCE = 1_000
# A spreadsheet takes what begins so for something to run (common practice: OWASP, CSV injection);
# the wide signs are folded to the narrow ones by some programs.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "'")

README = """\
The register of this workshop, as it stood at {at}.

Each folder is a group of tables, each file a table: CSV after RFC 4180 in UTF-8, a row of headings
first. schema.json describes each row as JSON Schema (draft 2020-12).

An empty cell is no value. An instant is ISO 8601 in UTC, a day ISO 8601. Lists and objects are JSON
in their cell. A text that a spreadsheet would run or that begins with an apostrophe has one
apostrophe before it: take one away to read the text as it is.

assessments/frozen holds each revision of a risk assessment as the text it was frozen as; its
SHA-256 stands in assessments/assessment_revision.csv.

Passwords, tokens and private words about people are not in it. Pictures and prints are named by
their SHA-256 and lie in the program's store of files. It supports and never replaces a competent
person's judgement.
"""


def harmless(words: str) -> str:
    """Return a text that no spreadsheet takes for something to run.

    >>> harmless("=1+1"), harmless("plain")
    ("'=1+1", 'plain')
    """
    return f"'{words}" if words.startswith(_FORMULA) else words


def as_it_was(cell: str) -> str:
    """Return the text that `harmless` was given."""
    return cell.removeprefix("'")


def _cell(value: Any) -> str:
    """Write a value. Only texts of people can be taken for something to run."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, int | date):
        return value.isoformat() if isinstance(value, date) else str(value)
    if isinstance(value, str):
        return harmless(value)
    return harmless(json.dumps(value, ensure_ascii=False, sort_keys=True))


def _files() -> Iterator[tuple[str, Table, list[str]]]:
    """Give each file of the export: its name, its table, its columns."""
    for group, (_words, tables) in GROUPS.items():
        for name, columns in tables.items():
            yield f"{group}/{name}.csv", Base.metadata.tables[name], columns.split()


# --- writing -----------------------------------------------------------------------------


def write_export(session: Session, out: BinaryIO, *, at: datetime) -> None:
    """Write the whole register to a file, a thousand rows at a time."""
    connection, some = session.connection(), {"yield_per": _ROWS_AT_ONCE}
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
        archive.writestr("README.txt", README.format(at=_cell(at)))
        archive.writestr("schema.json", json.dumps(schema(), ensure_ascii=False, indent=1))
        for name, table, columns in _files():
            with archive.open(name, "w", force_zip64=True) as raw:
                text = io.TextIOWrapper(raw, encoding="utf-8", newline="", write_through=False)
                writer = csv.writer(text)
                writer.writerow(columns)
                chosen = [table.c[column] for column in columns]
                keys = list(table.primary_key.columns)
                statement = select(*chosen).order_by(*keys)
                for row in connection.execute(statement, execution_options=some):
                    writer.writerow([_cell(value) for value in row])
                text.flush()
                text.detach()
        rows = connection.execute(
            select(RiskAssessment.reference, Revision.number, Revision.content)
            .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
            .order_by(Revision.id),
            execution_options=some,
        )
        for reference, number, content in rows:
            archive.writestr(f"assessments/frozen/{reference}-{number}.json", content)


def schema() -> dict[str, Any]:
    """Describe each row as JSON Schema, once its cells are read as README.txt says."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "The register of a workshop, as exported",
        "$defs": {
            name.removesuffix(".csv"): {
                "type": "object",
                "properties": {column: _described(table.c[column]) for column in columns},
                "required": columns,
                "additionalProperties": False,
            }
            for name, table, columns in _files()
        },
    }


def _described(column: Column[Any]) -> dict[str, Any]:
    kind: dict[str, Any] = {"type": "string"}
    enums = getattr(column.type, "enum_class", None)
    if enums is not None:
        kind = {"enum": [member.value for member in enums]}
    elif isinstance(column.type, UtcDateTime):
        kind["format"] = "date-time"
    elif isinstance(column.type, Date):
        kind["format"] = "date"
    elif isinstance(column.type, Boolean):
        kind = {"type": "boolean"}
    elif isinstance(column.type, Integer):
        kind = {"type": "integer"}
    elif isinstance(column.type, JSON):
        kind = {}
    if not column.nullable or not kind:
        return kind
    return {"anyOf": [kind, {"type": "null"}]}


# --- asking for it, making it, removing it -----------------------------------------------


def ask(session: Session, *, actor_id: int, now: datetime) -> RegisterExport:
    """Ask the worker for an export. While one is being made, it is that one."""
    making = session.query(RegisterExport).filter_by(made_at=None, removed_at=None).first()
    if making is not None:
        return making
    row = RegisterExport(asked_by_id=actor_id, asked_at=now, file_name="", step="waiting")
    session.add(row)
    session.flush()
    outbox.ask(
        session,
        EXPORT_JOB,
        key=f"{EXPORT_JOB}:{row.id}",
        payload={"export": row.id},
        now=now,
        title="Export of the register",
        asked_by_id=actor_id,
        page="/export",
    )
    outbox.ask(
        session,
        EXPORT_CLEAR_JOB,
        key=f"{EXPORT_CLEAR_JOB}:{row.id}",
        payload={"export": row.id},
        now=now,
        run_after=now + KEPT_FOR,
    )
    log.record(
        session,
        action="transfer:register:export",
        subject=f"register_export:{row.id}",
        actor_id=actor_id,
        now=now,
    )
    return row


def path_of(settings: Settings, row: RegisterExport) -> Path:
    return settings.data / "exports" / row.file_name


def make(database: Database, clock: Clock, settings: Settings, export_id: int, part: Path) -> None:
    """Write the file, at first as ``part``, and only then say that it is there."""
    folder = settings.data / "exports"
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    at = clock.now()
    with part.open("w+b") as out:
        part.chmod(0o600)
        with database.read() as session:
            row = session.get(RegisterExport, export_id)
            if row is None or row.made_at is not None or row.removed_at is not None:
                part.unlink()
                return
            write_export(session, out, at=at)
        size = out.tell()
        out.seek(0)
        digest = hashlib.file_digest(out, "sha256").hexdigest()
    name = f"register-{at:%Y%m%d-%H%M}-{export_id}.zip"
    part.replace(folder / name)
    with database.write() as session:
        row = session.get_one(RegisterExport, export_id)
        row.made_at, row.file_name, row.file_digest, row.bytes = at, name, digest, size
        row.step = "made"


def remove(database: Database, clock: Clock, settings: Settings, export_id: int) -> None:
    """Remove the file, and say so."""
    with database.write() as session:
        row = session.get_one(RegisterExport, export_id)
        row.removed_at, row.step = clock.now(), "removed"
        if row.file_name:
            path_of(settings, row).unlink(missing_ok=True)


def handlers(database: Database, clock: Clock, settings: Settings) -> dict[str, Handler]:
    """Return what the worker can do with exports."""

    def make_(task: Task) -> None:
        part = task.folder / "register.part"
        make(database, clock, settings, task.payload["export"], part)

    def remove_(task: Task) -> None:
        remove(database, clock, settings, task.payload["export"])

    return {EXPORT_JOB: make_, EXPORT_CLEAR_JOB: remove_}
