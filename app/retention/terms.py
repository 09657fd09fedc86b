"""What a site decides of the schedule: longer than it, and never less than the law asks."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.retention.models import RetentionTerm
from app.retention.schedule import kinds, span
from app.site import site


def set_term(
    session: Session, key: str, typed: str, *, why: str, actor_id: int, now: datetime
) -> RetentionTerm:
    """Set how long a kind of record is kept here; empty: as the schedule has it again."""
    kind = kinds().get(key)
    if kind is None or kind.span is None:
        raise NotFound("There is no such kind of record, or it is kept without a term.")
    if typed:
        own, least = span(typed), kind.least(site(session).regime)
        if least is not None and not own >= least.span:
            raise Refused(
                f"That is less than the law asks: {least.span}, {least.source} ({least.status}).",
                code="too-short",
                status=422,
            )
        if not why.strip():
            raise Refused("Say why it is kept for that long here.", code="reason", status=422)
    row = RetentionTerm(kind=key, span=typed, why=why, recorded_by_id=actor_id, recorded_at=now)
    session.add(row)
    session.flush()
    log.record(
        session,
        action="retention:term:set",
        subject=f"retention_term:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"kind": key, "span": typed},
    )
    return row


def history(session: Session) -> dict[str, list[RetentionTerm]]:
    """Return what was set of each kind, the newest first."""
    found: dict[str, list[RetentionTerm]] = {}
    for row in session.execute(select(RetentionTerm).order_by(RetentionTerm.id.desc())).scalars():
        found.setdefault(row.kind, []).append(row)
    return found
