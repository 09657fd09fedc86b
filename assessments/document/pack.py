"""A part of the audit pack as a value: words, tables, figures and plots, and nothing live.

Every part is made of the same few pieces, so that one template prints all of them, and the data
beside the pack are the very rows that are printed.
"""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields, is_dataclass, replace
from datetime import date
from typing import Any, ClassVar, Literal

from assessments.document.content import Site
from assessments.document.frame import Frame, drawn
from assessments.document.joining import PAGE_LINK
from assessments.document.renderer import pdf
from assessments.drawing import INK, WIDTH, Axis, Drawing
from assessments.errors import Refused

PARTS = 16
ROWS_AT_ONCE = 240  # in one file: the print engine's memory grows with the pages of a file

Cell = str | int | date | None
Sort = Literal["text", "day", "number"]


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column of a table, in print and in the data beside the pack."""

    key: str
    heading: str
    says: str  # what stands in it, for the schema
    sort: Sort = "text"
    mm: int = 0  # its width; 0: a share of what is left


@dataclass(frozen=True, kw_only=True)
class Table:
    """Rows under headings that every page repeats; ``name`` is that of its data."""

    SORT: ClassVar[str] = "table"
    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    otherwise: str = "None on record."


@dataclass(frozen=True, kw_only=True)
class Figure:
    """So many of so many: a share never stands without what it was counted from."""

    what: str
    numerator: int
    denominator: int
    counted: str  # what the denominator counts

    @property
    def words(self) -> str:
        """Return the share and its counts.

        >>> Figure(what="On time", numerator=26, denominator=30, counted="checks due").words
        '87 % (26 of 30 checks due)'
        """
        if not self.denominator:
            return f"nothing to count: 0 {self.counted}"
        share = f"{100 * self.numerator / self.denominator:.0f} %"
        # Rounding must not tell of all where one is missing, nor of none where there is one.
        if share == "100 %" and self.numerator < self.denominator:
            share = "over 99 %"
        if share == "0 %" and self.numerator:
            share = "under 1 %"
        return f"{share} ({self.numerator} of {self.denominator} {self.counted})"


@dataclass(frozen=True, kw_only=True)
class Figures:
    """The figures of a part."""

    SORT: ClassVar[str] = "figures"
    figures: tuple[Figure, ...]


@dataclass(frozen=True, kw_only=True)
class Fields:
    """Labels with what is said of each, kept on one page where it fits."""

    SORT: ClassVar[str] = "fields"
    title: str
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class Words:
    """Paragraphs, or a list."""

    SORT: ClassVar[str] = "words"
    title: str
    paragraphs: tuple[str, ...]
    listed: bool = False
    otherwise: str = "None."


@dataclass(frozen=True, kw_only=True)
class Room:
    """An area with what stands where in it."""

    name: str
    place: str
    places: tuple[tuple[str, tuple[str, ...]], ...]  # a place, and the machines at it


@dataclass(frozen=True, kw_only=True)
class Rooms:
    """The areas as boxes. They are no drawing to scale: the register holds no floor plan."""

    SORT: ClassVar[str] = "rooms"
    title: str
    rooms: tuple[Room, ...]


@dataclass(frozen=True, kw_only=True)
class Months:
    """Counts of each month as bars: how many of what was due was done, and how many were not."""

    SORT: ClassVar[str] = "months"
    title: str
    months: tuple[str, ...]
    done: tuple[int, ...]
    missed: tuple[int, ...]

    @property
    def drawn(self) -> str:
        """Return the bars as inline SVG: black was done in time, white was not."""
        most = max((d + m for d, m in zip(self.done, self.missed, strict=True)), default=0)
        x = Axis(0, max(len(self.months), 1), 40.0, WIDTH - 4)
        y = Axis(0, max(most, 1), 104.0, 22.0)
        drawing = Drawing(height=124)
        drawing.up(Axis(0, 1, 40.0, WIDTH - 4), y, "checks", most=3)
        every = 1 + len(self.months) // 9  # a name under each would run into the next
        for place, (month, done, missed) in enumerate(
            zip(self.months, self.done, self.missed, strict=True)
        ):
            left, right = x.at(place + 0.18), x.at(place + 0.82)
            for low, high, fill in ((0, done, INK), (done, done + missed, "#fff")):
                if high > low:
                    top = y.at(high)
                    drawing.box((left, top), right - left, y.at(low) - top, fill=fill)
            if place % every == 0:
                drawing.words(((left + right) / 2, 118), month[:3], anchor="middle")
        told = "; ".join(
            f"{month}: {done} done in time, {missed} not"
            for month, done, missed in zip(self.months, self.done, self.missed, strict=True)
        )
        return drawing.svg(self.title, told or "No month is in the period.")


Block = Table | Figures | Fields | Words | Rooms | Months


@dataclass(frozen=True, kw_only=True)
class Part:
    """One part of the pack, or a piece of a long one."""

    number: int  # of PARTS
    key: str  # "machines": the name of its files
    title: str
    lead: str  # what it shows, as of when, and how it was counted
    blocks: tuple[Block, ...]
    wide: bool = False  # landscape
    piece: int = 1
    pieces: int = 1


@dataclass(frozen=True, kw_only=True)
class Pack:
    """What each page says of the pack."""

    reference: str  # "Audit pack 2025-26"
    state: str  # "State of 31 August 2026"
    site: Site
    live_url: str


def pieces(part: Part) -> Iterator[Part]:
    """Give a part in files of bounded length, cut between rows and never within a block else."""
    groups: list[list[Block]] = [[]]
    room = ROWS_AT_ONCE
    for block in part.blocks:
        for slice_ in _slices(block, room):
            size = _rows(slice_)
            if size > room and groups[-1]:
                groups.append([])
                room = ROWS_AT_ONCE
            groups[-1].append(slice_)
            room -= size
    for number, blocks in enumerate(groups, start=1):
        yield replace(part, blocks=tuple(blocks), piece=number, pieces=len(groups))


def _rows(block: Block) -> int:
    if isinstance(block, Table | Fields):
        return max(len(block.rows), 1)
    return 4


def _slices(block: Block, room: int) -> Iterator[Block]:
    if not isinstance(block, Table) or len(block.rows) <= max(room, ROWS_AT_ONCE // 2):
        yield block
        return
    first = room if room >= ROWS_AT_ONCE // 2 else ROWS_AT_ONCE
    starts = [0, *range(first, len(block.rows), ROWS_AT_ONCE)]
    for start, end in zip(starts, [*starts[1:], len(block.rows)], strict=True):
        title = block.title if start == 0 else f"{block.title}, continued"
        yield replace(block, rows=block.rows[start:end], title=title)


def part_text(part: Part) -> str:
    """Return the canonical text of a part.

    Refused: a character that no page can show.
    """
    return json.dumps(_plain(part, part.title), ensure_ascii=False, sort_keys=True)


def _plain(value: Any, where: str) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name), where) for f in fields(value)}
    if isinstance(value, tuple):
        return [_plain(each, where) for each in value]
    if isinstance(value, str):
        for letter in value:
            if unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\n\t\r":
                raise Refused(f"{where}: the character {letter!a} cannot be printed.", field=where)
        return unicodedata.normalize("NFC", value)
    return value.isoformat() if isinstance(value, date) else value


def part_html(part: Part, pack: Pack) -> str:
    """Return the page that the file of a part, or of a piece of it, is made of."""
    digest = hashlib.sha256(part_text(part).encode()).hexdigest()
    cut = f", piece {part.piece} of {part.pieces}" if part.pieces > 1 else ""
    frame = PackFrame(
        kind=pack.reference,
        reference=pack.reference,
        edition=f"part {part.number} of {PARTS}{cut}",
        dated="",
        title=part.title,
        site=pack.site,
        state=pack.state,
        word=pack.state,
        standing="",
        digest=digest,
        live_url=pack.live_url,
        wide=part.wide,
    )
    template = "pack_cover.html" if part.number == 1 else "pack_part.html"
    return drawn(template, frame, part, parts=PARTS)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the contents."""

    number: str  # "4", or "" below a part
    title: str
    page: int  # of the pack, from 1


def contents_html(lines: tuple[Line, ...], pack: Pack) -> str:
    """Return the page of the contents; each line leads to its page when the parts are joined."""
    text = json.dumps([asdict(line) for line in lines], ensure_ascii=False)
    frame = PackFrame(
        kind=pack.reference,
        reference=pack.reference,
        edition="contents",
        dated="",
        title="Contents",
        site=pack.site,
        state=pack.state,
        word=pack.state,
        standing="",
        digest=hashlib.sha256(text.encode()).hexdigest(),
        live_url=pack.live_url,
    )
    return drawn("pack_contents.html", frame, lines, page_link=PAGE_LINK)


def part_pdf(html: str) -> bytes:
    """Return the file of a part. It says nothing of where in the pack it will stand."""
    return pdf(html, css="print.css")


@dataclass(frozen=True, kw_only=True)
class PackFrame(Frame):
    """The frame of a part: the page of the pack is stamped when all parts are joined."""

    @property
    def page_class(self) -> str:
        return "pack-wide" if self.wide else "pack-upright"
