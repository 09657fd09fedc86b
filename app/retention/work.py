"""What the worker can do: rehearse a run, and remove what was rehearsed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from app.clock import Clock
from app.db import Database
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.retention import run, wipe
from app.retention.models import RetentionRun, Stage
from app.settings import Settings
from app.storage import Files


@dataclass(frozen=True, kw_only=True)
class Work:
    """What it works on. `go_through` is all of a removal, with a worker or without."""

    database: Database
    clock: Clock
    settings: Settings
    files: Files

    def rehearse(self, task: Task) -> None:
        """Find what is over, without the lock, and keep it."""
        task.tell("looking for what is over")
        with self.database.read() as session:
            row = session.get_one(RetentionRun, task.payload["run"])
            if row.stage is not Stage.REHEARSING:
                return
            found = run.plan(session, today=row.day, now=self.clock.now())
        with self.database.write() as session:
            run.keep(session, session.get_one(RetentionRun, task.payload["run"]), found)

    def remove(self, task: Task) -> None:
        """Remove what was looked at, and tell how far it is."""
        self.go_through(task.payload["run"], task.tell)

    def go_through(self, run_id: int, tell: Callable[[str, int], None] = lambda *_: None) -> None:
        """Go through the slices that are left; then see to files, copies and pages."""
        going, done = run.Going(run_id=run_id), 0
        while True:
            tell("removing", done)
            # It takes longest to ask what is over: so it is asked before the lock is taken.
            with self.database.read() as session:
                going.look(session, now=self.clock.now())
            with self.database.write() as session:
                if not going.slice(session, now=self.clock.now()):
                    break
            done += 1
        tell("writing the database anew", done)
        now = self.clock.now()
        with self.database.write() as session:
            row = session.get_one(RetentionRun, run_id)
            if row.stage is Stage.REMOVING and run.PERSON in row.counts:
                wipe.remove_exports(session, self.settings, now=now)
        wipe.sweep(self.database, self.files, now=now, at_once=going.files or ())
        wipe.remove_copies(self.settings, now=now)
        wipe.wipe(self.database)
        with self.database.write() as session:
            run.finish(session, run_id, now=self.clock.now())


def handlers(
    database: Database, clock: Clock, settings: Settings, files: Files
) -> dict[str, Handler]:
    """Return what the worker can do for retention."""
    work = Work(database=database, clock=clock, settings=settings, files=files)
    return {run.REHEARSE_JOB: work.rehearse, run.REMOVE_JOB: work.remove}
