"""A machine's energy cut off and locked, as somebody says. The software cuts nothing."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import Forbidden, NotFound, Refused
from app.machines.models import Isolation, Machine


def open_isolations(session: Session, machine_id: int) -> list[Isolation]:
    """Return the locks that are on, oldest first."""
    return list(
        session.execute(
            select(Isolation)
            .where(Isolation.machine_id == machine_id, stands(Isolation))
            .order_by(Isolation.id)
        ).scalars()
    )


def isolation_or_404(session: Session, isolation_id: int, machine_id: int) -> Isolation:
    """Return an isolation of this machine; the row that ends one is none of its own."""
    found = session.get(Isolation, isolation_id)
    if found is None or found.machine_id != machine_id or found.ends_id is not None:
        raise NotFound("There is no such isolation of this machine.")
    return found


def isolate(
    session: Session,
    machine: Machine,
    *,
    point: str,
    lock_number: str,
    why: str,
    actor_id: int,
    now: datetime,
) -> Isolation:
    """Record that the actor has isolated the machine and put their own lock on."""
    if not point.strip() or not lock_number.strip() or not why.strip():
        raise Refused(
            "Name the point, the number of your lock, and why.", code="isolation", status=422
        )
    row = Isolation(
        machine_id=machine.id,
        point=point.strip(),
        lock_number=lock_number.strip(),
        why=why.strip(),
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    _log(session, "apply", row, actor_id=actor_id, now=now)
    return row


def remove_own(
    session: Session, isolation: Isolation, *, words: str, actor_id: int, now: datetime
) -> None:
    """Record that the person who applied the lock has taken it off."""
    if isolation.recorded_by_id != actor_id:
        raise Forbidden("Only who applied this lock removes it. Nothing was recorded.")
    if not words.strip():
        raise Refused("Say what was looked at first.", code="words-missing", status=422)
    _end(session, isolation, words=words, second_id=None, actor_id=actor_id, now=now)


def remove_abandoned(
    session: Session,
    isolation: Isolation,
    *,
    words: str,
    second_id: int,
    actor_id: int,
    now: datetime,
) -> None:
    """Record that two people took off the lock of somebody who is not here.

    Usual practice, after 29 CFR 1910.147(e)(3) (United States; from memory): it was made sure
    that who applied it is away, they were tried to be reached, and they will be told before
    they work here again. The caller has asked both who they are and what they may.
    """
    if isolation.recorded_by_id in (actor_id, second_id):
        raise Refused(
            "Who applied a lock removes it alone, as their own. Nothing was recorded.",
            code="own-lock",
            status=422,
        )
    if second_id == actor_id:
        raise Refused(
            "An abandoned lock needs two different people. Nothing was recorded.",
            code="same-person",
            status=422,
        )
    if not words.strip():
        raise Refused(
            "Say how it was made sure that who applied it is away and that nobody is at the "
            "machine, and how they will be told.",
            code="words-missing",
            status=422,
        )
    _end(session, isolation, words=words, second_id=second_id, actor_id=actor_id, now=now)


def _end(
    session: Session,
    isolation: Isolation,
    *,
    words: str,
    second_id: int | None,
    actor_id: int,
    now: datetime,
) -> None:
    if isolation.id not in {each.id for each in open_isolations(session, isolation.machine_id)}:
        raise Refused("This lock was removed already.", code="isolation-ended")
    session.add(
        Isolation(
            machine_id=isolation.machine_id,
            point=isolation.point,
            lock_number=isolation.lock_number,
            why=words.strip(),
            second_id=second_id,
            ends_id=isolation.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    _log(session, "remove", isolation, actor_id=actor_id, now=now, second_id=second_id)


def _log(
    session: Session,
    verb: str,
    row: Isolation,
    *,
    actor_id: int,
    now: datetime,
    second_id: int | None = None,
) -> None:
    log.record(
        session,
        action=f"machines:isolation:{verb}",
        subject=f"machine:{row.machine_id}",
        actor_id=actor_id,
        now=now,
        detail={"isolation": row.id} | ({} if second_id is None else {"second": second_id}),
    )
