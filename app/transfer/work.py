"""What the worker does with a list: rehearse it, apply it, and forget it after a week.

A worker that is killed leaves what was there before: the lines of a rehearsal are written in one
transaction, and so is everything that a list changes. Whoever takes the job up begins anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, cast

from sqlalchemy import Table, delete, insert, select
from sqlalchemy.orm import Session

from app.audit.models import AuditHead
from app.clock import Clock
from app.dates import local_date
from app.db import Database
from app.errors import Refused
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.parts import insist_on_clock
from app.site import site
from app.transfer.asked import Asked, read_line
from app.transfer.choices import Choices, choices_from
from app.transfer.known import Register
from app.transfer.lists import APPLY_JOB, CLEAR_JOB, REHEARSE_JOB, file_of
from app.transfer.models import (
    PeopleList,
    PeopleListFile,
    PeopleListLine,
    PeopleListProgress,
)
from app.transfer.plan import Plan, plan
from app.transfer.reading import read
from app.transfer.sheet import Row, unpacked
from app.transfer.state import load
from app.transfer.words import Phase
from app.transfer.write import write

Step = Callable[[str, int, int], None]
OVERTAKEN = (
    "The register or the day is another one than at the rehearsal, so that something else would "
    "be written than was shown. Nothing was applied; rehearse again."
)


@dataclass(frozen=True, kw_only=True)
class _Read:
    """A list as read, and what it is compared by."""

    asked: list[Asked]
    choices: Choices
    file_digest: str

    def plan(self, register: Register, today: date, step: Step) -> Plan:
        total = len(self.asked)
        return plan(
            self.asked,
            self.choices,
            register,
            today=today,
            file_digest=self.file_digest,
            told=lambda done: step("comparing", done, total),
        )


@dataclass(frozen=True, kw_only=True)
class _Looked:
    """A plan, the register that it was made for, and the seal of the log at that moment."""

    plan: Plan
    register: Register
    seal: str


class Lists:
    """The worker's hands on lists."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self.database, self.clock = database, clock

    def rehearse(self, task: Task) -> None:
        """Plan what would become of the list, and keep the lines to be looked at."""
        with self._told(task, Phase.REHEARSING) as mine:
            if mine:
                today = self._today()
                looked = self._looked(self._read(task, today), today, task)
                self._keep(task, looked.plan, today)

    def apply(self, task: Task) -> None:
        """Write what was rehearsed, or nothing."""
        with self._told(task, Phase.APPLYING) as mine:
            if mine:
                self._apply(task)

    def _apply(self, task: Task) -> None:
        today = self._today()
        whole = self._read(task, today)
        looked = self._looked(whole, today, task)
        self._step(task)("writing", 0, 0)
        with self.database.write() as session:
            row = session.get_one(PeopleList, task.payload["list"])
            if row.phase is not Phase.APPLYING:
                return
            now = self.clock.now()
            head = _head(session)
            insist_on_clock(head.recorded_at, now)
            if head.seal != looked.seal:
                # Every change has its entry in the log, so that somebody changed something since
                # the look: compare once more, under the lock.
                register = load(session, source=whole.choices.source, today=today)
                found = whole.plan(register, today, lambda *_: None)
                looked = _Looked(plan=found, register=register, seal=head.seal)
            if looked.plan.digest != row.plan_digest or row.planned_on != today:
                row.phase, row.problem = Phase.OVERTAKEN, OVERTAKEN
                return
            made = write(
                session,
                looked.plan,
                looked.register,
                source=whole.choices.source,
                file_digest=whole.file_digest,
                actor_id=task.payload["by"],
                now=now,
            )
            row.phase, row.import_id = Phase.APPLIED, made.id

    def clear(self, task: Task) -> None:
        """Forget the file and the lines; what was applied stays."""
        with self.database.write() as session:
            for model in (PeopleListFile, PeopleListLine):
                session.execute(delete(model).where(model.list_id == task.payload["list"]))

    def _told(self, task: Task, phase: Phase) -> _Told:
        return _Told(self.database, task.payload, phase)

    def _today(self) -> date:
        with self.database.read() as session:
            return local_date(self.clock.now(), site(session).tz)

    def _read(self, task: Task, today: date) -> _Read:
        step = self._step(task)
        step("reading", 0, 0)
        with self.database.read() as session:
            row = session.get_one(PeopleList, task.payload["list"])
            choices, digest = choices_from(row.choices), row.file_digest
            file = file_of(session, row)
        rows = self._rows(file, choices.sheet)[choices.headings + 1 :]
        asked = [read_line(each, choices, today) for each in rows]
        return _Read(asked=asked, choices=choices, file_digest=digest)

    def _rows(self, file: PeopleListFile, sheet: str | None) -> tuple[Row, ...]:
        """Return the rows of the file; they are kept, to be read faster the next time."""
        if file.rows is not None and file.rows_of == (sheet or ""):
            return unpacked(file.rows).rows
        found = read(file.data, sheet)
        packed = found.packed()
        with self.database.write() as session:
            kept = session.get_one(PeopleListFile, file.list_id)
            kept.rows_of, kept.rows = sheet or "", packed
        return found.rows

    def _looked(self, whole: _Read, today: date, task: Task) -> _Looked:
        step = self._step(task)
        step("comparing", 0, len(whole.asked))
        with self.database.read() as session:
            seal = _head(session).seal
            register = load(session, source=whole.choices.source, today=today)
        return _Looked(plan=whole.plan(register, today, step), register=register, seal=seal)

    def _keep(self, task: Task, found: Plan, today: date) -> None:
        self._step(task)("keeping the lines", 0, 0)
        lines = [
            {
                "list_id": task.payload["list"],
                "position": at,
                "word": line.word,
                "line": line.as_json(),
            }
            for at, line in enumerate(found.lines)
        ]
        with self.database.write() as session:
            row = session.get_one(PeopleList, task.payload["list"])
            session.execute(delete(PeopleListLine).where(PeopleListLine.list_id == row.id))
            if lines:
                session.connection().execute(insert(cast(Table, PeopleListLine.__table__)), lines)
            row.phase, row.planned_on = Phase.REHEARSED, today
            row.plan_digest = found.digest
            row.counts = {**found.counts, "new cohorts": [new["name"] for new in found.cohorts]}

    def _step(self, task: Task) -> Step:
        def step(words: str, done: int, total: int) -> None:
            # A short transaction of its own, so that the page can show it.
            with self.database.write() as session:
                row = session.get_one(PeopleListProgress, task.payload["list"])
                row.step, row.done, row.total, row.at = words, done, total, self.clock.now()
            task.tell(words, done, total)

        return step


class _Told:
    """Lets a refusal be read on the page of the list, instead of failing the job again and again.

    Entering says whether this job is still the one that the list waits for.
    """

    def __init__(self, database: Database, payload: dict[str, Any], phase: Phase) -> None:
        self.database, self.payload, self.phase = database, payload, phase

    def __enter__(self) -> bool:
        with self.database.read() as session:
            row = session.get(PeopleList, self.payload["list"])
            return (
                row is not None and row.phase is self.phase and row.asked == self.payload["asked"]
            )

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> bool:
        if not isinstance(error, Refused) or error.status == 503:
            return False
        with self.database.write() as session:
            row = session.get_one(PeopleList, self.payload["list"])
            row.phase, row.problem = Phase.REFUSED, error.sentence
        return True


def _head(session: Session) -> AuditHead:
    return session.execute(select(AuditHead).where(AuditHead.id == 1)).scalar_one()


def handlers(database: Database, clock: Clock) -> dict[str, Handler]:
    """Return what the worker can do with lists."""
    lists = Lists(database, clock)
    return {REHEARSE_JOB: lists.rehearse, APPLY_JOB: lists.apply, CLEAR_JOB: lists.clear}
