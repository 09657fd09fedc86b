"""A run: rehearsed, looked at, begun by whoever may, and done by the worker a slice at a time.

What was rehearsed is kept as numbers of rows under a digest. Each slice is one transaction: the
rows go, that they went is recorded in numbers, and the lines that named them go too. So a worker
that is killed leaves whole slices done and whole ones to do, and the next goes on. Never more is
removed than was rehearsed: where anything was written since, it is asked again what is over, and a
row that is not over any more stays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Table, delete, func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.audit.models import AuditHead
from app.db import Base
from app.errors import NotFound, Refused
from app.jobs import outbox
from app.people.models import Person
from app.retention import door
from app.retention.due import due
from app.retention.erase import Erased, appears, erase, forget_notes
from app.retention.models import RetentionLine, RetentionRemoved, RetentionRun, Stage
from app.retention.named import NAMED
from app.retention.obstacles import obstacles
from app.retention.what_goes import Row, digest, going, slices, units

REHEARSE_JOB = "retention-rehearse"
REMOVE_JOB = "retention-remove"
PERSON = "person"  # a line of this table is somebody to be erased: nobody is removed


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What goes, in the order in which it goes."""

    slices: tuple[tuple[Row, ...], ...]

    @property
    def rows(self) -> list[Row]:
        return [row for some in self.slices for row in some]

    @property
    def digest(self) -> str:
        return digest(self.rows)

    def counts(self) -> dict[str, int]:
        """Count what goes, by table."""
        return dict(sorted(Counter(table for table, _id in self.rows).items()))


def plan(session: Session, *, today: date, now: datetime) -> Plan:
    """Find everything that is over on a day and on which nothing rests that stays."""
    found = due(session, today=today)
    rows = going(found.rows, found.links)
    people = [id_ for id_ in found.people if not obstacles(session, id_, now=now)]
    return Plan(
        slices=(
            *(tuple(some) for some in slices(units(rows, found.links, found.whose))),
            *(((PERSON, id_),) for id_ in people),
        )
    )


# --- rehearsing --------------------------------------------------------------------------


def ask(session: Session, *, today: date, actor_id: int | None, now: datetime) -> RetentionRun:
    """Ask the worker for a rehearsal of everything that is over."""
    row = new(session, today=today, actor_id=actor_id, now=now)
    outbox.ask(
        session, REHEARSE_JOB, key=f"{REHEARSE_JOB}:{row.id}", payload={"run": row.id}, now=now
    )
    return row


def ask_for(
    session: Session, person_id: int, *, today: date, actor_id: int, now: datetime
) -> RetentionRun:
    """Rehearse erasing one person; refused while something is in the way."""
    against = obstacles(session, person_id, now=now)
    if against:
        raise Refused(" ".join(each.says for each in against), code="not-to-be-erased")
    row = new(session, today=today, actor_id=actor_id, now=now)
    row.person_id = person_id
    keep(session, row, Plan(slices=(((PERSON, person_id),),)))
    row.counts = appears(session, person_id)
    return row


def new(session: Session, *, today: date, actor_id: int | None, now: datetime) -> RetentionRun:
    """Begin a run, to be rehearsed."""
    row = RetentionRun(
        stage=Stage.REHEARSING, day=today, counts={}, problem="", asked_by_id=actor_id, asked_at=now
    )
    session.add(row)
    session.flush()
    return row


def keep(session: Session, row: RetentionRun, found: Plan) -> None:
    """Keep what was rehearsed."""
    session.execute(delete(RetentionLine).where(RetentionLine.run_id == row.id))
    lines = [
        {"run_id": row.id, "slice": number, "table_name": table, "row_id": id_}
        for number, some in enumerate(found.slices, 1)
        for table, id_ in some
    ]
    for position, line in enumerate(lines, 1):
        line["position"] = position
    if lines:
        session.execute(Base.metadata.tables["retention_line"].insert(), lines)
    row.stage, row.plan_digest, row.counts = Stage.REHEARSED, found.digest, found.counts()


def run_or_404(session: Session, run_id: int) -> RetentionRun:
    row = session.get(RetentionRun, run_id)
    if row is None:
        raise NotFound("There is no such run.")
    return row


# --- removing ----------------------------------------------------------------------------


def begin(
    session: Session, row: RetentionRun, *, plan_digest: str, actor_id: int | None, now: datetime
) -> bool:
    """Let the worker remove what was looked at. Sent twice, it is begun once."""
    if row.stage in (Stage.REMOVING, Stage.DONE) and row.plan_digest == plan_digest:
        return False
    if row.stage is not Stage.REHEARSED or row.plan_digest != plan_digest:
        raise Refused(
            "That is not what was rehearsed. Rehearse again; nothing was removed.", code="overtaken"
        )
    if not row.counts:
        raise Refused("There is nothing to remove.", code="nothing")
    row.stage, row.begun_at, row.begun_by_id = Stage.REMOVING, now, actor_id
    log.record(
        session,
        action="retention:run:begin",
        subject=f"retention_run:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"plan": row.plan_digest, "rows": sum(row.counts.values())},
    )
    outbox.ask(session, REMOVE_JOB, key=f"{REMOVE_JOB}:{row.id}", payload={"run": row.id}, now=now)
    return True


@dataclass(kw_only=True)
class Going:
    """One worker's way through a run: what it knows is still over, and when it asked."""

    run_id: int
    sequence: int = -1  # of the log, when it was last asked what is over
    over: frozenset[Row] = frozenset()
    files: list[str] | None = None

    def slice(self, session: Session, *, now: datetime) -> bool:
        """Remove the next slice; False: there is none. All of it stands or falls together."""
        row = session.get_one(RetentionRun, self.run_id)
        lines = _next_lines(session, self.run_id)
        if row.stage is not Stage.REMOVING or not lines:
            return False
        self.look(session, now=now)
        some = [(line.table_name, line.row_id) for line in lines]
        found = [each for each in some if each in self.over]
        done = Erased()
        for table, id_ in found:
            if table == PERSON:
                _erase(session, row, id_, done, now)
        self._remove(session, row, [each for each in found if each[0] != PERSON], done, now)
        self.files = [*(self.files or []), *done.files]
        for line in lines:
            session.delete(line)
        session.flush()
        self.sequence = _sequence(session)  # what was written here changed nothing of the rest
        return True

    def look(self, session: Session, *, now: datetime) -> None:
        """Ask what is over still, where anything was written since it was asked last."""
        sequence = _sequence(session)
        if self.sequence == sequence:
            return
        row = session.get_one(RetentionRun, self.run_id)
        if row.person_id is None:
            self.over = frozenset(plan(session, today=row.day, now=now).rows)
        else:
            against = obstacles(session, row.person_id, now=now)
            self.over = frozenset() if against else frozenset({(PERSON, row.person_id)})
        self.sequence = sequence

    def _remove(
        self,
        session: Session,
        row: RetentionRun,
        rows: Sequence[Row],
        done: Erased,
        now: datetime,
    ) -> None:
        removed = _remove_rows(session, rows, done)
        session.add_all(
            RetentionRemoved(
                run_id=row.id,
                kind=NAMED[table].kind,
                about=table,
                word="removed",
                rows=count,
                recorded_by_id=row.begun_by_id,
                recorded_at=now,
            )
            for table, count in removed.items()
        )
        if removed:
            log.record(
                session,
                action="retention:rows:remove",
                subject=f"retention_run:{row.id}",
                actor_id=row.begun_by_id,
                now=now,
                detail={"removed": removed},
            )


def _next_lines(session: Session, run_id: int) -> list[RetentionLine]:
    first = (
        select(func.min(RetentionLine.slice))
        .where(RetentionLine.run_id == run_id)
        .scalar_subquery()
    )
    return list(
        session.execute(
            select(RetentionLine)
            .where(RetentionLine.run_id == run_id, RetentionLine.slice == first)
            .order_by(RetentionLine.position)
        ).scalars()
    )


def _sequence(session: Session) -> int:
    return session.execute(select(AuditHead.sequence)).scalar_one()


def _erase(
    session: Session, row: RetentionRun, person_id: int, done: Erased, now: datetime
) -> None:
    erased = erase(session, person_id, now=now)
    done.files += erased.files
    session.add(
        RetentionRemoved(
            run_id=row.id,
            kind=PERSON,
            about=f"{PERSON}:{person_id}",
            word="erased",
            rows=1,
            recorded_by_id=row.begun_by_id,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="retention:person:erase",
        subject=f"{PERSON}:{person_id}",
        actor_id=row.begun_by_id,
        now=now,
        detail={"emptied": erased.emptied, "removed": erased.removed, "renamed": erased.renamed},
    )


def _remove_rows(session: Session, rows: Iterable[Row], done: Erased) -> dict[str, int]:
    """Remove rows, those that name others before the others, with their notes and files."""
    by_table: dict[str, list[int]] = {}
    for table, id_ in rows:
        by_table.setdefault(table, []).append(id_)
    removed = {}
    for found in reversed(Base.metadata.sorted_tables):
        ids = by_table.get(found.name)
        if not ids:
            continue
        _remove_parts_without_number(session, found, ids)
        _forget(session, found, ids, done)
        removed[found.name] = door.remove(session, found.name, ids)
    return removed


def _forget(session: Session, table: Table, ids: Sequence[int], done: Erased) -> None:
    """Remove the private notes of rows, and remember their files, to be looked at afterwards."""
    named = NAMED[table.name]
    notes, files = f"{named.notes} {named.own}".split(), f"{named.files} {named.frozen}".split()
    for name in [*notes, *(name for name in files if name.endswith("_digest"))]:
        column = table.c[name]
        for first in range(0, len(ids), 500):
            some = table.c.id.in_(ids[first : first + 500])
            digests = session.execute(select(column).where(some, column.is_not(None))).scalars()
            if name in notes:
                forget_notes(session, list(digests))
            else:
                done.files += digests


def _remove_parts_without_number(session: Session, whole: Table, ids: Sequence[int]) -> None:
    for name, named in NAMED.items():
        part = Base.metadata.tables[name]
        if named.part_of and "id" not in part.c and part.c[named.part_of].references(whole.c.id):
            session.execute(delete(part).where(part.c[named.part_of].in_(ids)))


def finish(session: Session, run_id: int, *, now: datetime) -> None:
    """Say that a run is done, once the files and the pages of the database were seen to."""
    row = session.get_one(RetentionRun, run_id)
    if row.stage is Stage.REMOVING:
        row.stage, row.done_at = Stage.DONE, now


def names(session: Session, runs: Iterable[RetentionRun]) -> dict[int, str]:
    """Return the names of those who asked for runs and began them."""
    ids = {id_ for run in runs for id_ in (run.asked_by_id, run.begun_by_id, run.person_id) if id_}
    return dict(session.execute(select(Person.id, Person.name).where(Person.id.in_(ids))).all())
