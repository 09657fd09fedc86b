"""Suspend a person everywhere, in an area or at a machine, and restore them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.db import stands
from app.errors import Forbidden, Refused
from app.machines.models import Machine
from app.people.identity import Actor
from app.people.models import Person
from app.people.rights import Act
from app.training.models import Suspension


@dataclass(frozen=True, kw_only=True)
class Stop:
    """A suspension that stands, with its reason for those entitled to it."""

    row: Suspension
    name: str
    by: str
    reason: str | None
    may_restore: bool


def open_suspensions(session: Session, person_id: int) -> list[Suspension]:
    """Return what this person is suspended from, oldest first."""
    return list(
        session.execute(
            select(Suspension)
            .where(Suspension.person_id == person_id, stands(Suspension))
            .order_by(Suspension.id)
        ).scalars()
    )


def stops_of(session: Session, person_id: int, actor: Actor) -> list[Stop]:
    """Return what this person is suspended from, as far as the actor may read it."""
    return _stops(session, actor, Suspension.person_id == person_id)


def all_stops(session: Session, actor: Actor) -> list[Stop]:
    """Return every suspension that stands, the newest first, as far as the actor may read it."""
    return _stops(session, actor, Person.erased_at.is_(None))[::-1]


def _stops(session: Session, actor: Actor, those: ColumnElement[bool]) -> list[Stop]:
    by = aliased(Person)
    rows = session.execute(
        select(Suspension, Person.name, by.name.label("by"))
        .join(Person, Person.id == Suspension.person_id)
        .join(by, by.id == Suspension.recorded_by_id)
        .where(those, stands(Suspension))
        .order_by(Suspension.id)
    )
    return [
        Stop(
            row=row.Suspension,
            name=row.name,
            by=row.by,
            reason=_reason(session, actor, row.Suspension),
            may_restore=may_restore(actor, row.Suspension),
        )
        for row in rows
    ]


def _reason(session: Session, actor: Actor, row: Suspension) -> str | None:
    """Give the reason to whoever set it and to those who restore; never to the person."""
    entitled = actor.id == row.recorded_by_id or actor.may(Act.RESTORE)
    if actor.id == row.person_id or not entitled or row.note_digest is None:
        return None
    return log.note(session, row.note_digest)


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
    """Stop a person. The reason is kept apart and seen only by those entitled.

    Whoever suspends somebody from one area or machine may do so there. From everywhere any
    technician may: what was seen at one machine can be enough for all.
    """
    if not actor.may(Act.SUSPEND, area_id=_area_of(session, area_id, machine_id)):
        raise Forbidden("You may not suspend anybody there.")
    if actor.id == person_id:
        raise Forbidden("Nobody suspends themself.")
    if not reason.strip():
        raise Refused("Say why.", code="reason-missing", status=422)
    if any(
        (row.area_id, row.machine_id) == (area_id, machine_id)
        for row in open_suspensions(session, person_id)
    ):
        raise Refused("They are suspended from that already.", code="suspended")
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


def _area_of(session: Session, area_id: int | None, machine_id: int | None) -> int | None:
    return area_id if machine_id is None else session.get_one(Machine, machine_id).area_id


def may_restore(actor: Actor, suspension: Suspension) -> bool:
    """Say whether somebody may lift it: whoever set it, and an approver; never the person."""
    set_it = actor.may(Act.SUSPEND) and actor.id == suspension.recorded_by_id
    return actor.id != suspension.person_id and (set_it or actor.may(Act.RESTORE))


def restore(
    session: Session, *, actor: Actor, suspension: Suspension, reason: str, now: datetime
) -> None:
    """Lift a suspension."""
    if not may_restore(actor, suspension):
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
