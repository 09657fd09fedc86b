"""What is not removed though its time is over: a mark for a claim, an open case, a kept scene."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.faults.models import Progress, Report, ReportKind, ReportStep
from app.machines.models import Hold, Machine, MachineHold
from app.people.models import Person
from app.retention.models import RetentionKeep

# What a mark can be put on.
ABOUT: dict[str, Any] = {"person": Person, "machine": Machine, "report": Report}


@dataclass(frozen=True, kw_only=True)
class Kept:
    """The numbers of what is kept, by table: person, machine, report."""

    ids: dict[str, frozenset[int]]

    def of(self, table: str) -> frozenset[int]:
        return self.ids.get(table, frozenset())


def kept(session: Session) -> Kept:
    """Return everything that stands under a mark, in an open case, or at a preserved scene."""
    found: dict[str, set[int]] = {table: set() for table in ABOUT}
    for about in session.execute(
        select(RetentionKeep.about).where(stands(RetentionKeep))
    ).scalars():
        table, _colon, id_ = about.partition(":")
        found[table].add(int(id_))
    scenes = select(MachineHold.machine_id).where(
        MachineHold.hold == Hold.SCENE_PRESERVED, stands(MachineHold)
    )
    found["machine"].update(session.execute(scenes).scalars())
    for report in _open_cases(session):
        found["report"].add(report.id)
        found["person"].update(_people_in(report))
        if report.machine_id is not None:
            found["machine"].add(report.machine_id)
    return Kept(ids={table: frozenset(ids) for table, ids in found.items()})


def _open_cases(session: Session) -> Iterator[Report]:
    """Give the incidents and near misses that nobody has closed."""
    latest = select(func.max(ReportStep.id)).group_by(ReportStep.report_id)
    closed = select(ReportStep.report_id).where(
        ReportStep.id.in_(latest), ReportStep.progress == Progress.CLOSED
    )
    yield from session.execute(
        select(Report).where(Report.kind != ReportKind.FAULT, Report.id.not_in(closed))
    ).scalars()


def _people_in(report: Report) -> set[int]:
    """Return who reported, who was there, and whose clearance was kept with it."""
    there = {each["person"] for each in report.snapshot.get("present", [])}
    stood = {each["person"] for each in report.snapshot.get("clearances", [])}
    return there | stood | ({report.reporter_id} if report.reporter_id else set())


def marks(session: Session) -> list[RetentionKeep]:
    """Return the marks that stand, the oldest first."""
    return list(
        session.execute(
            select(RetentionKeep).where(stands(RetentionKeep)).order_by(RetentionKeep.id)
        ).scalars()
    )


def mark(
    session: Session, table: str, id_: int, *, why: str, actor_id: int, now: datetime
) -> RetentionKeep:
    """Keep what is about this until the mark is ended."""
    if table not in ABOUT or session.get(ABOUT[table], id_) is None:
        raise NotFound("There is nothing of that number to keep.")
    if not why.strip():
        raise Refused("Say what it is needed for.", code="reason", status=422)
    about = f"{table}:{id_}"
    if any(row.about == about for row in marks(session)):
        raise Refused("It is kept already.", code="kept")
    row = RetentionKeep(
        about=about,
        note_digest=log.keep_note(session, why, now=now),
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    return _record(session, row, "retention:mark:set")


def end(session: Session, keep_id: int, *, actor_id: int, now: datetime) -> RetentionKeep:
    """End a mark: from now on the schedule decides again."""
    row = session.get(RetentionKeep, keep_id)
    if row is None or row not in marks(session):
        raise NotFound("There is no such mark, or it was ended.")
    ending = RetentionKeep(
        about=row.about,
        ends_id=row.id,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    return _record(session, ending, "retention:mark:end")


def _record(session: Session, row: RetentionKeep, action: str) -> RetentionKeep:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"retention_keep:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={"about": row.about},
    )
    return row
