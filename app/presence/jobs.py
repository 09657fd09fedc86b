"""A job that runs on with nobody there: a firing, an overnight print. It has a contact."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.db import AnyRow, stands
from app.errors import NotFound, Refused
from app.machines.models import Machine
from app.people.models import Person
from app.presence.models import Start, UnattendedJob
from app.presence.uses import SUPERVISED, finish_use

LONGEST = timedelta(days=7)


def leave_running(
    session: Session,
    start: Start,
    *,
    what: str,
    contact_id: int,
    reach: str,
    expected_end_at: datetime,
    actor_id: int,
    now: datetime,
) -> UnattendedJob:
    """Turn a use into a job that runs on alone: the person leaves, a contact answers for it.

    ``reach`` says how the contact is reached, in private words.
    """
    if start.verdict == SUPERVISED:
        raise Refused(
            "A use under supervision is not left to run on its own. Finish it, or ask the "
            "supervisor.",
            code="supervised",
        )
    _insist_on_words(what, reach)
    _insist_on_end(expected_end_at, now)
    job = UnattendedJob(
        machine_id=start.machine_id,
        person_id=start.person_id,
        contact_id=contact_id,
        what=what,
        reach_digest=log.keep_note(session, reach, now=now),
        expected_end_at=expected_end_at,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(job)
    session.flush()
    _log(session, "presence:job:begin", job, actor_id, now)
    finish_use(session, start, actor_id=actor_id, now=now)
    return job


def _insist_on_words(what: str, reach: str) -> None:
    if not what:
        raise Refused("Say what runs on.", code="what-missing", status=422)
    if len(what) > 200:
        raise Refused("What runs on is said in 200 characters.", code="what-long", status=422)
    if not reach:
        raise Refused("Say how the contact is reached.", code="reach-missing", status=422)


def _insist_on_end(expected_end_at: datetime, now: datetime) -> None:
    if not now < expected_end_at <= now + LONGEST:
        raise Refused(
            f"A job ends in the future, and at most {LONGEST.days} days from now.",
            code="end",
            status=422,
        )


def job_or_404(session: Session, job_id: int) -> UnattendedJob:
    """Return a job, running or ended; the row that ends one is no job."""
    row = session.get(UnattendedJob, job_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such job.")
    return row


def _ended(session: Session, job: UnattendedJob) -> bool:
    asked = select(UnattendedJob.id).where(UnattendedJob.ends_id == job.id)
    return session.execute(asked).first() is not None


def end_job(session: Session, job: UnattendedJob, *, actor_id: int, now: datetime) -> bool:
    """Say that a job is over; return False where somebody had said so before."""
    if _ended(session, job):
        return False
    session.add(
        UnattendedJob(
            machine_id=job.machine_id,
            person_id=job.person_id,
            contact_id=job.contact_id,
            what=job.what,
            expected_end_at=job.expected_end_at,
            ends_id=job.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    _log(session, "presence:job:end", job, actor_id, now)
    return True


def hand_over(
    session: Session,
    job: UnattendedJob,
    *,
    contact_id: int,
    reach: str,
    expected_end_at: datetime,
    actor_id: int,
    now: datetime,
) -> UnattendedJob:
    """Give a running job another contact, or another expected end: one row ends, one begins."""
    _insist_on_words(job.what, reach)
    _insist_on_end(expected_end_at, now)
    if not end_job(session, job, actor_id=actor_id, now=now):
        raise Refused("That job is over already.", code="ended")
    new = UnattendedJob(
        machine_id=job.machine_id,
        person_id=job.person_id,
        contact_id=contact_id,
        what=job.what,
        reach_digest=log.keep_note(session, reach, now=now),
        expected_end_at=expected_end_at,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(new)
    session.flush()
    _log(session, "presence:job:hand-over", new, actor_id, now)
    return new


def running_jobs(session: Session, area_ids: Iterable[int], *, at: datetime) -> list[AnyRow]:
    """Return the jobs that run in these areas, the one that ends next first."""
    contact = aliased(Person)
    return list(
        session.execute(
            select(
                UnattendedJob.id,
                UnattendedJob.what,
                UnattendedJob.occurred_at,
                UnattendedJob.expected_end_at,
                UnattendedJob.reach_digest,
                UnattendedJob.contact_id,
                Machine.area_id,
                Machine.name.label("machine"),
                Person.name.label("person"),
                contact.name.label("contact"),
            )
            .join(Machine, Machine.id == UnattendedJob.machine_id)
            .join(Person, Person.id == UnattendedJob.person_id)
            .join(contact, contact.id == UnattendedJob.contact_id)
            .where(Machine.area_id.in_(list(area_ids)), stands(UnattendedJob, at))
            .order_by(UnattendedJob.expected_end_at, UnattendedJob.id)
        )
    )


def _log(session: Session, action: str, job: UnattendedJob, actor_id: int, now: datetime) -> None:
    log.record(
        session,
        action=action,
        subject=f"unattended_job:{job.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": job.machine_id, "contact": job.contact_id},
    )
