"""A document that is drawn from a typed value: its canonical text, its digest, its PDF.

Each kind of document is a frozen dataclass in a file of its own, with a `Head` and the name
of its template. The value holds everything that is printed, so that the same value gives the
same bytes, and its text rides inside the file.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import ClassVar, Protocol

from assessments.document.content import Site
from assessments.document.frame import Frame, drawn
from assessments.document.frozen import digest, freeze_value
from assessments.document.renderer import Attached, page_count, pdf
from assessments.document.wording import ended, moment, unbroken

FITS = 4  # sizes of letters of a sheet that has to be one page; the smallest is 7.5 pt
CODE = 24  # hexadecimal digits that a printed code carries: 96 bits, found by nobody who tries


@dataclass(frozen=True, kw_only=True)
class Head:
    """How a document begins: what it is, of what, as of when, and whose rules it defers to."""

    reference: str  # short enough for the foot of each page
    title: str
    site: Site
    at: datetime  # what had happened by then is told; in the site's zone
    kind: str = ""  # where the local law calls it otherwise
    dated: date | None = None  # the day of the content; None: that of the moment
    edition: str = ""  # "revision 3"; a record has none and is known by its moment
    word: str = ""  # "In force", "Not in force"; a record has none: "As of" its day
    standing: str = ""  # beside the word
    loud: bool = False  # nobody may work by it: white on black, on every page
    language: str = "en-GB"


class Paper(Protocol):
    """What every typed value of a document has."""

    KIND: ClassVar[str]  # "Induction record"
    TEMPLATE: ClassVar[str]  # in ``templates``
    WIDE: ClassVar[bool]  # landscape

    @property
    def head(self) -> Head: ...


def text_of(paper: Paper) -> str:
    """Return the canonical text of a document.

    Refused, in one sentence that names the place: a character that no page can show, a number
    that is not finite.
    """
    return freeze_value(paper, paper.KIND)


def code_of(text_digest: str) -> str:
    """Return what the code on page 1 carries of the digest of a text."""
    return text_digest[:CODE]


def paper_pdf(paper: Paper, *, check_url: str) -> bytes:
    """Return a document as PDF; the same arguments give the same bytes.

    ``check_url`` is the address under which the register checks codes; the document's own is
    put at its end.
    Refused: as by `text_of`, or no font holds one of the characters.
    """
    text = text_of(paper)
    frame = frame_of(paper, digest(text), check_url=check_url)
    attached = Attached(
        name=f"{paper.KIND.lower().replace(' ', '-')}-{frame.short_digest}.json",
        description="The content that this document was drawn from",
        text=text,
        on=paper.head.at.date(),
    )
    html = _fitted(paper, frame) if getattr(paper, "ONE_PAGE", False) else _drawn(paper, frame)
    return pdf(html, css="print.css", attached=attached)


def _drawn(paper: Paper, frame: Frame) -> str:
    return drawn(paper.TEMPLATE, frame, paper)


def _fitted(paper: Paper, frame: Frame) -> str:
    """Return a sheet that hangs somewhere: with smaller letters before it has a second page.

    One that says too much for one page in letters that can be read has several.
    """
    sizes = (_drawn(paper, replace(frame, fit=fit)) for fit in range(FITS))
    fits = (html for html in sizes if page_count(html, css="print.css") == 1)
    return next(fits, _drawn(paper, frame))


def frame_of(paper: Paper, text_digest: str, *, check_url: str) -> Frame:
    """Return what each page of the document says of it."""
    head, on = paper.head, unbroken(paper.head.dated or paper.head.at.date())
    word = head.word or f"As of {on}"
    standing = head.standing or f"This is what the register held on {moment(head.at)}"
    if head.edition:
        standing = f"{ended(standing)} As known on {moment(head.at)}"
    return Frame(
        kind=head.kind or paper.KIND,
        reference=head.reference,
        edition=head.edition or f"as of {moment(head.at)}",
        dated=on if head.edition else "",
        title=head.title,
        site=head.site,
        state=word.upper() if head.loud else word,
        word=word,
        standing=standing,
        loud=head.loud,
        wide=paper.WIDE,
        digest=text_digest,
        live_url=f"{check_url}/{code_of(text_digest)}",
        language=head.language,
    )
