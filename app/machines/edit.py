"""What the register says of a machine, changed: its words, its area, its end."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.machines.models import Area, Machine, MachineMove

WORDS = ("name", "kind", "place", "maker", "model", "serial")


def describe_machine(
    session: Session, machine: Machine, *, words: dict[str, str], actor_id: int, now: datetime
) -> list[str]:
    """Change what the register says of a machine; return the fields that changed."""
    if not words["name"]:
        raise Refused("A machine needs a name.", code="name-missing", status=422)
    taken = session.execute(select(Machine.id).where(Machine.name == words["name"])).scalar()
    if taken not in (None, machine.id):
        raise Refused(
            f"There is a machine called {words['name']} already.", code="name-taken", status=422
        )
    changed = [field for field in WORDS if getattr(machine, field) != words[field]]
    for field in changed:
        setattr(machine, field, words[field])
    if changed:
        _log(session, "machines:machine:describe", machine, actor_id, now, {"fields": changed})
    return changed


def move(
    session: Session, machine: Machine, area: Area, *, actor_id: int, now: datetime
) -> MachineMove:
    """Move a machine to another area. Where it stood before is kept."""
    if area.id == machine.area_id:
        raise Refused(f"{machine.name} stands in {area.name} already.", code="there", status=422)
    row = MachineMove(
        machine_id=machine.id,
        from_area_id=machine.area_id,
        to_area_id=area.id,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    machine.area_id = area.id
    _log(session, "machines:machine:move", machine, actor_id, now, {"to": area.id})
    return row


def retire_machine(
    session: Session, machine: Machine, *, on: date, actor_id: int, now: datetime
) -> None:
    """End a machine's life here from that day on. Its history stays."""
    if machine.retired_on is not None:
        raise Refused(f"{machine.name} is retired already.", code="retired")
    machine.retired_on = on
    _log(session, "machines:machine:retire", machine, actor_id, now, {"on": on.isoformat()})


def _log(
    session: Session,
    action: str,
    machine: Machine,
    actor_id: int,
    now: datetime,
    detail: dict[str, object],
) -> None:
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"machine:{machine.id}",
        actor_id=actor_id,
        now=now,
        detail=detail,
    )
