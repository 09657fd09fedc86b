"""The seal of an audit entry, over its own words and the seal before it. Pure."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any

FIRST_SEAL = "0" * 64


def seal(
    *,
    previous: str,
    sequence: int,
    recorded_at: datetime,
    actor_id: int | None,
    action: str,
    subject: str,
    detail: dict[str, Any],
) -> str:
    """Return the SHA-256 that seals an entry.  [64 hex digits]"""
    words = json.dumps(
        [previous, sequence, recorded_at.isoformat(), actor_id, action, subject, detail],
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=False,
    )
    return hashlib.sha256(words.encode()).hexdigest()


def first_break(entries: Iterable[Any]) -> int | None:
    """Return the sequence number of the first entry that does not fit the one before, or None."""
    previous, expected = FIRST_SEAL, 1
    for entry in entries:
        right = seal(
            previous=previous,
            sequence=expected,
            recorded_at=entry.recorded_at,
            actor_id=entry.actor_id,
            action=entry.action,
            subject=entry.subject,
            detail=entry.detail,
        )
        if entry.sequence != expected or entry.seal != right or entry.previous_seal != previous:
            return expected
        previous, expected = entry.seal, expected + 1
    return None
