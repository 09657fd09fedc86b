"""A technician is on duty in an area until they leave, or until it runs out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.presence.models import Duty


def duties(
    session: Session,
    area_ids: Iterable[int],
    *,
    at: datetime,
    person_id: int | None = None,
) -> list[Duty]:
    """Return who is on duty in these areas; with a person: their duty alone."""
    asked = select(Duty).where(
        Duty.area_id.in_(list(area_ids)), Duty.runs_out_at > at, stands(Duty, at)
    )
    if person_id is not None:
        asked = asked.where(Duty.person_id == person_id)
    return list(session.execute(asked.order_by(Duty.id)).scalars())


def go_on_duty(
    session: Session, *, person_id: int, area_id: int, minutes: int, now: datetime
) -> Duty:
    """Put a technician on duty, or keep them there: it is counted from now."""
    for before in duties(session, [area_id], at=now, person_id=person_id):
        _end(session, before, now)
    row = Duty(
        person_id=person_id,
        area_id=area_id,
        runs_out_at=now + timedelta(minutes=minutes),
        recorded_by_id=person_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    _log(session, "presence:duty:begin", area_id, person_id, now)
    return row


def leave_duty(session: Session, *, person_id: int, area_id: int, now: datetime) -> bool:
    """Take a technician off duty in an area; return False where they were not on it."""
    found = duties(session, [area_id], at=now, person_id=person_id)
    for row in found:
        _end(session, row, now)
    if found:
        _log(session, "presence:duty:end", area_id, person_id, now)
    return bool(found)


def _end(session: Session, row: Duty, now: datetime) -> None:
    session.add(
        Duty(
            person_id=row.person_id,
            area_id=row.area_id,
            runs_out_at=row.runs_out_at,
            ends_id=row.id,
            recorded_by_id=row.person_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    session.flush()


def _log(session: Session, action: str, area_id: int, person_id: int, now: datetime) -> None:
    log.record(session, action=action, subject=f"area:{area_id}", actor_id=person_id, now=now)
