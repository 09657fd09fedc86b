"""Read a file of rows, CSV or XLSX. Knows neither people nor the database."""

from __future__ import annotations

from app.transfer.sheet import CannotRead, Sheet, insist_on_size
from app.transfer.text_file import read_text
from app.transfer.workbook import is_workbook, read_workbook, sheets


def sheets_of(data: bytes) -> list[str]:
    """Return the sheets to choose from; of a text file none."""
    insist_on_size(data)
    return sheets(data) if is_workbook(data) else []


def read(data: bytes, sheet: str | None = None, *, most: int | None = None) -> Sheet:
    """Read the rows, or the first so many. A workbook of several sheets needs the name of one.

    Raises `CannotRead`, a `Refused` whose sentence says what is wrong and what to do.
    """
    insist_on_size(data)
    if not is_workbook(data):
        return read_text(data, most)
    if sheet is None:
        found = sheets(data)
        if len(found) != 1:
            raise CannotRead(f"That workbook has {len(found)} sheets: choose one.")
        sheet = found[0]
    return read_workbook(data, sheet, most)
