"""What is done once a day: asked for by the worker when the day at the site begins."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from app.clock import Clock
from app.dates import local_date
from app.db import Database
from app.jobs import outbox

DAILY_JOB = "daily"
MORNING_JOB = "morning-list"  # of one area, for paper
REMIND_JOB = "remind"  # asked for by the day's job, once what is due is known


class Daily:
    """Asks for the day's job, once, whenever there is nothing else to do.

    The key holds the day, so that several workers ask for one job between them.
    """

    def __init__(self, database: Database, clock: Clock, zone: ZoneInfo) -> None:
        self._database, self._clock, self._zone = database, clock, zone
        self._asked_on: date | None = None

    def __call__(self) -> None:
        now = self._clock.now()
        today = local_date(now, self._zone)
        if today == self._asked_on:
            return
        with self._database.write() as session:
            key = f"{DAILY_JOB}:{today.isoformat()}"
            outbox.ask(session, DAILY_JOB, key=key, payload={}, now=now)
        self._asked_on = today
