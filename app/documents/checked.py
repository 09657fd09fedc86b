"""Check a printed copy by its code: was it made here, and would it say the same today?"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.documents.asked import Asked
from app.documents.kinds import KINDS, Kind
from app.documents.models import PrintedCode
from app.errors import NotFound, Refused
from assessments.document.frozen import digest
from assessments.document.paper import Paper, code_of, text_of
from assessments.errors import Refused as CannotDraw


@dataclass(frozen=True, kw_only=True)
class Copy:
    """What a code says of the paper that carries it."""

    kind: Kind
    row: PrintedCode
    paper: Paper | None  # as it was printed; None: the register can no longer say it
    same_today: bool
    standing_today: str  # "Superseded by a later revision", "Over"; "": nothing to add


def remember(session: Session, kind: Kind, asked: Asked, text: str, *, now: datetime) -> None:
    """Keep the code of a document that was made, so that its paper can be checked."""
    text_digest = digest(text)
    code = code_of(text_digest)
    if session.execute(select(PrintedCode.id).where(PrintedCode.code == code)).first():
        return
    session.add(
        PrintedCode(
            code=code,
            kind=kind.key,
            subject=asked.subject,
            asked=asked.payload(),
            digest=text_digest,
            made_at=now,
        )
    )


def checked(session: Session, code: str, *, now: datetime) -> Copy:
    """Return what a code stands for. It is too long to be found by trying."""
    row = session.execute(
        select(PrintedCode).where(PrintedCode.code == code.strip().lower())
    ).scalar_one_or_none()
    if row is None or row.kind not in KINDS:
        raise NotFound("This register made no document with that code. Do not rely on the copy.")
    kind, asked = KINDS[row.kind], Asked.of(row.asked)
    before = _read(session, kind, asked)
    if before is not None and digest(text_of(before)) != row.digest:
        before = None  # a name was changed or removed since
    today = _read(session, kind, replace(asked, at=now, known=now))
    same = before is not None and today is not None and _at(today, before.head.at) == before
    words = today.head.standing if today is not None and today.head.loud else ""
    return Copy(kind=kind, row=row, paper=before, same_today=same, standing_today=words)


def _read(session: Session, kind: Kind, asked: Asked) -> Paper | None:
    try:
        return kind.read(session, asked)
    except (Refused, CannotDraw):
        return None


def _at(paper: Any, at: datetime) -> Paper:
    """Return a document as if it told of another moment: the rest of it is compared."""
    moved: Paper = replace(paper, head=replace(paper.head, at=at))
    return moved
