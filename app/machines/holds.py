"""Take a machine out of use for everybody, and return it."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import Refused
from app.machines.models import Hold, Machine, MachineHold
from app.people.rights import Act


def open_holds(session: Session, machine_id: int) -> list[MachineHold]:
    """Return what keeps the machine from everybody, oldest first."""
    return list(
        session.execute(
            select(MachineHold)
            .where(MachineHold.machine_id == machine_id, stands(MachineHold))
            .order_by(MachineHold.id)
        ).scalars()
    )


def act_to_end(hold: Hold) -> Act:
    """Return what somebody must be allowed so as to end such a hold.

    Whoever looks into what happened decides when the scene may change, not whoever repairs.
    """
    return Act.RELEASE_SCENE if hold is Hold.SCENE_PRESERVED else Act.RETURN_TO_USE


def take_out(
    session: Session,
    machine: Machine,
    *,
    why: str,
    actor_id: int | None,
    now: datetime,
    hold: Hold = Hold.OUT_OF_USE,
) -> MachineHold:
    """Take the machine out of use. The register's word: it does not cut the power.

    ``actor_id`` None: somebody reported it without their name. Stopping must not need one.
    """
    if not why.strip():
        raise Refused("Say why the machine is taken out of use.", code="reason-missing", status=422)
    taken = MachineHold(
        machine_id=machine.id,
        hold=hold,
        why=why.strip(),
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(taken)
    session.flush()
    log.record(
        session,
        action="machines:hold:set",
        subject=f"machine:{machine.id}",
        actor_id=actor_id,
        now=now,
        detail={"hold": taken.id},
    )
    return taken


def return_to_use(
    session: Session, hold: MachineHold, *, tests: str, actor_id: int, now: datetime
) -> None:
    """End a hold, naming the tests that were passed."""
    if not tests.strip():
        raise Refused("Name the tests that it passed.", code="tests-missing", status=422)
    if hold.id not in {h.id for h in open_holds(session, hold.machine_id)}:
        raise Refused("It was returned to use already.", code="hold-ended")
    session.add(
        MachineHold(
            machine_id=hold.machine_id,
            hold=hold.hold,
            why=tests.strip(),
            ends_id=hold.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="machines:hold:end",
        subject=f"machine:{hold.machine_id}",
        actor_id=actor_id,
        now=now,
        detail={"hold": hold.id},
    )
