"""“Speak to a technician first”: a mark whose ground is held elsewhere and never here."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import Forbidden, Refused
from app.machines.models import Machine
from app.people.identity import Actor
from app.people.rights import Act
from app.training.models import PersonMark


def open_marks(session: Session, person_id: int) -> list[PersonMark]:
    """Return where this person speaks to a technician first, oldest first."""
    return list(
        session.execute(
            select(PersonMark)
            .where(PersonMark.person_id == person_id, stands(PersonMark))
            .order_by(PersonMark.id)
        ).scalars()
    )


def mark(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    area_id: int | None = None,
    machine_id: int | None = None,
    now: datetime,
) -> PersonMark:
    """Let a person speak to a technician before they use a machine, an area, or anything."""
    _insist(session, actor, area_id, machine_id)
    if any(
        (row.area_id, row.machine_id) == (area_id, machine_id)
        for row in open_marks(session, person_id)
    ):
        raise Refused("That mark stands already.", code="marked")
    row = PersonMark(
        person_id=person_id,
        area_id=area_id,
        machine_id=machine_id,
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    return _kept(session, row, "training:mark:set")


def unmark(session: Session, row: PersonMark, *, actor: Actor, now: datetime) -> PersonMark:
    """End a mark. The person it is about does not end it."""
    _insist(session, actor, row.area_id, row.machine_id)
    if actor.id == row.person_id:
        raise Forbidden("Somebody else ends a mark that is about you.")
    if row.id not in {each.id for each in open_marks(session, row.person_id)}:
        raise Refused("That mark was ended already.", code="ended")
    ending = PersonMark(
        person_id=row.person_id,
        area_id=row.area_id,
        machine_id=row.machine_id,
        ends_id=row.id,
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    return _kept(session, ending, "training:mark:end")


def _insist(session: Session, actor: Actor, area_id: int | None, machine_id: int | None) -> None:
    if machine_id is not None:
        area_id = session.get_one(Machine, machine_id).area_id
    if not actor.may(Act.MARK, area_id=area_id):
        raise Forbidden("You may not set or end a mark there.")


def _kept(session: Session, row: PersonMark, action: str) -> PersonMark:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"person_mark:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={"person": row.person_id, "area": row.area_id, "machine": row.machine_id},
    )
    return row
