"""Ask for work in the transaction that causes it, and take it up under a lease."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.orm import Session

from app.jobs.models import Job

LEASE = timedelta(minutes=5)
MOST_ATTEMPTS = 5


def ask(
    session: Session,
    kind: str,
    *,
    key: str,
    payload: dict[str, Any],
    now: datetime,
    run_after: datetime | None = None,
) -> None:
    """Ask for a job. Asked twice under one key, it is done once; one given up is tried again.

    With ``run_after`` it is not taken up before then.
    """
    before = session.execute(select(Job).where(Job.key == key)).scalar_one_or_none()
    if before is not None and before.failed_at is not None:
        before.failed_at, before.attempts, before.run_after = None, 0, now
    if before is None:
        session.add(
            Job(
                kind=kind,
                key=key,
                payload=payload,
                attempts=0,
                asked_at=now,
                run_after=run_after or now,
                error="",
            )
        )


def claim(session: Session, *, now: datetime) -> Job | None:
    """Take the next job. The lease runs out if the worker dies, and another takes it up."""
    job = _next(session, now)
    while job is not None and job.attempts >= MOST_ATTEMPTS:
        # It brought its worker down each time, so that nobody could put it back.
        job.failed_at, job.leased_until = now, None
        job.error = "Its worker stopped each time."
        session.flush()
        job = _next(session, now)
    if job is not None:
        job.leased_until = now + LEASE
        job.attempts += 1
    return job


def _next(session: Session, now: datetime) -> Job | None:
    return session.execute(
        select(Job)
        .where(_due(now))
        .order_by(Job.run_after, Job.id)
        .limit(1)
        .with_for_update(skip_locked=True)
    ).scalar_one_or_none()


def waiting(session: Session, *, now: datetime) -> bool:
    """Say whether there is a job to take."""
    return session.execute(select(Job.id).where(_due(now)).limit(1)).first() is not None


def _due(now: datetime) -> ColumnElement[bool]:
    return and_(
        Job.done_at.is_(None),
        Job.failed_at.is_(None),
        Job.run_after <= now,
        or_(Job.leased_until.is_(None), Job.leased_until < now),
    )


def done(session: Session, job_id: int, *, file_digest: str | None, now: datetime) -> None:
    """Note that the job was done, and what it made."""
    job = session.get_one(Job, job_id)
    job.done_at, job.leased_until, job.error = now, None, ""
    job.file_digest = file_digest


def failed(session: Session, job_id: int, *, error: str, now: datetime) -> None:
    """Put the job back for later, a little longer each time; give up loudly at last."""
    job = session.get_one(Job, job_id)
    job.leased_until, job.error = None, error[:2000]
    if job.attempts >= MOST_ATTEMPTS:
        job.failed_at = now
    else:
        job.run_after = now + timedelta(seconds=5 * 4**job.attempts)
