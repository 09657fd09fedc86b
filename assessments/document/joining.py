"""Join tagged files into one that is tagged too: structure, links, bookmarks, page labels, numbers.

Plain joining drops the tags, and with them what PDF/UA-1 (ISO 14289-1) and PDF/A-3a (ISO 19005-3)
ask for. Here each file's structure tree becomes a part of one tree. The page of the whole is
stamped as an artifact at the foot of each page, and what is attached is named in the catalogue.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime, time
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pikepdf
from pikepdf import Array, Dictionary, Name, OutlineItem, String

from assessments.document.renderer import UA_MARK, pdf

if TYPE_CHECKING:
    from datetime import date

# A link of a page to be joined that leads to a page of the whole, from 1. It leads nowhere else.
PAGE_LINK = "https://page.invalid/"
_RIGHT_MM = 16.0  # the right margin of every page
_FOOT_MM = 9.6  # the second line at the foot, which every document leaves free at the right
_MM = 72 / 25.4
_STAMP_MM = 60.0  # the width of a stamp, as in numbers.css
# What stands before and after the drawing of a page in the whole.
_BEFORE, _AFTER = b"q\n", b"\nQ\n/Artifact <</Type /Pagination>>"


@dataclass(frozen=True, kw_only=True)
class Joint:
    """One file to be joined."""

    path: Path
    title: str
    level: int = 0  # in the bookmarks; 1: below the last of level 0
    listed: bool = True  # with a bookmark of its own
    label: str = ""  # of its pages: "3" gives 3-1, 3-2; those of one label go on counting


@dataclass(frozen=True, kw_only=True)
class Beside:
    """A file that is attached."""

    name: str
    says: str
    media_type: str
    data: bytes


@dataclass(frozen=True, kw_only=True)
class Joined:
    """What came of it: of each file its pages, and the digest of all that is drawn on them."""

    pages: tuple[int, ...]
    drawn: tuple[str, ...]


def pages_of(path: Path) -> int:
    """Return how many pages a file has."""
    with pikepdf.open(path) as file:
        return len(file.pages)


def join(
    joints: Sequence[Joint],
    out: Path,
    *,
    title: str,
    language: str,
    on: date,
    beside: Callable[[Joined], Iterable[Beside]] = lambda _joined: (),
) -> Joined:
    """Write the joined file; the same files give the same bytes.

    ``on`` is the day that attachments are dated by, so that the bytes do not tell the clock.
    ``beside`` is asked for what is attached when the pages are known.
    """
    with ExitStack() as stack:
        whole = stack.enter_context(pikepdf.new())
        tree = _Tree(whole)
        counts: list[int] = []
        drawn: list[str] = []
        for joint in joints:
            file = stack.enter_context(pikepdf.open(joint.path))
            if not counts:
                _take_over(whole, file)
            drawn.append(drawn_digest(page.obj for page in file.pages))
            counts.append(_append(whole, tree, file, joint.title))
        tree.finish()
        _link(whole)
        _stamp(whole)
        _bookmarks(whole, joints, counts)
        _labels(whole, joints, counts)
        joined = Joined(pages=tuple(counts), drawn=tuple(drawn))
        for each in beside(joined):
            _attach(whole, each, on)
        _catalogue(whole, title, language)
        whole.save(
            out,
            min_version="1.7",  # PDF/A-3 is made of it
            deterministic_id=True,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            compress_streams=True,
        )
    return joined


def drawn_digest(pages: Iterable[Any]) -> str:
    """Return the digest of all that is drawn on some pages; the stamp of a whole is left out.

    The pages of a file and the same pages joined into a whole give the same digest.
    """
    known = hashlib.sha256()
    for page in pages:
        contents = page.Contents
        streams = list(contents) if isinstance(contents, Array) else [contents]
        drawn = [stream.read_bytes() for stream in streams]
        if drawn[0] == _BEFORE and drawn[-1].startswith(_AFTER):
            drawn = drawn[1:-1]
        known.update(hashlib.sha256(b"".join(drawn)).digest())
    return known.hexdigest()


def _append(whole: pikepdf.Pdf, tree: _Tree, file: pikepdf.Pdf, title: str) -> int:
    first = len(whole.pages)
    whole.pages.extend(file.pages)
    count = len(file.pages)
    tree.add(file, [page.obj for page in list(whole.pages)[first : first + count]], title)
    return count


@dataclass
class _Tree:
    """The structure of the whole while it grows."""

    whole: pikepdf.Pdf
    parents: list[Any] = field(default_factory=list)  # number, value, number, value ...
    parts: list[Any] = field(default_factory=list)
    number: int = 0

    def __post_init__(self) -> None:
        make = self.whole.make_indirect
        self.root = make(Dictionary(Type=Name.StructTreeRoot))
        self.document = make(Dictionary(Type=Name.StructElem, S=Name.Document, P=self.root))

    def add(self, file: pikepdf.Pdf, pages: Sequence[Any], title: str) -> None:
        """Take one file's structure over, after its pages."""
        theirs = self.whole.copy_foreign(file.Root.StructTreeRoot)
        for page in pages:
            self._move(page)
            for annotation in page.get("/Annots", ()):
                self._move(annotation, "/StructParent")
        highest = -1
        for number, value in _pairs(theirs.ParentTree):
            self.parents.extend((number + self.number, value))
            highest = max(highest, number)
        self.number += highest + 1
        kids = theirs.K
        for element in kids if isinstance(kids, Array) else [kids]:
            element.S = Name.Part
            element.T = String(title)
            element.P = self.document
            self.parts.append(element)

    def _move(self, thing: Any, key: str = "/StructParents") -> None:
        if key in thing:
            thing[key] = int(thing[key]) + self.number

    def finish(self) -> None:
        make = self.whole.make_indirect
        self.document.K = Array(self.parts)
        self.root.K = Array([self.document])
        self.root.ParentTree = make(Dictionary(Nums=Array(self.parents)))
        self.root.ParentTreeNextKey = self.number
        self.whole.Root.StructTreeRoot = self.root


def _pairs(tree: Any) -> Iterable[tuple[int, Any]]:
    """Give the entries of a number tree."""
    nums = tree.get("/Nums", ())
    for place in range(0, len(nums), 2):
        yield int(nums[place]), nums[place + 1]
    for kid in tree.get("/Kids", ()):
        yield from _pairs(kid)


def _take_over(whole: pikepdf.Pdf, file: pikepdf.Pdf) -> None:
    """Take over what the files have in common: the colours they are meant in."""
    theirs = [file.make_indirect(each) for each in file.Root.OutputIntents]
    whole.Root.OutputIntents = Array([whole.copy_foreign(each) for each in theirs])


# --- links, numbers, bookmarks, labels -----------------------------------------------------


def _link(whole: pikepdf.Pdf) -> None:
    """Let links of the contents lead to the pages that they name."""
    pages = list(whole.pages)
    for page in pages:
        for annotation in page.obj.get("/Annots", ()):
            action = annotation.get("/A")
            address = str(action.get("/URI", "")) if action is not None else ""
            if address.startswith(PAGE_LINK):
                number = int(address.removeprefix(PAGE_LINK).strip("/"))
                del annotation["/A"]
                annotation.Dest = Array([pages[number - 1].obj, Name.Fit])


def _stamp(whole: pikepdf.Pdf) -> None:
    """Write the page of the whole at the foot of each page, as an artifact."""
    total = len(whole.pages)
    numbers = stack_of_numbers(total)
    with pikepdf.open(io.BytesIO(numbers)) as stamps:
        for number, (page, stamp) in enumerate(
            zip(whole.pages, stamps.pages, strict=True), start=1
        ):
            form = whole.copy_foreign(stamp.as_form_xobject())
            for key in ("/StructParents", "/StructParent"):
                if key in form:
                    del form[key]
            box = page.mediabox
            # A name of its own: the pages of one file share their resources.
            name = page.add_resource(form, Name.XObject, Name(f"/PackPage{number}"))
            right = float(box[2]) - _STAMP_MM * _MM - _RIGHT_MM * _MM
            foot = _FOOT_MM * _MM - 2.6
            drawn = f" BDC q 1 0 0 1 {right:.2f} {foot:.2f} cm {name} Do Q EMC\n"
            page.contents_add(_BEFORE, prepend=True)
            page.contents_add(_AFTER + drawn.encode())


def stack_of_numbers(total: int) -> bytes:
    """Return a file of small pages that say which of how many each one is."""
    said = "".join(f"<p>pack page {number} of {total}</p>" for number in range(1, total + 1))
    html = f'<html lang="en"><head><title>Numbers</title></head><body>{said}</body></html>'
    data = pdf(html, css="numbers.css")
    return _untagged(data)


def _untagged(data: bytes) -> bytes:
    """Take the marks of a structure out of the small pages: in the whole they are artifacts."""
    with pikepdf.open(io.BytesIO(data)) as file:
        for page in file.pages:
            kept = [
                each
                for each in pikepdf.parse_content_stream(page)
                if str(each.operator) not in ("BDC", "BMC", "EMC", "DP", "MP")
            ]
            page.Contents = file.make_stream(pikepdf.unparse_content_stream(kept))
        out = io.BytesIO()
        file.save(out)
        return out.getvalue()


def _bookmarks(whole: pikepdf.Pdf, joints: Sequence[Joint], counts: Sequence[int]) -> None:
    with whole.open_outline() as outline:
        outline.root.clear()
        first = 0
        for joint, count in zip(joints, counts, strict=True):
            if joint.listed:
                item = OutlineItem(joint.title, first)
                above = outline.root[-1].children if joint.level and outline.root else outline.root
                above.append(item)
            first += count


def _labels(whole: pikepdf.Pdf, joints: Sequence[Joint], counts: Sequence[int]) -> None:
    """Label the pages by their part, so that a reader finds 3-2 where the contents say so."""
    numbers: list[Any] = []
    first, before, within = 0, None, 1
    for joint, count in zip(joints, counts, strict=True):
        within = within if joint.label == before else 1
        style = Dictionary(S=Name.D, St=within)
        if joint.label:
            style.P = String(f"{joint.label}-")
        numbers.extend((first, style))
        first, before, within = first + count, joint.label, within + count
    whole.Root.PageLabels = whole.make_indirect(Dictionary(Nums=Array(numbers)))


# --- what is attached, and what the file says of itself ------------------------------------


def _attach(whole: pikepdf.Pdf, beside: Beside, on: date) -> None:
    at = datetime.combine(on, time(), tzinfo=UTC).strftime("D:%Y%m%d%H%M%S+00'00'")
    spec = pikepdf.AttachedFileSpec(
        whole,
        beside.data,
        filename=beside.name,
        description=beside.says,
        mime_type=beside.media_type,
        relationship=Name.Data,
        creation_date=at,
        mod_date=at,
    )
    whole.attachments[beside.name] = spec
    listed = whole.Root.get("/AF")
    if listed is None:
        listed = whole.Root.AF = Array()
    if spec.obj not in listed:
        listed.append(spec.obj)


def _catalogue(whole: pikepdf.Pdf, title: str, language: str) -> None:
    root = whole.Root
    root.MarkInfo = Dictionary(Marked=True)
    root.Lang = String(language)
    root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    root.PageMode = Name.UseOutlines
    packet = whole.make_stream(metadata(title))
    packet.Type, packet.Subtype = Name.Metadata, Name.XML
    root.Metadata = packet


def metadata(title: str) -> bytes:
    """Return what the joined file says of itself: PDF/A-3a and PDF/UA-1, as its parts do."""
    said = (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:dc="http://purl.org/dc/elements/1.1/"'
        ' xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"'
        ' xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" pdfaid:part="3" pdfaid:conformance="A"/>'
        '<rdf:Description rdf:about=""><dc:title><rdf:Alt><rdf:li xml:lang="x-default">'
        f"{escape(title)}</rdf:li></rdf:Alt></dc:title></rdf:Description>"
    ).encode()
    return said + UA_MARK + b'</rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
