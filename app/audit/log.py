"""Write the log, inside the transaction that makes the change: both stand or both fall."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit.chain import first_break, seal
from app.audit.models import AuditEntry, AuditHead, PrivateNote


def record(
    session: Session,
    *,
    action: str,
    subject: str,
    actor_id: int | None,
    now: datetime,
    detail: dict[str, Any] | None = None,
) -> None:
    """Add an entry to the chain. ``detail`` holds numbers and codes, never words about a person."""
    head = session.execute(
        select(AuditHead).where(AuditHead.id == 1).with_for_update()
    ).scalar_one()
    detail = detail or {}
    sequence, previous = head.sequence + 1, head.seal
    head.seal = seal(
        previous=previous,
        sequence=sequence,
        recorded_at=now,
        actor_id=actor_id,
        action=action,
        subject=subject,
        detail=detail,
    )
    head.sequence, head.recorded_at = sequence, now
    session.add(
        AuditEntry(
            sequence=sequence,
            actor_id=actor_id,
            action=action,
            subject=subject,
            detail=detail,
            recorded_at=now,
            previous_seal=previous,
            seal=head.seal,
        )
    )


def broken_at(session: Session) -> int | None:
    """Return where the chain first breaks, or None if it is whole."""
    entries = session.execute(select(AuditEntry).order_by(AuditEntry.sequence)).scalars()
    return first_break(entries.yield_per(1000))


def keep_note(session: Session, words: str, *, now: datetime) -> str | None:
    """Keep private words apart from the evidence; return the digest that evidence refers to."""
    words = words.strip()
    if not words:
        return None
    salt = secrets.token_hex(16)
    digest = hashlib.sha256(f"{salt}:{words}".encode()).hexdigest()
    session.add(PrivateNote(digest=digest, salt=salt, words=words, written_at=now))
    return digest
