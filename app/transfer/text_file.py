"""Read CSV as registries write it: any of the usual encodings, separators and line ends."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator

from app.transfer.sheet import CannotRead, Row, Sheet, clean, gathered

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
_LOOKED_AT = 50  # rows by which the separator is told
_MARKS = (
    # The longer first: the mark of UTF-32 begins like that of UTF-16.
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)


def read_text(data: bytes, most: int | None = None) -> Sheet:
    """Read a text file of rows; raises `CannotRead` with what to do."""
    text, encoding = decoded(data)
    text, separator = _separated_by(text)
    return Sheet(
        written_as=f"{encoding}, separated by {SEPARATORS[separator]}",
        rows=gathered(_lines(text, separator), most),
    )


def decoded(data: bytes) -> tuple[str, str]:
    """Return the text and the encoding it was taken for.

    Bytes that are valid UTF-8 are practically never anything else; what is not is read as
    Windows-1252, which holds all that ISO 8859-1 (Latin-1) can print.
    """
    for mark, codec, words in _MARKS:
        if data.startswith(mark):
            return _strictly(data, codec, words), words
    wide = _wide(data)
    if wide:
        return _strictly(data, wide, "UTF-16"), "UTF-16"
    try:
        return data.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        return _strictly(data, "cp1252", "Windows-1252"), "Windows-1252"


def _wide(data: bytes) -> str | None:
    """Name the UTF-16 that was written without its mark: every other byte of plain text is zero."""
    start = data[:2000]
    if b"\x00" not in start:
        return None
    even, odd = start[::2].count(0), start[1::2].count(0)
    if max(even, odd) * 2 < len(start) // 2:
        raise CannotRead("That is no text and no XLSX file. Save it as CSV in UTF-8, or as XLSX.")
    return "utf-16-be" if even > odd else "utf-16-le"


def _strictly(data: bytes, codec: str, words: str) -> str:
    try:
        return data.decode(codec)
    except UnicodeError:
        raise CannotRead(
            f"That file begins like {words} text and does not go on so. Save it as CSV in UTF-8, "
            "or as XLSX."
        ) from None


def _separated_by(text: str) -> tuple[str, str]:
    """Return the text without a line that only names the separator, and the separator."""
    first, end, rest = text.partition("\n")
    named = first.strip().strip('"').lower()
    if end and named.startswith("sep=") and named[4:] in (",", ";", "|", "") and len(first) < 12:
        # A line of Excel's own. The rows keep their numbers: it is read as an empty one.
        return "\n" + rest, named[4:] or "\t"
    return text, max(SEPARATORS, key=lambda sign: _fit(text, sign))


def _fit(text: str, separator: str) -> tuple[float, int]:
    """Say how well a separator divides the first rows: how alike, and into how many."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    widths: list[int] = []
    try:
        for row in reader:
            if row:
                widths.append(len(row))
            if len(widths) == _LOOKED_AT:
                break
    except csv.Error:
        return (0.0, 0)
    if not widths:
        return (0.0, 0)
    width, count = max(Counter(widths).items(), key=lambda item: (item[1], item[0]))
    return (count / len(widths), width) if width > 1 else (0.0, 1)


def _lines(text: str, separator: str) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, 1):
            yield number, tuple([clean(cell, number) for cell in cells])
    except csv.Error as error:
        raise CannotRead(
            f"After line {number} the rows cannot be told apart ({error}). Often a quotation mark "
            "was not closed."
        ) from None
