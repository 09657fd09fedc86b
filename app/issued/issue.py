"""Issue a document: made once for all that decides its bytes, and kept as evidence."""

from __future__ import annotations

import hashlib
from collections.abc import Callable

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clock import Clock
from app.db import Database
from app.issued.models import IssuedDocument
from app.storage import Files

LANGUAGE = "en"


def key_of(kind: str, *decides: object) -> str:
    """Return the key of a document: the same key, the same bytes.

    ``decides`` is what its content is made of, as text, numbers, dates and frozen dataclasses of
    these. The template, the fonts, the engine and the language are added here.
    """
    from assessments.document.renderer import renderer_id

    words = (kind, decides, renderer_id(), LANGUAGE)
    return hashlib.sha256(repr(words).encode()).hexdigest()


def issued(session: Session, key: str) -> str | None:
    """Return the digest of the file that was issued under this key, if any."""
    return session.execute(
        select(IssuedDocument.file_digest).where(IssuedDocument.key == key)
    ).scalar_one_or_none()


def issue(
    database: Database,
    files: Files,
    clock: Clock,
    *,
    kind: str,
    subject: str,
    key: str,
    make: Callable[[], bytes],
) -> str:
    """Make a document unless it was made before; return the digest of its file.

    ``subject`` says what it is about, as the log does: ``revision:12``. ``make`` is called outside
    any transaction. A file that was lost is made again.
    """
    with database.read() as session:
        before = issued(session, key)
    if before is not None and files.has(before):
        return before
    file_digest = files.keep(make())
    with database.write() as session:
        again = issued(session, key)
        if again is not None:  # another worker was quicker
            return again
        session.add(
            IssuedDocument(
                kind=kind, subject=subject, key=key, file_digest=file_digest, made_at=clock.now()
            )
        )
    return file_digest
