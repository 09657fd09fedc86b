"""What a file of rows is once it is read, whatever it was written as; and how much is read."""

from __future__ import annotations

import json
import unicodedata
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from app.errors import Refused

MOST_BYTES = 16 * 1024 * 1024
MOST_ROWS = 50_000
MOST_COLUMNS = 100
MOST_LINES = 1_100_000  # empty ones too: a spreadsheet has a little over a million
LONGEST_CELL = 2_000

Row = tuple[int, tuple[str, ...]]  # its number as a spreadsheet shows it, and its cells


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The rows of a file that hold anything, each with its number, and how they were written."""

    written_as: str  # for people: "Windows-1252, separated by semicolons"
    rows: tuple[Row, ...]

    def packed(self) -> bytes:
        """Return the sheet as bytes: reading a workbook again takes ten times as long."""
        kept = [self.written_as, *(list(row) for row in self.rows)]
        return zlib.compress(json.dumps(kept, ensure_ascii=False).encode(), 1)


def unpacked(data: bytes) -> Sheet:
    """Return what `Sheet.packed` kept."""
    written_as, *rows = json.loads(zlib.decompress(data))
    return Sheet(
        written_as=written_as, rows=tuple([(number, tuple(cells)) for number, cells in rows])
    )


class CannotRead(Refused):
    """The file cannot be read; the sentence says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence, code="file-refused", status=422)


def insist_on_size(data: bytes) -> None:
    """Refuse an empty file, and one that is larger than is read."""
    if not data:
        raise CannotRead("That file is empty.")
    if len(data) > MOST_BYTES:
        raise CannotRead(
            f"That file has {len(data) / 1024**2:.1f} MB; at most {MOST_BYTES // 1024**2} MB are "
            "read. Send it in parts, without pictures and without columns that nobody needs."
        )


def gathered(lines: Iterator[Row], most: int | None = None) -> tuple[Row, ...]:
    """Return the rows that hold anything, without empty cells at their end, within the limits.

    With ``most`` only that many are read: for a look at how the file begins.
    """
    rows: list[Row] = []
    for number, cells in lines:
        if len(rows) == most:
            break
        if number > MOST_LINES:
            raise CannotRead(f"That file goes on after line {MOST_LINES:,}.")
        kept = _without_empty_end(cells)
        if not kept:
            continue
        if len(kept) > MOST_COLUMNS:
            raise CannotRead(
                f"Line {number} has {len(kept)} columns; at most {MOST_COLUMNS} are read."
            )
        if len(rows) > MOST_ROWS:  # one more than people, for the headings
            raise CannotRead(f"That file has more than {MOST_ROWS:,} rows. Send it in parts.")
        rows.append((number, kept))
    if not rows:
        raise CannotRead("There is nothing in that file but empty cells.")
    return tuple(rows)


def _without_empty_end(cells: tuple[str, ...]) -> tuple[str, ...]:
    end = len(cells)
    while end and not cells[end - 1]:
        end -= 1
    return cells[:end]


# Signs that have no width: left behind by copying, seen by nobody, and in the way of comparing.
_NOTHING = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u2060\ufeff\u00ad"), None)


def clean(cell: str, number: int) -> str:
    """Return the words of a cell: composed signs, single blanks, nothing around them.

    A joiner of no width is dropped, though some scripts use it: it is no part of what
    people compare.
    """
    if cell.isascii():
        words = " ".join(cell.split())
    else:
        words = " ".join(unicodedata.normalize("NFC", cell).translate(_NOTHING).split())
    if len(words) > LONGEST_CELL:
        raise CannotRead(
            f"A cell of line {number} has {len(words):,} characters; at most {LONGEST_CELL:,} are "
            "read. Often a quotation mark was not closed."
        )
    if words.isprintable():
        return words
    for sign in words:
        if unicodedata.category(sign) in ("Cc", "Cs", "Co", "Cn"):
            raise CannotRead(
                f"Line {number} holds a sign that is no text (U+{ord(sign):04X}). Save the file "
                "again as CSV in UTF-8, or as XLSX."
            )
    return words
