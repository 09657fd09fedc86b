"""The sheets that labels are printed on, as data: `sheets.csv` beside this file.

The grids on A4 (ISO 216) are those in which die-cut sheets are commonly sold: common
practice, so measure the sheet in hand, and print one on plain paper first.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import Any

from assessments.document.label_content import Sheet
from assessments.errors import Refused

_FILE = Path(__file__).with_name("sheets.csv")
_WORDS = ("title", "layout")
_COUNTS = ("columns", "rows")


@cache
def sheets() -> dict[str, Sheet]:
    """Return every sheet under its key, in the order to be offered."""
    with _FILE.open(encoding="utf-8", newline="") as file:
        return {row.pop("key"): Sheet(**_values(row)) for row in csv.DictReader(file)}


def _values(row: dict[str, str]) -> dict[str, Any]:
    return {
        name: written if name in _WORDS else int(written) if name in _COUNTS else float(written)
        for name, written in row.items()
    }


def sheet_named(key: str) -> Sheet:
    """Return the sheet of a key; Refused for one that is not in the file."""
    found = sheets().get(key)
    if found is None:
        raise Refused(f"There is no sheet {key!r}; choose {', '.join(sheets())}.", field="sheet")
    return found
