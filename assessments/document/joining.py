"""Join finished documents into one that keeps their tags, and that is filed as they are.

Each part is a PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1) of its own. The whole is written
part by part: one is open at a time, so that its size is limited by the disk and not by memory. The
same parts give the same bytes. Each page may say which it is of the whole, and the digest of that.

A link to `PAGE_LINK` and a number leads to that page of the whole; one whose address is
``part:KEY`` or ``part:KEY#anchor`` to another part. The contents are made last, when the pages of
all else are known.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import pikepdf

from assessments.document.carrying import Carried, Shared
from assessments.document.drawn import Drawn
from assessments.document.joined_tables import Tables, text_string
from assessments.document.pdf_writer import Writer
from assessments.document.stamp import NAME, Stamp
from assessments.errors import Refused

# A link of a page to be joined that leads to a page of the whole, from 1. It leads nowhere else.
PAGE_LINK = "https://page.invalid/"
_KEY = re.compile(r"[a-z0-9][a-z0-9-]{0,60}")
Told = Callable[[str, int, int], None]


@dataclass(frozen=True, kw_only=True)
class Looked:
    """What is known of a file before it is joined: its pages, the digest of what is on them."""

    pages: int
    drawn: str


@dataclass(frozen=True, kw_only=True)
class Joint:
    """One file to be joined."""

    path: Path
    title: str
    key: str = ""  # what links to it say: a-z, 0-9 and hyphens; empty: none leads here
    level: int = 0  # in the bookmarks; 1: below the last of level 0
    listed: bool = True  # with a bookmark of its own
    label: str = ""  # of its pages: "3" gives 3-1, 3-2; those of one label go on counting
    files: bool = False  # whether the files that ride in it ride in the whole
    looked: Looked | None = None  # as `look` found it; None: it is looked at when it is joined


@dataclass(frozen=True, kw_only=True)
class Beside:
    """A file that is attached, in an open format."""

    name: str
    says: str
    media_type: str
    data: bytes
    relationship: str = "Data"  # of ISO 19005-3, annex E: Source, Data, Alternative, Supplement


@dataclass(frozen=True, kw_only=True)
class Joined:
    """What came of it: of each file its pages, and the digest of all that is drawn on them."""

    pages: tuple[int, ...]
    drawn: tuple[str, ...]


def look(path: Path, title: str) -> Looked:
    """Look at a file that is to be joined, of this title.

    Refused: it is not tagged, or does not say of itself what the whole is to be.
    """
    with pikepdf.open(path) as pdf:
        _insist_on_claims(pdf, title)
        drawn = Drawn().digest(page.obj for page in pdf.pages)
        return Looked(pages=len(pdf.pages), drawn=drawn)


def drawn_digest(pages: Iterable[Any]) -> str:
    """Return the digest of all that is drawn on some pages; the stamp of a whole is left out.

    The pages of a file and the same pages joined into a whole give the same digest.
    """
    return Drawn().digest(pages)


def join(
    joints: Sequence[Joint],
    out: Path,
    *,
    title: str,
    language: str,
    on: date,
    name: str = "",
    stamped: bool = True,
    beside: Callable[[Joined], Iterable[Beside]] = lambda _joined: (),
    told: Told = lambda _words, _done, _total: None,
) -> Joined:
    """Write the files, in their order, as one document to ``out``.

    ``title`` is that of the document, ``name`` the short one that is stamped on every page, unless
    the pages are to be left as they are. ``on`` is the day that
    attachments are dated by, so that the bytes do not tell the clock. ``beside`` is asked for what
    is attached when the pages are known; of the last one, the manifest, the digest stands on every
    page.
    Refused: a file is not tagged, or does not say of itself what the whole is to be; two have one
    key; a link leads to no part or page; the stamp's font lacks a character of the name.
    """
    keys = _keys(joints)
    joined = _look(joints, told)
    besides = list(beside(joined))
    proof = besides[-1].data if besides else "\n".join(joined.drawn).encode()
    digest, total = hashlib.sha256(proof).hexdigest(), sum(joined.pages)
    tail = f" of {total} of the whole: {name or title}, {digest[:16]}"
    stamp = Stamp(f"page 0123456789{tail}") if stamped else None
    with out.open("wb") as file:
        whole = _Whole(Writer(file), stamp, tail, keys, total)
        for at, (key, joint) in enumerate(zip(keys, joints, strict=True)):
            told(f"joining: {joint.title}", at, len(joints))
            whole.add(key, joint)
        told("writing the end", len(joints), len(joints))
        whole.finish(besides, on=on, title=title, language=language, digest=digest)
    return joined


def _keys(joints: Sequence[Joint]) -> list[str]:
    keys = [joint.key or f"file-{at}" for at, joint in enumerate(joints)]
    for key in keys:
        if not _KEY.fullmatch(key) or keys.count(key) > 1:
            raise Refused(f"“{key}” cannot be the key of a part, or two have it.")
    return keys


def _look(joints: Sequence[Joint], told: Told) -> Joined:
    found = []
    for at, joint in enumerate(joints):
        if joint.looked is None:
            told(f"proving: {joint.title}", at, len(joints))
        found.append(joint.looked or look(joint.path, joint.title))
    return Joined(pages=tuple(f.pages for f in found), drawn=tuple(f.drawn for f in found))


def _insist_on_claims(pdf: pikepdf.Pdf, title: str) -> None:
    """The whole says of itself only what each part says, and what tests have confirmed of each."""
    said = pdf.Root.Metadata.read_bytes() if "/Metadata" in pdf.Root else b""
    told = re.search(rb'pdfaid:part="3"', said) and re.search(rb'pdfaid:conformance="A"', said)
    if not told or b'pdfuaid:part="1"' not in said or "/StructTreeRoot" not in pdf.Root:
        raise Refused(f"“{title}” is not a tagged PDF/A-3a and PDF/UA-1.")


class _Whole:
    """The file while it is written."""

    def __init__(
        self, writer: Writer, stamp: Stamp | None, tail: str, keys: Sequence[str], total: int
    ) -> None:
        self._writer, self._shared, self._stamp, self._tail = writer, Shared(), stamp, tail
        self._keys, self._at = frozenset(keys), 0
        self._pages = [writer.number() for _ in range(total)]  # links lead ahead
        if stamp is not None:
            self._font = stamp.write(writer)
            self._opens = writer.add_packed(b"", b"q\n")
        self._tables = Tables(writer)
        self._intents = b""

    def add(self, key: str, joint: Joint) -> None:
        with pikepdf.open(joint.path) as pdf:
            carried = Carried(
                pdf,
                self._writer,
                self._shared,
                prefix=f"{key}/".encode(),
                parents=self._tables.parents_end,
            )
            for page, number in zip(pdf.pages, self._pages[self._at :], strict=False):
                carried.carried_as(page.obj, number)
            self._lead_elsewhere(pdf, carried)
            if self._stamp is not None:
                self._stamp_pages(pdf, carried, self._stamp)
            self._tables.pages(pdf, carried, label=joint.label)
            self._tables.tags(pdf, carried, title=joint.title)
            self._tables.outline(
                pdf, carried, title=joint.title, level=joint.level, listed=joint.listed
            )
            self._tables.destinations(pdf, carried)
            if joint.files:
                self._tables.files(pdf, carried, key=key)
            if not self._intents:
                self._intents = carried.text(_resolved(pdf.Root.OutputIntents))
            carried.carry()
            self._tables.identifiers(carried)
            self._at += len(pdf.pages)

    def _lead_elsewhere(self, pdf: pikepdf.Pdf, carried: Carried) -> None:
        """Let the links to other parts and pages lead there."""
        for page in pdf.pages:
            for link in page.obj.get("/Annots", ()):
                address = str(link.get("/A", pikepdf.Dictionary()).get("/URI", ""))
                if address.startswith(PAGE_LINK):
                    number = address.removeprefix(PAGE_LINK).strip("/")
                    if not (number.isdigit() and 0 < int(number) <= len(self._pages)):
                        raise Refused(f"A link leads to page {number}, which there is not.")
                    del link["/A"]
                    to = carried.stands_for(self._pages[int(number) - 1])
                    link["/Dest"] = pikepdf.Array([to, pikepdf.Name.Fit])
                elif address.startswith("part:"):
                    key, _, anchor = address.removeprefix("part:").partition("#")
                    if key not in self._keys:
                        raise Refused(f"A link leads to the part “{key}”, which there is not.")
                    del link["/A"]
                    link["/OfWholeDest"] = pikepdf.String(f"{key}/{anchor}")

    def _stamp_pages(self, pdf: pikepdf.Pdf, carried: Carried, stamp: Stamp) -> None:
        font = carried.stands_for(self._font)
        opens = carried.stands_for(self._opens)
        for number, page in enumerate(pdf.pages, start=self._at + 1):
            if "/Font" not in page.resources:
                page.resources["/Font"] = pikepdf.Dictionary()
            page.resources["/Font"][NAME] = font
            line = f"page {number}{self._tail}"
            closes = self._writer.add_packed(b"", stamp.drawing(line))
            contents: Any = page.obj.get("/Contents")
            own = list(contents) if isinstance(contents, pikepdf.Array) else [contents]
            page.obj["/Contents"] = pikepdf.Array([opens, *own, carried.stands_for(closes)])

    def finish(
        self, besides: Sequence[Beside], *, on: date, title: str, language: str, digest: str
    ) -> None:
        for each in besides:
            words = b"/Type /EmbeddedFile /Subtype /%b /Params << /Size %d /ModDate (%b) >>" % (
                each.media_type.replace("/", "#2f").encode(),
                len(each.data),
                f"D:{on:%Y%m%d}000000Z".encode(),
            )
            data = self._writer.add_packed(words, each.data)
            name = text_string(each.name)
            told = (name, name, text_string(each.says), each.relationship.encode(), data, data)
            spec = (
                b"<< /Type /Filespec /F %b /UF %b /Desc %b /AFRelationship /%b "
                b"/EF << /F %d 0 R /UF %d 0 R >> >>" % told
            )
            self._tables.file(each.name, self._writer.add(spec))
        root = self._tables.finish(title=title, language=language, intents=self._intents)
        self._writer.finish(root, bytes.fromhex(digest)[:16])


def _resolved(value: Any) -> bytes:
    body: bytes = value.unparse(resolved=True)
    return body
