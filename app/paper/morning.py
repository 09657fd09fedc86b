"""The morning list of an area, from the one decision: now, and at the end of the day."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import Verdict, machine_part
from app.clock import Clock
from app.dates import day_begins, local_date
from app.db import Database
from app.documents.asked import site_of
from app.jobs.daily import MORNING_JOB
from app.jobs.models import Job
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.machines.areas import area_or_404
from app.matrix.cells import matrix
from app.matrix.site import Whole, whole
from app.paper.never import never_from_paper, to_be_seen_to
from app.people.models import Person
from app.settings import Settings
from app.site import site
from app.storage import Files
from assessments.document.morning_list import (
    CLEARED,
    NOTHING,
    SUPERVISED,
    ListedMachine,
    ListedPerson,
    MorningList,
    NeverListed,
)
from assessments.document.paper import Head, paper_pdf

STANDING = (
    "Today only: void at midnight, wherever it lies. It is for a dead network alone; a printed "
    "copy may be out of date."
)
MARKS = {Verdict.CLEARED: CLEARED, Verdict.SUPERVISED: SUPERVISED}


def end_of_day(now: datetime, zone: ZoneInfo) -> datetime:
    """Return the last instant of today at the site."""
    tomorrow = local_date(now, zone) + timedelta(days=1)
    return day_begins(tomorrow, zone) - timedelta(microseconds=1)


def morning_list(
    session: Session, area_id: int, *, now: datetime, today: Whole | None = None
) -> MorningList:
    """Return who is cleared for what in an area for the rest of today.

    Every cell is the worse of two answers of the one decision: as of now, and as of the end of
    the day, so that what runs out at noon stands on no list of the morning. ``today`` is the
    matrix of that moment, where it was asked for already.
    """
    place, area = site(session), area_or_404(session, area_id)
    zone = place.tz
    today = today or whole(session, now=now, zone=zone)
    there = [each for each in today.machines.values() if each.area_id == area_id]
    why = {
        each.id: never_from_paper(each, machine_part(each, now, zone))
        or never_from_paper(each, machine_part(each, end_of_day(now, zone), zone))
        for each in there
    }
    shown = [each.id for each in there if why[each.id] is None]
    late = matrix(
        today.people,
        today.machines,
        today.particular,
        now=end_of_day(now, zone),
        zone=zone,
        only=shown,
    )
    columns = [today.matrix.column[each] for each in shown]
    worse = np.maximum(today.matrix.verdicts[:, columns], late.verdicts)
    rows = np.flatnonzero((worse <= Verdict.SUPERVISED).any(axis=1))
    cards = _cards(session, [today.people.ids[row] for row in rows])
    return MorningList(
        head=Head(
            reference=f"{area.name}, {local_date(now, zone).isoformat()}",
            title=f"Morning list: {area.name}",
            site=site_of(place),
            at=now.astimezone(zone),
            word="Void at midnight",
            standing=STANDING,
            language=place.language,
        ),
        area=area.name,
        day=local_date(now, zone),
        machines=tuple(
            ListedMachine(name=each.name, see_to=tuple(to_be_seen_to(each)))
            for each in there
            if why[each.id] is None
        ),
        never=tuple(
            NeverListed(name=each.name, why=words)
            for each in there
            if (words := why[each.id]) is not None
        ),
        people=tuple(
            ListedPerson(
                name=today.people.names[row],
                card=cards.get(today.people.ids[row], ""),
                cells=tuple(MARKS.get(Verdict(int(each)), NOTHING) for each in worse[row]),
            )
            for row in rows
        ),
    )


def _cards(session: Session, people: list[int]) -> dict[int, str]:
    found: dict[int, str] = {}
    for start in range(0, len(people), 900):
        rows = session.execute(
            select(Person.id, Person.card).where(
                Person.id.in_(people[start : start + 900]), Person.card.is_not(None)
            )
        )
        found |= {row.id: row.card or "" for row in rows}
    return found


# --- the file ----------------------------------------------------------------------------


def handlers(
    database: Database, files: Files, clock: Clock, settings: Settings
) -> dict[str, Handler]:
    """Return what the worker does for morning lists. Those of days gone by are forgotten."""

    def make(task: Task) -> str:
        area_id, now = task.payload["area"], clock.now()
        with database.read() as session:
            content = morning_list(session, area_id, now=now)
            void = _void(session, now)
        check_url = f"{settings.public_url}/areas/{area_id}/morning"
        made = files.keep(paper_pdf(content, check_url=check_url))
        with database.write() as session:
            for job_id in void:
                job = session.get_one(Job, job_id)
                if job.file_digest is not None and files.has(job.file_digest):
                    files.path(job.file_digest).unlink(missing_ok=True)
                job.file_digest = None
        return made

    return {MORNING_JOB: make}


def _void(session: Session, now: datetime) -> list[int]:
    """Return the lists of days gone by whose file still lies there: they name people."""
    begins = day_begins(local_date(now, site(session).tz), site(session).tz)
    return list(
        session.execute(
            select(Job.id).where(
                Job.kind == MORNING_JOB, Job.file_digest.is_not(None), Job.done_at < begins
            )
        ).scalars()
    )


def made_today(session: Session, area_id: int, *, now: datetime, zone: ZoneInfo) -> Job | None:
    """Return the newest list of an area that was made today; older ones are void."""
    rows = session.execute(
        select(Job)
        .where(
            Job.kind == MORNING_JOB,
            Job.file_digest.is_not(None),
            Job.done_at >= day_begins(local_date(now, zone), zone),
        )
        .order_by(Job.done_at.desc(), Job.id.desc())
    ).scalars()
    return next((job for job in rows if job.payload["area"] == area_id), None)
