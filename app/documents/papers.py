"""Documents of typed values: asked for in a page, drawn by the worker, kept by their digest."""

from __future__ import annotations

import hashlib
import json

from sqlalchemy.orm import Session

from app.clock import Clock
from app.db import Database
from app.documents.asked import Asked
from app.documents.checked import remember
from app.documents.kinds import Kind, kind_or_404
from app.issued.issue import issue, key_of
from app.jobs.task import Task
from app.settings import Settings
from app.signing.sign import can_sign, sign
from app.storage import Files

PAPER_JOB = "paper"


def check_url(settings: Settings) -> str:
    """Return the address under which printed codes are checked."""
    return f"{settings.public_url}/check"


def paper_key(kind: Kind, text: str, there: str) -> str:
    """Return the key of what decides the bytes of a document of this text."""
    return key_of(kind.key, text, there)


def stamp_of(asked: Asked) -> str:
    """Return what tells one asking from another in an address."""
    return hashlib.sha256(json.dumps(asked.payload()).encode()).hexdigest()[:16]


def job_key(kind: Kind, subject: int, stamp: str) -> str:
    """Return the key of the job that makes it: asked for twice, it is made once."""
    return f"{PAPER_JOB}:{kind.key}:{subject}:{stamp}"


def make_paper(
    database: Database, files: Files, clock: Clock, settings: Settings, task: Task
) -> str:
    """Read the register as it was asked for, draw it, keep it; return the digest of the file."""
    from assessments.document.paper import paper_pdf, text_of

    kind, asked = kind_or_404(task.payload["kind"]), Asked.of(task.payload)
    with database.read() as session:
        paper = kind.read(session, asked)
    text, there = text_of(paper), check_url(settings)
    if kind.kept:
        made = issue(
            database,
            files,
            clock,
            kind=kind.key,
            subject=f"{kind.about}:{asked.subject}",
            key=paper_key(kind, text, there),
            make=lambda: paper_pdf(paper, check_url=there),
        )
    else:
        data = paper_pdf(paper, check_url=there)
        made = files.keep(_signed(data, settings, task) if kind.signed else data)
    with database.write() as session:
        remember(session, kind, asked, text, now=clock.now())
    return made


def _signed(data: bytes, settings: Settings, task: Task) -> bytes:
    """Return a copy signed with the key of the site; without a key the document as it is."""
    if not can_sign(settings):
        return data
    path = task.folder / "signed.pdf"
    path.write_bytes(data)
    sign(path, settings, reason="What this register holds of the person's training")
    return path.read_bytes()


def readable(session: Session, kind: Kind, asked: Asked) -> str:
    """Read what would be drawn; return its title. Refused where no page can show its words."""
    from assessments.document.paper import text_of

    paper = kind.read(session, asked)
    text_of(paper)
    return paper.head.title
