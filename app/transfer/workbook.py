"""Read XLSX: what is in it is counted before it is unpacked, and a formula is no value.

The format is ISO/IEC 29500 (Office Open XML): a ZIP archive of XML parts.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from app.transfer.sheet import MOST_COLUMNS, CannotRead, Row, Sheet, clean, gathered

MOST_UNPACKED = 192 * 1024 * 1024
MOST_SHARED = 48 * 1024 * 1024  # the shared strings are held in memory as a whole
MOST_PARTS = 2_000
_CHUNK = 1024 * 1024
# A document type is where an XML bomb keeps its powder, and no workbook has one.
_DOCTYPE = re.compile(rb"<!DOCTYPE|<!ENTITY|<\x00!\x00D|\x00<\x00!\x00D", re.IGNORECASE)


def is_workbook(data: bytes) -> bool:
    """Say whether these bytes are to be read as a workbook; refuse the kinds that are not read."""
    if data.startswith(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
        raise CannotRead(
            "That is an old or a password-protected workbook. Save it as XLSX without a password, "
            "or as CSV in UTF-8."
        )
    if data.startswith(b"%PDF"):
        raise CannotRead("That is a PDF. Ask for the list as CSV or XLSX.")
    return data.startswith(b"PK\x03\x04") or data.startswith(b"PK\x05\x06")


def sheets(data: bytes) -> list[str]:
    """Return the names of the sheets that can be seen."""
    book = _book(data)
    try:
        return [sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible"]
    finally:
        book.close()


def read_workbook(data: bytes, sheet: str, most: int | None = None) -> Sheet:
    """Read one sheet; raises `CannotRead` with what to do."""
    book = _book(data)
    try:
        if sheet not in book.sheetnames:
            raise CannotRead(f"There is no sheet “{sheet[:60]}” in that workbook.")
        rows = gathered(_lines(book[sheet]), most)
    except CannotRead:
        raise
    except Exception as error:  # the parser has no error of its own for damaged parts
        raise CannotRead(_DAMAGED) from error
    finally:
        book.close()
    return Sheet(written_as=f"XLSX, sheet “{sheet}”", rows=rows)


_DAMAGED = "That workbook is damaged. Open it in a spreadsheet program and save it again."


def _book(data: bytes) -> Any:
    _insist_on_harmless(data)
    try:
        with warnings.catch_warnings():
            # It warns of styles and extensions that it leaves out; rows are all we ask for.
            warnings.simplefilter("ignore")
            return load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
    except Exception as error:
        raise CannotRead(_DAMAGED) from error


def _insist_on_harmless(data: bytes) -> None:
    """Refuse what would unpack to too much, or holds what no workbook holds.

    The sizes that an archive states bind: no more than that is unpacked from it.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            _insist_on_sizes(parts)
            for part in parts:
                if part.filename.lower().endswith((".xml", ".rels", ".vml")):
                    _insist_on_plain_xml(archive, part)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as error:
        raise CannotRead(_DAMAGED) from error
    except zipfile.zlib.error as error:  # type: ignore[attr-defined]
        raise CannotRead(_DAMAGED) from error


def _insist_on_sizes(parts: list[zipfile.ZipInfo]) -> None:
    if "[Content_Types].xml" not in {part.filename for part in parts}:
        raise CannotRead("That is an archive and no workbook. Send the list itself.")
    shared = sum(p.file_size for p in parts if p.filename.lower().endswith("sharedstrings.xml"))
    whole = sum(part.file_size for part in parts)
    if len(parts) > MOST_PARTS or whole > MOST_UNPACKED or shared > MOST_SHARED:
        raise CannotRead(
            f"That workbook unpacks to {whole / 1024**2:.0f} MB in {len(parts):,} parts, more than "
            "is read. Save the one sheet that is needed as CSV in UTF-8."
        )


def _insist_on_plain_xml(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    before = b""
    with archive.open(part) as file:
        while chunk := file.read(_CHUNK):
            if _DOCTYPE.search(before + chunk):
                raise CannotRead("That workbook holds a document type, which no workbook needs.")
            before = chunk[-16:]


def _lines(sheet: Any) -> Iterator[Row]:
    # What the sheet says of its own size may be wrong, as many programs write it.
    sheet.reset_dimensions()
    for number, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS + 1), 1):
        yield number, tuple([_words(cell, number) for cell in cells])


def _words(cell: Any, number: int) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, str) and cell.data_type != "f":
        return clean(value, number)
    if cell.data_type == "f":
        where = f"{get_column_letter(cell.column)}{number}"
        raise CannotRead(
            f"Cell {where} is a formula, and nobody can say here what it stands for. Copy the "
            "sheet, paste it as values, and send that; or save it as CSV in UTF-8."
        )
    return _value_words(value)


def _value_words(value: Any) -> str:
    """Write a value of a cell as a registry would: a day as ISO 8601, a number without a .0."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return str(value)
