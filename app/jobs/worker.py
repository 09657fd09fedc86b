"""The worker: one process that does what was asked for, apart from the web processes."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Mapping
from typing import Any

from app.clock import Clock
from app.db import Database
from app.jobs import outbox

log = logging.getLogger(__name__)

Handler = Callable[[dict[str, Any]], str | None]  # returns the digest of the file it made
REST_SECONDS = 0.5


def work_once(database: Database, clock: Clock, handlers: Mapping[str, Handler]) -> bool:
    """Do one job if there is one. The handler runs outside any transaction of ours."""
    with database.read() as session:  # the lock is not taken to find that there is nothing
        if not outbox.waiting(session, now=clock.now()):
            return False
    with database.write() as session:
        job = outbox.claim(session, now=clock.now())
        if job is None:
            return False
        job_id, kind, payload = job.id, job.kind, job.payload
    try:
        made = handlers[kind](payload)
    except Exception as error:
        # Whatever went wrong is kept with the job; the worker goes on with the next.
        log.exception("job %s (%s) failed", job_id, kind)
        with database.write() as session:
            outbox.failed(session, job_id, error=repr(error), now=clock.now())
    else:
        with database.write() as session:
            outbox.done(session, job_id, file_digest=made, now=clock.now())
    return True


def work(
    database: Database,
    clock: Clock,
    handlers: Mapping[str, Handler],
    *,
    stop: Callable[[], bool] = lambda: False,
    most: int | None = None,
    idle: Callable[[], None] = lambda: None,
) -> None:
    """Work until told to stop, or until that many jobs were tried; ``idle`` when there is none."""
    tried = 0
    while not stop() and tried != most:
        if work_once(database, clock, handlers):
            tried += 1
        else:
            idle()
            time.sleep(REST_SECONDS)
