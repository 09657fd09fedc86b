"""What the worker does: work the day's reminders out, tell the news of sessions, send the mails.

Nothing goes out in quiet hours: a job that finds itself in them puts itself off until they end.
"""

from __future__ import annotations

import secrets
import ssl
from datetime import datetime, timedelta
from typing import Any

from app.clock import Clock
from app.db import Database
from app.jobs import outbox
from app.jobs.daily import REMIND_JOB
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.reminders.gather import hours_of
from app.reminders.models import Trouble
from app.reminders.plan import SEND_JOB, plan, put_on_record
from app.reminders.quiet import next_moment
from app.reminders.send import Sender
from app.sessions.given import NEWS_JOB
from app.settings import Settings
from app.site import site

# A mail server that is down is asked again so much later, and then every hour.
WAITS = (timedelta(minutes=1), timedelta(minutes=5), timedelta(minutes=30), timedelta(hours=1))


def handlers(
    database: Database, clock: Clock, settings: Settings, *, tls: ssl.SSLContext | None = None
) -> dict[str, Handler]:
    """Return what the worker can do. Done again, each of them changes nothing."""

    def remind(_task: Task) -> None:
        _work_out(database, clock, settings, REMIND_JOB)

    def news(_task: Task) -> None:
        _work_out(database, clock, settings, NEWS_JOB)

    def send(task: Task) -> None:
        _send(database, clock, settings, tls, attempt=int(task.payload.get("attempt", 0)))

    return {REMIND_JOB: remind, NEWS_JOB: news, SEND_JOB: send}


def _work_out(database: Database, clock: Clock, settings: Settings, kind: str) -> None:
    """Put on record what is to be sent now. Without a mail server nothing was sent, and is not."""
    if settings.smtp is None or _put_off(database, clock, kind, {}):
        return
    now = clock.now()
    with database.read() as session:
        planned = plan(session, now=now, site=site(session), news_only=kind == NEWS_JOB)
    put_on_record(database, planned, now=now)


def _send(
    database: Database,
    clock: Clock,
    settings: Settings,
    tls: ssl.SSLContext | None,
    *,
    attempt: int,
) -> None:
    if settings.smtp is None or _put_off(database, clock, SEND_JOB, {"attempt": attempt}):
        return
    sent = Sender(
        database=database, clock=clock, settings=settings, smtp=settings.smtp, tls=tls
    ).send()
    now = clock.now()
    if sent.more:
        with database.write() as session:
            key = f"{SEND_JOB}:on:{secrets.token_hex(8)}"
            outbox.ask(session, SEND_JOB, key=key, payload={}, now=now)
    elif sent.trouble is not Trouble.NONE or sent.later:
        wait = WAITS[min(attempt, len(WAITS) - 1)]
        _ask(database, SEND_JOB, {"attempt": attempt + 1}, now, now + wait)


def _put_off(database: Database, clock: Clock, kind: str, payload: dict[str, Any]) -> bool:
    """Ask for the same once the quiet hours end, if these are quiet; say whether they are."""
    now = clock.now()
    with database.read() as session:
        here = site(session)
        moment = next_moment(hours_of(session, here), now, here.tz)
    if moment == now:
        return False
    if moment is not None:
        _ask(database, kind, payload, now, moment)
    return True


def _ask(
    database: Database, kind: str, payload: dict[str, Any], now: datetime, run_after: datetime
) -> None:
    key = f"{kind}:at:{run_after.isoformat()}"
    with database.write() as session:
        outbox.ask(session, kind, key=key, payload=payload, now=now, run_after=run_after)
