"""The day's job: open the reviews that time, moved machines and stale numbers ask for, then
ask for the reminders of all that is due, and for the lists that are printed before opening.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.calculations.stale import stale_findings
from app.clock import Clock
from app.dates import local_date
from app.db import Database
from app.hazards.findings import standing
from app.hazards.models import HazardFinding
from app.jobs import outbox
from app.jobs.daily import DAILY_JOB, MORNING_JOB, REMIND_JOB
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.machines.models import Area
from app.risk_assessments.reviews import Stale, open_due
from app.site import Site, site


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
            _ask_for_morning_lists(session, here, now=now)

    return {DAILY_JOB: daily}


def _ask_for_morning_lists(session: Session, here: Site, *, now: datetime) -> None:
    """Ask for the list of each area, where the house wants them, for when it is time."""
    if not here.morning_list_at:
        return
    today = local_date(now, here.tz)
    at = datetime.combine(today, time.fromisoformat(here.morning_list_at), here.tz)
    for area_id in session.execute(select(Area.id).order_by(Area.id)).scalars():
        outbox.ask(
            session,
            MORNING_JOB,
            key=f"{MORNING_JOB}:{area_id}:{today.isoformat()}",
            payload={"area": area_id},
            now=now,
            run_after=max(now, at),
        )


def _among(why: dict[int, str]) -> Stale:
    def asked(_session: Session, rows: Sequence[HazardFinding]) -> dict[int, str]:
        return {row.id: why[row.id] for row in rows if row.id in why}

    return asked
