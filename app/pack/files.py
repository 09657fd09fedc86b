"""Which files a pack is joined from, in order, and the key each is kept under.

A file says nothing of where in the pack it stands, so that it is drawn once: what did not change
since the last pack, and every print of a revision, is used again as it was kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from app.clock import Clock
from app.db import Database
from app.documents.papers import paper_key
from app.issued.issue import issue, issued, key_of
from app.pack.contents.substances import KIND, BoundPaper
from app.pack.gather import BoundPrint, Gathered
from app.risk_assessments.approval import PRINT_JOB
from app.storage import Files
from assessments.document.drawing import AssessmentFile, Drawn, PaperFile, PartFile
from assessments.document.joining import Looked, look
from assessments.document.pack import PARTS, Part, part_html, pieces
from assessments.document.paper import text_of
from assessments.document.side_by_side import Drawing

PART_KIND = "pack-part"
# What is bound behind these parts.
ASSESSMENTS_PART, SUBSTANCES_PART = 4, 5


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """One file of the pack."""

    number: int  # of its part
    title: str
    opens: bool  # its part begins with it
    bound: bool  # a document of its own, bound behind its part
    kind: str
    subject: str
    key: str
    drawn_from: Drawn
    step: str  # in words, while it is made


@dataclass(frozen=True, kw_only=True)
class Kept:
    """A file of the pack in the store."""

    wanted: Wanted
    digest: str
    looked: Looked


def wanted(gathered: Gathered) -> Iterator[Wanted]:
    """Give the files in their order; nothing is drawn."""
    for part in gathered.parts:
        for piece in pieces(part):
            yield _of_part(gathered, piece)
        if part.number == ASSESSMENTS_PART:
            for place, bound in enumerate(gathered.bound, start=1):
                yield _of_assessment(bound, place, len(gathered.bound))
        if part.number == SUBSTANCES_PART:
            for place, paper in enumerate(gathered.papers, start=1):
                yield _of_paper(paper, place, gathered)


def _of_part(gathered: Gathered, piece: Part) -> Wanted:
    html = part_html(piece, gathered.pack)
    cut = f": piece {piece.piece} of {piece.pieces}" if piece.pieces > 1 else ""
    return Wanted(
        number=piece.number,
        title=piece.title,
        opens=piece.piece == 1,
        bound=False,
        kind=PART_KIND,
        subject=f"pack:{piece.key}",
        key=key_of(PART_KIND, html),
        drawn_from=PartFile(html=html),
        step=f"part {piece.number} of {PARTS}{cut}",
    )


def _of_assessment(bound: BoundPrint, place: int, total: int) -> Wanted:
    ready = bound.ready
    return Wanted(
        number=ASSESSMENTS_PART,
        title=bound.title,
        opens=False,
        bound=True,
        kind=PRINT_JOB,
        subject=f"revision:{ready.revision.id}",
        key=ready.key,
        drawn_from=AssessmentFile(
            content=ready.revision.content,
            approval=ready.approval,
            standing=ready.standing,
            live_url=ready.live_url,
            digest=ready.revision.digest,
        ),
        step=f"part {ASSESSMENTS_PART} of {PARTS}: assessment {place} of {total}",
    )


def _of_paper(bound: BoundPaper, place: int, gathered: Gathered) -> Wanted:
    return Wanted(
        number=SUBSTANCES_PART,
        title=bound.title,
        opens=False,
        bound=True,
        kind=KIND.key,
        subject=f"{KIND.about}:{bound.asked.subject}",
        key=paper_key(KIND, text_of(bound.paper), gathered.check_url),
        drawn_from=PaperFile(paper=bound.paper, check_url=gathered.check_url),
        step=f"part {SUBSTANCES_PART} of {PARTS}: substances {place} of {len(gathered.papers)}",
    )


def keep_all(
    database: Database,
    files: Files,
    clock: Clock,
    those: Sequence[Wanted],
    drawing: Drawing,
) -> Iterator[Kept]:
    """Give every file, drawn where it was not kept.

    Each is kept as soon as it is drawn: who begins again goes on from there.
    """
    before = _before(database, files, those)
    fresh = drawing.all_of(each.drawn_from for each in those if each.key not in before)
    for each in those:
        digest = before.get(each.key)
        if digest is None:
            digest = _issue(database, files, clock, each, next(fresh))
        # While the next ones are drawn.
        yield Kept(wanted=each, digest=digest, looked=look(files.path(digest), each.title))


def _issue(database: Database, files: Files, clock: Clock, each: Wanted, data: bytes) -> str:
    return issue(
        database,
        files,
        clock,
        kind=each.kind,
        subject=each.subject,
        key=each.key,
        make=lambda: data,
    )


def _before(database: Database, files: Files, those: Iterable[Wanted]) -> dict[str, str]:
    """Return the digests of what was kept before and is still there."""
    found = {}
    with database.read() as session:
        for each in those:
            digest = issued(session, each.key)
            if digest is not None and files.has(digest):
                found[each.key] = digest
    return found
