"""The data beside the pack: each table as CSV with a JSON Schema, the very rows that are printed.

CSV after RFC 4180 in UTF-8; the schema is JSON Schema, draft 2020-12, of one row.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.transfer.export import harmless
from assessments.document.pack import Cell, Figures, Part, Table

README = """\
The data behind the audit pack that this file is attached to. Each table of the pack is a CSV file
after RFC 4180 in UTF-8 with a row of headings, and a file of the same name that ends in
.schema.json, which describes one row as JSON Schema (draft 2020-12). figures.json holds every
share with its numerator and denominator. An empty cell is no value; a day is ISO 8601. A text that
a spreadsheet would run, or that begins with an apostrophe, has one apostrophe before it.
"""


@dataclass(frozen=True, kw_only=True)
class DataFile:
    """One file of data."""

    name: str
    says: str
    media_type: str
    data: bytes


def data_files(parts: Iterable[Part]) -> Iterator[DataFile]:
    """Give every file, in the order of the parts."""
    known = list(parts)
    yield _file("README.txt", "What the attached data are", "text/plain", README)
    for part in known:
        for block in part.blocks:
            if isinstance(block, Table):
                name = f"{part.number:02}-{block.name}"
                says = f"Part {part.number}: {block.title}"
                yield _file(f"{name}.csv", says, "text/csv", _csv(block))
                schema = json.dumps(_schema(block, says), ensure_ascii=False, indent=1)
                yield _file(f"{name}.schema.json", f"{says}, schema", "application/json", schema)
    figures = json.dumps(list(_figures(known)), ensure_ascii=False, indent=1)
    yield _file("figures.json", "Every share, with its counts", "application/json", figures)


def _file(name: str, says: str, media_type: str, text: str) -> DataFile:
    return DataFile(name=name, says=says, media_type=media_type, data=text.encode())


def _csv(table: Table) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(column.key for column in table.columns)
    writer.writerows([_cell(value) for value in row] for row in table.rows)
    return out.getvalue()


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return harmless(value)
    return value.isoformat() if isinstance(value, date) else str(value)


def _schema(table: Table, says: str) -> dict[str, Any]:
    kinds: dict[str, dict[str, Any]] = {
        "text": {"type": "string"},
        "day": {"type": ["string", "null"], "format": "date"},
        "number": {"type": ["integer", "null"]},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": says,
        "type": "object",
        "properties": {
            column.key: kinds[column.sort] | {"title": column.heading, "description": column.says}
            for column in table.columns
        },
        "required": [column.key for column in table.columns],
        "additionalProperties": False,
    }


def _figures(parts: Iterable[Part]) -> Iterator[dict[str, Any]]:
    for part in parts:
        if part.number == 1:
            continue  # the cover repeats those of the others
        for block in part.blocks:
            if isinstance(block, Figures):
                for figure in block.figures:
                    yield {
                        "part": part.number,
                        "what": figure.what,
                        "numerator": figure.numerator,
                        "denominator": figure.denominator,
                        "counted": figure.counted,
                    }
