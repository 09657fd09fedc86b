"""Record checks and find where they stand."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import Forbidden, NotFound, Refused
from app.hazards.due import next_due
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Outcome, Scope


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


def insist_on_report(terms: CheckTerms, outcome: Outcome) -> None:
    """Refuse to pass a statutory examination by the way a routine check is recorded.

    That it failed is taken from everybody who may check: stopping must be quick.
    """
    if terms.basis is Basis.STATUTORY and outcome is Outcome.PASSED:
        raise Forbidden(
            "A statutory examination passes only by its examiner's report, which an approver "
            "records. Nothing was recorded."
        )


def record_examination(
    session: Session,
    check: Check,
    *,
    machine_id: int,
    outcome: Outcome,
    done_on: date,
    examiner: str,
    report: str,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
    note: str = "",
) -> CheckResult:
    """Record a statutory examination by its report; the next is due counted from its own day.

    The examiner and the reference of the report stand in the note of the result.
    """
    terms = terms_of(session, check.id)
    if terms.basis is not Basis.STATUTORY:
        raise Refused("This is not a statutory examination: record it as a check.", code="routine")
    if not examiner.strip() or not report.strip():
        raise Refused(
            "Name the examiner and the reference of the report.", code="report-missing", status=422
        )
    if outcome is Outcome.FAILED and not note.strip():
        raise Refused("Say what failed.", code="note-missing", status=422)
    words = f"Examined by {examiner.strip()}; report {report.strip()}. {note.strip()}"
    return record_check(
        session,
        check,
        machine_id=machine_id,
        outcome=outcome,
        actor_id=actor_id,
        now=now,
        zone=zone,
        done_at=_done_at(done_on, terms, now=now, zone=zone),
        note=words,
    )


def _done_at(done_on: date, terms: CheckTerms, *, now: datetime, zone: ZoneInfo) -> datetime:
    """Return the instant that stands for the day of an examination: its noon, or now if today."""
    today = local_date(now, zone)
    if done_on > today:
        raise Refused(
            "An examination cannot have been done in the future.", code="future", status=422
        )
    if next_due(done_on, every=terms.every, unit=terms.unit) < today:
        raise Refused(
            "An examination of that day has run out already. Look at the date on the report again.",
            code="run-out",
            status=422,
        )
    if done_on == today:
        return now
    return datetime.combine(done_on, time(12), zone).astimezone(UTC)


def latest_result(session: Session, check: Check, machine_id: int) -> CheckResult | None:
    """Return the last result that speaks for this machine."""
    unit = machine_id if check.scope is Scope.MACHINE else None
    return session.execute(
        select(CheckResult)
        .where(
            CheckResult.check_id == check.id,
            CheckResult.machine_id.is_(None) if unit is None else CheckResult.machine_id == unit,
        )
        # Of two at the same instant a failure counts, as it does in the decision.
        .order_by(CheckResult.occurred_at.desc(), CheckResult.outcome, CheckResult.id.desc())
        .limit(1)
    ).scalar_one_or_none()
