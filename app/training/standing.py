"""What a person's records in one induction are worth at a moment. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any


class Result(StrEnum):
    """What one record says."""

    NOT_YET = "not yet"
    SUPERVISED = "with supervision"
    ALONE = "on their own"
    REVOKED = "revoked"


class State(StrEnum):
    """What a person's standing in an induction is."""

    CURRENT = "current"
    SUPERVISED = "with supervision"
    MISSING = "missing"
    NOT_YET = "not yet passed"
    EXPIRED = "expired"
    REVOKED = "revoked"
    OUTDATED = "signed under a revision that no longer counts"


@dataclass(frozen=True, kw_only=True, slots=True)
class Record:
    """One training record, as far as the standing needs it."""

    id: int
    result: Result
    revision_number: int
    occurred_at: datetime
    expires_on: date | None  # valid through this day; None: does not run out

    @classmethod
    def of(cls, row: Any) -> Record:
        """Return what a row of training records says, whichever statement read it."""
        return cls(
            id=row.id,
            result=row.result,
            revision_number=row.revision_number,
            occurred_at=row.occurred_at,
            expires_on=row.expires_on,
        )


def standing(records: Iterable[Record], *, counts_from: int, now: datetime, today: date) -> State:
    """Return the standing at ``now``, which is ``today`` at the site.

    The latest record by the time it happened decides, not by the time it was written down:
    a paper sheet typed in late cannot undo a revocation that came after it. Of two at the
    same instant the worse decides. A record from the future does not exist yet.
    """
    known = [record for record in records if record.occurred_at <= now]
    if not known:
        return State.MISSING
    latest = max(record.occurred_at for record in known)
    return min(
        (_state(r, counts_from, today) for r in known if r.occurred_at == latest),
        key=_WORST_FIRST.index,
    )


def _state(record: Record, counts_from: int, today: date) -> State:
    if record.result is Result.REVOKED:
        return State.REVOKED
    if record.result is Result.NOT_YET:
        return State.NOT_YET
    if record.revision_number < counts_from:
        return State.OUTDATED
    if record.expires_on is not None and record.expires_on < today:
        return State.EXPIRED
    return State.CURRENT if record.result is Result.ALONE else State.SUPERVISED


_WORST_FIRST = (
    State.REVOKED,
    State.NOT_YET,
    State.OUTDATED,
    State.EXPIRED,
    State.MISSING,
    State.SUPERVISED,
    State.CURRENT,
)
