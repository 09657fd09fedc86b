"""Ask for work in the transaction that causes it, and take it up under a lease.

A worker renews its lease while it works. What it writes of a job it writes only while the lease
is its own: whoever was thought dead and comes back changes nothing any more.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select, update
from sqlalchemy.orm import Session

from app.jobs.models import Job

LEASE = timedelta(minutes=2)
MOST_ATTEMPTS = 5


class Stopped(Exception):
    """Somebody who may do so stopped the job: the handler ends here and keeps nothing."""


class Overtaken(Exception):
    """The lease ran out and another worker has the job."""


def ask(
    session: Session,
    kind: str,
    *,
    key: str,
    payload: dict[str, Any],
    now: datetime,
    title: str = "",
    asked_by_id: int | None = None,
    page: str = "",
    file_name: str = "",
    run_after: datetime | None = None,
) -> Job:
    """Ask for a job. Asked twice under one key, it is done once; one that ended is tried again.

    ``title`` says to people what is being made; without one it is the program's own work.
    ``page`` is the path that shows the result; without one the file itself is handed to whoever
    asked, under ``file_name``. With ``run_after`` it is not taken up before then.
    """
    job = session.execute(select(Job).where(Job.key == key)).scalar_one_or_none()
    if job is None:
        job = Job(
            kind=kind,
            key=key,
            title=title[:200],
            page=page,
            payload=payload,
            attempts=0,
            asked_by_id=asked_by_id,
            asked_at=now,
            run_after=run_after or now,
            step="",
            done=0,
            total=0,
            error="",
            file_name=file_name,
        )
        session.add(job)
        session.flush()
    elif job.failed_at is not None or job.stopped_at is not None:
        again(job, now=now)
    return job


def again(job: Job, *, now: datetime) -> None:
    """Let a job that was given up or stopped be tried from the beginning."""
    job.failed_at = job.stopped_at = job.stop_asked_at = job.begun_at = None
    job.leased_until = job.held_by = None
    job.attempts, job.run_after, job.error = 0, now, ""
    job.step, job.done, job.total = "", 0, 0


def stop(job: Job, *, now: datetime) -> bool:
    """Stop a job: at once while nobody works at it, else at its next step.

    Return False where there is nothing to stop any more.
    """
    if job.done_at is not None or job.failed_at is not None or job.stopped_at is not None:
        return False
    job.stop_asked_at = job.stop_asked_at or now
    if job.leased_until is None or job.leased_until < now:
        _stopped(job, now)
    return True


def _stopped(job: Job, now: datetime) -> None:
    job.stopped_at, job.leased_until, job.held_by = now, None, None


# --- what a worker does -------------------------------------------------------------------


def claim(session: Session, *, holder: str, now: datetime) -> Job | None:
    """Take the next job. The lease runs out if the worker dies, and another takes it up."""
    job = _next(session, now)
    while job is not None and (job.attempts >= MOST_ATTEMPTS or job.stop_asked_at is not None):
        if job.stop_asked_at is not None:  # and its worker died before it could stop
            _stopped(job, now)
        else:
            # It brought its worker down each time, so that nobody could put it back.
            job.failed_at, job.leased_until, job.held_by = now, None, None
            job.error = "Its worker stopped each time."
        session.flush()
        job = _next(session, now)
    if job is not None:
        job.held_by, job.leased_until = holder, now + LEASE
        job.begun_at = job.begun_at or now
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
        Job.stopped_at.is_(None),
        Job.run_after <= now,
        or_(Job.leased_until.is_(None), Job.leased_until < now),
    )


def renew(session: Session, job_id: int, *, holder: str, now: datetime) -> Job:
    """Keep the lease. Overtaken: it is another worker's by now; Stopped: somebody stopped it."""
    job = session.get(Job, job_id)
    if job is None or not _held(job, holder):
        raise Overtaken
    if job.stop_asked_at is not None:
        raise Stopped
    job.leased_until = now + LEASE
    return job


def done(
    session: Session, job_id: int, *, holder: str, file_digest: str | None, now: datetime
) -> None:
    """Note that the job was done, and what it made."""
    job = session.get_one(Job, job_id)
    if _held(job, holder):
        job.done_at, job.leased_until, job.held_by, job.error = now, None, None, ""
        job.file_digest = file_digest


def failed(
    session: Session, job_id: int, *, holder: str, error: str, now: datetime, final: bool = False
) -> None:
    """Put the job back for later, a little longer each time; give up loudly at last.

    ``final``: another try would end in the same way.
    """
    job = session.get_one(Job, job_id)
    if not _held(job, holder):
        return
    job.leased_until, job.held_by, job.error = None, None, error[:2000]
    if final or job.attempts >= MOST_ATTEMPTS:
        job.failed_at = now
    else:
        job.run_after = now + timedelta(seconds=5 * 4**job.attempts)


def stopped(session: Session, job_id: int, *, holder: str, now: datetime) -> None:
    """Note that the worker stopped where somebody asked it to."""
    job = session.get_one(Job, job_id)
    if _held(job, holder):
        _stopped(job, now)


def put_back(session: Session, *, holder: str, told: bool) -> None:
    """Give back what a worker holds: it dies, or is ``told`` to end and is not to blame the job."""
    tried = {Job.attempts: Job.attempts - 1} if told else {}
    session.execute(
        update(Job)
        .where(Job.held_by == holder)
        .values({Job.held_by: None, Job.leased_until: None, **tried})
    )


def _held(job: Job, holder: str) -> bool:
    return job.held_by == holder and job.done_at is None
