"""Record checks and find where they stand."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import NotFound, Refused
from app.hazards.due import next_due
from app.hazards.models import Check, CheckResult, CheckTerms, Outcome, Scope


def terms_of(session: Session, check_id: int) -> CheckTerms:
    """Return the terms in force of a check."""
    terms = session.execute(
        select(CheckTerms)
        .where(CheckTerms.check_id == check_id)
        .order_by(CheckTerms.id.desc())
        .limit(1)
    ).scalar_one_or_none()
    if terms is None:
        raise NotFound("This check has no terms on record.")
    return terms


def record_check(
    session: Session,
    check: Check,
    *,
    machine_id: int,
    outcome: Outcome,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
    done_at: datetime | None = None,
    reading: str = "",
    note: str = "",
) -> CheckResult:
    """Record one check done at a machine; of a shared control it speaks for all that rely on it."""
    done_at = done_at or now
    if done_at > now:
        raise Refused("A check cannot have been done in the future.", code="future", status=422)
    if outcome is Outcome.FAILED and not note.strip():
        raise Refused("Say what failed.", code="note-missing", status=422)
    terms = terms_of(session, check.id)
    result = CheckResult(
        check_id=check.id,
        machine_id=machine_id if check.scope is Scope.MACHINE else None,
        outcome=outcome,
        reading=reading.strip(),
        note=note.strip(),
        next_due_on=next_due(local_date(done_at, zone), every=terms.every, unit=terms.unit),
        recorded_by_id=actor_id,
        occurred_at=done_at,
        recorded_at=now,
    )
    session.add(result)
    session.flush()
    log.record(
        session,
        action=f"hazards:check:{outcome}",
        subject=f"check:{check.id}",
        actor_id=actor_id,
        now=now,
        detail={"result": result.id, "machine": machine_id},
    )
    return result


def latest_result(session: Session, check: Check, machine_id: int) -> CheckResult | None:
    """Return the last result that speaks for this machine."""
    unit = machine_id if check.scope is Scope.MACHINE else None
    return session.execute(
        select(CheckResult)
        .where(
            CheckResult.check_id == check.id,
            CheckResult.machine_id.is_(None) if unit is None else CheckResult.machine_id == unit,
        )
        .order_by(CheckResult.occurred_at.desc(), CheckResult.id.desc())
        .limit(1)
    ).scalar_one_or_none()
