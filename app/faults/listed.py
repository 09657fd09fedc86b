"""Reports as a list: those of one's areas, or one's own, with how far each has come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.actions.actions import open_actions
from app.db import AnyRow
from app.faults.models import Progress, Report, ReportKind, ReportStep
from app.faults.steps import about
from app.machines.models import Area, Machine


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What somebody looks for among the reports."""

    kind: ReportKind | None = None
    area_id: int | None = None
    open: bool | None = True  # None: open and closed ones


@dataclass(frozen=True, kw_only=True)
class Listed:
    """One report in the list."""

    report: Report
    machine: str
    area: str
    progress: Progress | None  # None: nobody has seen it yet
    potential: str
    actions: int  # still open


def listed(
    session: Session,
    asked: Asked,
    *,
    areas: Iterable[int] | None = None,
    reporter_id: int | None = None,
) -> list[Listed]:
    """Return reports, the newest first; of some areas or of one reporter, where that is asked."""
    newest = (
        select(func.max(ReportStep.id))
        .where(ReportStep.report_id == Report.id)
        .correlate(Report)
        .scalar_subquery()
    )
    found = (
        select(
            Report,
            func.coalesce(Machine.name, Area.name).label("machine"),
            Area.name.label("area"),
            ReportStep.progress,
            ReportStep.potential,
        )
        .join(Area, Area.id == Report.area_id)
        .outerjoin(Machine, Machine.id == Report.machine_id)
        .outerjoin(ReportStep, ReportStep.id == newest)
        .order_by(Report.occurred_at.desc(), Report.id.desc())
    )
    if areas is not None:
        found = found.where(Report.area_id.in_(list(areas)))
    if reporter_id is not None:
        found = found.where(Report.reporter_id == reporter_id)
    if asked.kind is not None:
        found = found.where(Report.kind == asked.kind)
    if asked.area_id is not None:
        found = found.where(Report.area_id == asked.area_id)
    rows = [row for row in session.execute(found) if _as_asked(row, asked.open)]
    still_open = Counter(
        action.about for action in open_actions(session, [about(row.Report.id) for row in rows])
    )
    return [
        Listed(
            report=row.Report,
            machine=row.machine,
            area=row.area,
            progress=row.progress,
            potential=row.potential or "",
            actions=still_open[about(row.Report.id)],
        )
        for row in rows
    ]


def _as_asked(row: AnyRow, wanted: bool | None) -> bool:
    return wanted is None or (row.progress is not Progress.CLOSED) == wanted
