"""What a handler is given: what was asked, a way to tell how far it is, a folder for its files."""

from __future__ import annotations

import logging
import shutil
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy.exc import DBAPIError

from app.clock import Clock
from app.db import Database
from app.jobs import outbox

log = logging.getLogger(__name__)

TOLD_AT_MOST_EVERY = 0.5  # seconds: a step may be told for each line of a long list
BEAT_SECONDS = 20.0
LONGEST_SILENCE = 3600.0  # seconds; after that a worker that hangs loses its lease


class Leaving(Exception):
    """The worker was told to end: the job goes back as it was, to be taken up by another."""


class Task:
    """One job in the hands of one worker.

    ``payload`` is what was asked. The handler calls `tell` at each step and otherwise needs to
    know of no lease; what it writes lies in `folder` until it is put into the store.
    """

    def __init__(
        self,
        database: Database,
        clock: Clock,
        *,
        job_id: int,
        holder: str,
        payload: dict[str, Any],
        place: Path,
        leaving: Callable[[], bool] = lambda: False,
    ) -> None:
        self.job_id, self.payload = job_id, payload
        self._database, self._clock, self._holder = database, clock, holder
        self._place, self._leaving = place / f"job-{job_id}", leaving
        self._told: tuple[str, float] = ("", 0.0)
        self.heard_at = time.monotonic()

    @property
    def folder(self) -> Path:
        """Return a folder of this job's own. It goes when the job ends, in whatever way."""
        self._place.mkdir(exist_ok=True, parents=True, mode=0o700)
        return self._place

    def clear(self) -> None:
        shutil.rmtree(self._place, ignore_errors=True)

    def tell(self, words: str, done: int = 0, total: int = 0) -> None:
        """Write how far the job is, in a short transaction of its own, and renew the lease.

        Call it outside any transaction. It raises where the handler has to end here: `Stopped`,
        `Overtaken`, `Leaving`. Let those through. ``total`` 0: nobody knows how many.
        """
        self.heard_at = time.monotonic()
        if self._leaving():
            raise Leaving
        before, at = self._told
        if words == before and done != total and self.heard_at - at < TOLD_AT_MOST_EVERY:
            return
        self._told = (words, self.heard_at)
        with self._database.write() as session:
            job = outbox.renew(session, self.job_id, holder=self._holder, now=self._clock.now())
            job.step, job.done, job.total = words[:200], done, total

    def renew(self) -> None:
        """Keep the lease while a step takes long; say nothing."""
        with self._database.write() as session:
            outbox.renew(session, self.job_id, holder=self._holder, now=self._clock.now())


class Heartbeat:
    """Renews the lease of a task from a thread, until the task ends or falls silent for too long.

    A step of the print engine or of a solver takes longer than a lease should.
    """

    def __init__(self, task: Task, *, every: float = BEAT_SECONDS) -> None:
        self._task, self._every = task, every
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _beat(self) -> None:
        while not self._over.wait(self._every):
            if time.monotonic() - self._task.heard_at > LONGEST_SILENCE:
                log.error("job %s has said nothing for too long", self._task.job_id)
                return
            try:
                self._task.renew()
            except (outbox.Stopped, outbox.Overtaken):
                return  # its next step finds out by itself
            except DBAPIError as error:
                log.warning("a lease could not be renewed: %s", error.orig)
