"""Which of an induction's two paths is open to a person: read from their records."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from app.inductions.published import Published
from app.inductions.refresher import LastPass, Path, path_offered
from app.training.standing import Record, Result


def last_pass(records: Iterable[Record], *, counts_from: int, now: datetime) -> LastPass | None:
    """Return what a person's records in one induction say of their last pass. Pure.

    As the standing does, it asks the latest by when it happened, and of two at one instant
    the worse: whoever is not passed by it takes the full path.
    """
    known = [record for record in records if record.occurred_at <= now]
    if not known:
        return None
    latest = max(record.occurred_at for record in known)
    newest = [record for record in known if record.occurred_at == latest]
    ends = [record.expires_on for record in newest if record.expires_on is not None]
    return LastPass(
        alone=all(record.result is Result.ALONE for record in newest),
        counts=all(record.revision_number >= counts_from for record in newest),
        expires_on=min(ends, default=None),
    )


def path_open(
    taught: Published,
    records: Iterable[Record],
    *,
    counts_from: int,
    now: datetime,
    today: date,
) -> Path:
    """Return the shorter path where it is open to a person with these records, else the full."""
    short = taught.teaching.refresher
    return path_offered(
        last_pass(records, counts_from=counts_from, now=now),
        months=short.months if short is not None else None,
        today=today,
    )
