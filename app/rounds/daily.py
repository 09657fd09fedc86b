"""The day's job: open the reviews that time, moved machines and stale numbers ask for, then
ask for the reminders of all that is due.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy.orm import Session

from app.calculations.stale import stale_findings
from app.clock import Clock
from app.dates import local_date
from app.db import Database
from app.hazards.findings import standing
from app.hazards.models import HazardFinding
from app.jobs import outbox
from app.jobs.daily import DAILY_JOB, REMIND_JOB
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.risk_assessments.reviews import Stale, open_due
from app.site import site


def handlers(database: Database, clock: Clock) -> dict[str, Handler]:
    """Return what the worker does once a day. Done again, it changes nothing."""

    def daily(_task: Task) -> None:
        with database.read() as session:
            # Asking the methods again takes long: nobody should wait for the lock meanwhile.
            why = stale_findings(session, list(session.execute(standing()).scalars()))
        with database.write() as session:
            now, here = clock.now(), site(session)
            open_due(session, now=now, site=here, stale=_among(why))
            key = f"{REMIND_JOB}:{local_date(now, here.tz).isoformat()}"
            outbox.ask(session, REMIND_JOB, key=key, payload={}, now=now)

    return {DAILY_JOB: daily}


def _among(why: dict[int, str]) -> Stale:
    def asked(_session: Session, rows: Sequence[HazardFinding]) -> dict[int, str]:
        return {row.id: why[row.id] for row in rows if row.id in why}

    return asked
