"""Part 10: incidents and near misses of the period, how far the look into each came, what was done.

What happened stands in private words and is not in the pack; whoever may read it does so in the
register, by the number of the report.
"""

from __future__ import annotations

from sqlalchemy import select

from app.db import by_then
from app.faults.models import Progress, Report, ReportKind, ReportStep
from app.faults.steps import about
from app.machines.models import Machine
from app.oversight.findings import actions_about
from app.pack.ground import Ground
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

REPORTS = (
    Column(key="number", heading="No.", says="of the report", sort="number", mm=12),
    Column(key="kind", heading="Kind", says="fault, near miss, incident", mm=20),
    Column(key="on", heading="On", says="the day", sort="day", mm=20),
    Column(key="where", heading="Where", says="machine or area"),
    Column(key="look", heading="Look into it", says="how far it came", mm=24),
    Column(key="potential", heading="Could have been", says="the potential", mm=24),
    Column(key="law", heading="To an authority", says="the statutory decision", mm=30),
)
ACTIONS = (
    Column(key="number", heading="Report", says="its number", sort="number", mm=16),
    Column(key="what", heading="What was to be done", says="the action"),
    Column(key="owner", heading="By whom", says="a post or a name", mm=30),
    Column(key="due_on", heading="By", says="the day", sort="day", mm=20),
    Column(key="end", heading="How it ended", says="how it was verified, or open", mm=44),
)


def reports_of(ground: Ground) -> list[Report]:
    """Return the reports of the period in the areas, oldest first."""
    rows = ground.session.execute(
        select(Report)
        .where(
            Report.occurred_at >= ground.begins,
            Report.area_id.in_(ground.areas),
            *by_then(Report, ground.at, ground.known),
        )
        .order_by(Report.occurred_at, Report.id)
    ).scalars()
    return list(rows)


def steps_by_report(ground: Ground) -> dict[int, ReportStep]:
    """Return the last step of the look into each report."""
    rows = ground.session.execute(
        select(ReportStep)
        .where(*by_then(ReportStep, ground.at, ground.known))
        .order_by(ReportStep.id)
    ).scalars()
    return {row.report_id: row for row in rows}


def part(ground: Ground) -> Part:
    """Return the reports and what was done about them."""
    reports, steps = reports_of(ground), steps_by_report(ground)
    actions = actions_about(ground.session, "report:", at=ground.at, known=ground.known)
    machines = dict(ground.session.execute(select(Machine.id, Machine.name)).all())
    mine = [(r, a, end) for r in reports for a, end in actions.get(about(r.id), ())]
    looked = [r for r in reports if r.id in steps]
    closed = [r for r in looked if steps[r.id].progress is Progress.CLOSED]
    ill = [r for r in reports if r.kind is ReportKind.INCIDENT]
    near = [r for r in reports if r.kind is ReportKind.NEAR_MISS]
    return Part(
        number=10,
        key="reports",
        title="Incidents, near misses and faults",
        lead="As they were reported in the period. What happened is kept in private words apart "
        "from this pack, and read in the register by the report’s number.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Reports looked into to the end",
                        numerator=len(closed),
                        denominator=len(reports),
                        counted="reports",
                    ),
                    Figure(
                        what="Near misses among these and incidents",
                        numerator=len(near),
                        denominator=len(near) + len(ill),
                        counted="incidents and near misses",
                    ),
                    Figure(
                        what="Actions closed that came of reports",
                        numerator=sum(end is not None for _r, _a, end in mine),
                        denominator=len(mine),
                        counted="actions",
                    ),
                )
            ),
            Table(
                name="reports",
                title="Reports",
                columns=REPORTS,
                rows=tuple(_row(ground, r, steps.get(r.id), machines) for r in reports),
                otherwise="Nothing was reported in the period.",
            ),
            Table(
                name="report-actions",
                title="What was done about them",
                columns=ACTIONS,
                rows=tuple(
                    (
                        report.id,
                        action.what,
                        action.owner,
                        action.due_on,
                        "open" if end is None else end.verified,
                    )
                    for report, action, end in mine
                ),
                otherwise="No action came of a report.",
            ),
        ),
    )


def _row(
    ground: Ground, report: Report, step: ReportStep | None, machines: dict[int, str]
) -> tuple[Cell, ...]:
    area = ground.areas[report.area_id].name
    return (
        report.id,
        report.kind.value,
        ground.day(report.occurred_at),
        area if report.machine_id is None else f"{machines[report.machine_id]}, {area}",
        "nobody has yet" if step is None else step.progress.value,
        "" if step is None else step.potential or "not said",
        "" if step is None else step.statutory or "not decided yet",
    )
