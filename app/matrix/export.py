"""The matrix as a table to take away: CSV and XLSX, harmless in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from openpyxl import Workbook

from app.clearance.decision import Verdict
from app.matrix.site import Whole

# A spreadsheet would run what begins like this (common practice: OWASP, CSV injection).
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def harmless(words: str) -> str:
    """Return words that no spreadsheet takes for a formula."""
    return f"'{words}" if words.startswith(_FORMULA) else words


def table(site: Whole, rows: Iterable[int], machines: list[int]) -> Iterator[list[str]]:
    """Give the head and then a line for each person."""
    yield ["person", *(harmless(site.machines[m].name) for m in machines)]
    columns = [site.matrix.column[m] for m in machines]
    for row in rows:
        verdicts = site.matrix.verdicts[row, columns]
        yield [harmless(site.people.names[row]), *(Verdict(int(v)).words for v in verdicts)]


def as_csv(lines: Iterable[list[str]]) -> bytes:
    """Return the table as CSV in UTF-8, with the mark that spreadsheets look for."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows(lines)
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def as_xlsx(lines: Iterable[list[str]]) -> bytes:
    """Return the table as a workbook."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Clearances")
    sheet.freeze_panes = "B2"
    for line in lines:
        sheet.append(line)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
