"""Write the log, inside the transaction that makes the change: both stand or both fall."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, select, update
from sqlalchemy.orm import Session

from app.audit.chain import FIRST_SEAL, first_break, seal
from app.audit.models import AuditEntry, AuditHead, PrivateNote
from app.db import insert_into, prepared


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
    session.flush()  # what the entry is about is there before it
    connection = session.connection()
    head = _HEAD(connection).one()
    detail = detail or {}
    sequence = head.sequence + 1
    entry_seal = seal(
        previous=head.seal,
        sequence=sequence,
        recorded_at=now,
        actor_id=actor_id,
        action=action,
        subject=subject,
        detail=detail,
    )
    _MOVE_HEAD(
        connection, {"new_sequence": sequence, "new_seal": entry_seal, "new_recorded_at": now}
    )
    _ADD(
        connection,
        {
            "sequence": sequence,
            "actor_id": actor_id,
            "action": action,
            "subject": subject,
            "detail": detail,
            "recorded_at": now,
            "previous_seal": head.seal,
            "seal": entry_seal,
        },
    )


_ADD = insert_into(AuditEntry)
_HEAD = prepared(
    select(AuditHead.sequence, AuditHead.seal).where(AuditHead.id == 1).with_for_update()
)
_MOVE_HEAD = prepared(
    update(AuditHead)
    .where(AuditHead.id == 1)
    .values(
        sequence=bindparam("new_sequence"),
        seal=bindparam("new_seal"),
        recorded_at=bindparam("new_recorded_at"),
    )
)


def latest_entry_at(session: Session) -> datetime:
    """Return when the newest entry was written."""
    return session.connection().execute(_LATEST).scalar_one()


def latest_seal(session: Session) -> tuple[int, str]:
    """Return the number and the seal of the newest entry: what came before it is in the seal."""
    row = session.connection().execute(_LATEST_SEAL).one()
    return row.sequence, row.seal


_LATEST_SEAL = select(AuditHead.sequence, AuditHead.seal).where(AuditHead.id == 1)
_LATEST = select(AuditHead.recorded_at).where(AuditHead.id == 1)


def broken_at(session: Session) -> int | None:
    """Return where the chain first breaks, or None if it is whole."""
    entries = session.execute(select(AuditEntry).order_by(AuditEntry.sequence)).scalars()
    broken = first_break(entries.yield_per(1000))
    return broken if broken is not None else _cut_off_at(session)


def _cut_off_at(session: Session) -> int | None:
    """Return the first entry that is missing at the end: the head knows how long the chain was."""
    head = session.execute(select(AuditHead).where(AuditHead.id == 1)).scalar_one()
    last = session.execute(
        select(AuditEntry.sequence, AuditEntry.seal).order_by(AuditEntry.sequence.desc()).limit(1)
    ).one_or_none()
    sequence, seal_of_last = last or (0, FIRST_SEAL)
    if (sequence, seal_of_last) == (head.sequence, head.seal):
        return None
    return int(sequence) + 1


def keep_note(session: Session, words: str, *, now: datetime) -> str | None:
    """Keep private words apart from the evidence; return the digest that evidence refers to."""
    words = words.strip()
    if not words:
        return None
    salt = secrets.token_hex(16)
    digest = hashlib.sha256(f"{salt}:{words}".encode()).hexdigest()
    session.add(PrivateNote(digest=digest, salt=salt, words=words, written_at=now))
    return digest


def note(session: Session, digest: str) -> str | None:
    """Return the private words behind a digest, or None once they were erased.

    Whoever calls this asks first who may read them.
    """
    row = session.get(PrivateNote, digest)
    return row.words if row is not None else None
