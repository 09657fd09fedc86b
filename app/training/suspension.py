"""Suspend a person everywhere, in an area or at a machine, and restore them."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import Forbidden, Refused
from app.people.identity import Actor
from app.people.rights import Act
from app.training.models import Suspension


def open_suspensions(session: Session, person_id: int) -> list[Suspension]:
    """Return what this person is suspended from, oldest first."""
    return list(
        session.execute(
            select(Suspension)
            .where(Suspension.person_id == person_id, stands(Suspension))
            .order_by(Suspension.id)
        ).scalars()
    )


def suspend(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    reason: str,
    area_id: int | None = None,
    machine_id: int | None = None,
    now: datetime,
) -> Suspension:
    """Stop a person. The reason is kept apart and seen only by those entitled."""
    if not actor.may(Act.SUSPEND):
        raise Forbidden("You may not suspend anybody.")
    if not reason.strip():
        raise Refused("Say why.", code="reason-missing", status=422)
    row = Suspension(
        person_id=person_id,
        area_id=area_id,
        machine_id=machine_id,
        note_digest=log.keep_note(session, reason, now=now),
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    _keep(session, row, "training:suspension:set", actor.id, now)
    return row


def restore(
    session: Session, *, actor: Actor, suspension: Suspension, reason: str, now: datetime
) -> None:
    """Lift a suspension: whoever set it may, and an approver; never the person."""
    set_it = actor.may(Act.SUSPEND) and actor.id == suspension.recorded_by_id
    if actor.id == suspension.person_id or not (set_it or actor.may(Act.RESTORE)):
        raise Forbidden("Only whoever suspended this person, or an approver, restores them.")
    if not reason.strip():
        raise Refused("Say why.", code="reason-missing", status=422)
    if suspension.id not in {s.id for s in open_suspensions(session, suspension.person_id)}:
        raise Refused("That suspension was lifted already.", code="lifted")
    row = Suspension(
        person_id=suspension.person_id,
        area_id=suspension.area_id,
        machine_id=suspension.machine_id,
        ends_id=suspension.id,
        note_digest=log.keep_note(session, reason, now=now),
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    _keep(session, row, "training:suspension:lift", actor.id, now)


def _keep(session: Session, row: Suspension, action: str, actor_id: int, now: datetime) -> None:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"suspension:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": row.person_id, "area": row.area_id, "machine": row.machine_id},
    )
