"""What may be worked at a machine, what never, and what is on trial, each with a reason."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.machines.models import Machine, MachineMaterial, MaterialWord


def materials_of(session: Session, machine_id: int) -> list[MachineMaterial]:
    """Return what stands: never first, then on trial, then allowed, each by name."""
    rows = session.execute(
        select(MachineMaterial).where(
            MachineMaterial.machine_id == machine_id, stands(MachineMaterial)
        )
    ).scalars()
    order = [MaterialWord.NEVER, MaterialWord.ON_TRIAL, MaterialWord.ALLOWED]
    return sorted(rows, key=lambda row: (order.index(row.word), row.material.lower(), row.id))


def say(
    session: Session,
    machine: Machine,
    *,
    material: str,
    word: MaterialWord,
    reason: str,
    actor_id: int,
    now: datetime,
) -> MachineMaterial:
    """Say of a material what holds from now on; what was said of it before ends with that."""
    if not material:
        raise Refused("Name the material.", code="material-missing", status=422)
    if len(material) > 200:
        raise Refused("A name has at most 200 characters.", code="name-long", status=422)
    if word is not MaterialWord.ALLOWED and not reason:
        raise Refused(f"Say why it is {word.value}.", code="reason-missing", status=422)
    for before in materials_of(session, machine.id):
        if before.material.casefold() == material.casefold():
            end(session, before, reason=f"{word.value} now", actor_id=actor_id, now=now)
    row = MachineMaterial(
        machine_id=machine.id,
        material=material,
        word=word,
        reason=reason,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="machines:material:say",
        subject=f"machine_material:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": machine.id, "word": word.value},
    )
    return row


def end(
    session: Session, row: MachineMaterial, *, reason: str, actor_id: int, now: datetime
) -> None:
    """Take a line of the list back. A material that no line names is not on the list."""
    ended = select(MachineMaterial.id).where(MachineMaterial.ends_id == row.id)
    if row.ends_id is not None or session.execute(ended).first():
        raise NotFound("That line of the list has ended already.")
    session.add(
        MachineMaterial(
            machine_id=row.machine_id,
            material=row.material,
            word=row.word,
            reason=reason,
            ends_id=row.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    session.flush()
    log.record(
        session,
        action="machines:material:end",
        subject=f"machine_material:{row.id}",
        actor_id=actor_id,
        now=now,
    )
