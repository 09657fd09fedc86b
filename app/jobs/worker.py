"""The worker: one process that does what was asked for, apart from the web processes."""

from __future__ import annotations

import logging
import shutil
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from app.clock import Clock
from app.db import Database
from app.errors import Refused
from app.jobs import outbox
from app.jobs.task import Heartbeat, Leaving, Task
from app.jobs.workplace import Workplace
from assessments.document.side_by_side import DrawingStopped
from assessments.errors import Refused as CannotMake

log = logging.getLogger(__name__)

Handler = Callable[[Task], str | None]  # returns the digest of the file it made
REST_SECONDS = 0.5
ALONE = "alone"  # the holder's name where there is no other worker


def work_once(
    database: Database,
    clock: Clock,
    handlers: Mapping[str, Handler],
    *,
    holder: str = ALONE,
    place: Path | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> bool:
    """Do one job if there is one. The handler runs outside any transaction of ours."""
    with database.read() as session:  # the lock is not taken to find that there is nothing
        if not outbox.waiting(session, now=clock.now()):
            return False
    with database.write() as session:
        job = outbox.claim(session, holder=holder, now=clock.now())
        if job is None:
            return False
        job_id, kind, payload = job.id, job.kind, job.payload
    own = place or Path(tempfile.mkdtemp(prefix="chuckkey-"))
    task = Task(
        database,
        clock,
        job_id=job_id,
        holder=holder,
        payload=payload,
        place=own,
        leaving=stop,
    )
    try:
        with Heartbeat(task):
            made = handlers[kind](task)
    except Leaving:
        with database.write() as session:
            outbox.put_back(session, holder=holder, told=True)
    except outbox.Stopped:
        with database.write() as session:
            outbox.stopped(session, job_id, holder=holder, now=clock.now())
    except outbox.Overtaken:
        log.warning("job %s (%s) is in other hands", job_id, kind)
    except Exception as error:
        # Whatever went wrong is kept with the job; the worker goes on with the next.
        log.exception("job %s (%s) failed", job_id, kind)
        words, final = said_of(error)
        with database.write() as session:
            outbox.failed(session, job_id, holder=holder, error=words, final=final, now=clock.now())
    else:
        with database.write() as session:
            outbox.done(session, job_id, holder=holder, file_digest=made, now=clock.now())
    finally:
        task.clear()
        if place is None:
            shutil.rmtree(own, ignore_errors=True)
    return True


def said_of(error: Exception) -> tuple[str, bool]:
    """Return what a page may say of an error, and whether another try would end the same way.

    Of what nobody foresaw only the kind is said: its words can hold those of a record.
    """
    if isinstance(error, CannotMake):
        return error.sentence, True
    if isinstance(error, Refused):
        return error.sentence, error.status < 500
    if isinstance(error, DrawingStopped):
        return error.sentence, False
    if isinstance(error, OSError) and error.strerror:
        return f"A file could not be written or read: {error.strerror}.", False
    if isinstance(error, DBAPIError):
        return "The register could not be reached.", False
    return f"Something broke ({type(error).__name__}). The server’s log says more.", False


def work(
    database: Database,
    clock: Clock,
    handlers: Mapping[str, Handler],
    *,
    workplace: Workplace | None = None,
    stop: Callable[[], bool] = lambda: False,
    most: int | None = None,
    idle: Callable[[], None] = lambda: None,
) -> None:
    """Work until told to stop, or until that many jobs were tried; ``idle`` when there is none.

    In a workplace, the jobs of workers that were found dead are taken up at once.
    """
    holder, place = (ALONE, None) if workplace is None else (workplace.name, workplace.folder)
    if workplace is not None and workplace.dead:
        with database.write() as session:
            for name in workplace.dead:
                outbox.put_back(session, holder=name, told=False)
    tried = 0
    while not stop() and tried != most:
        if work_once(database, clock, handlers, holder=holder, place=place, stop=stop):
            tried += 1
        else:
            idle()
            time.sleep(REST_SECONDS)
