"""Part 6: every extraction system: its last and next examination, the checks between, what is open.

The register has no word of its own for an extraction system: it is told by the words of its title,
or of a check of it, and the part says so.
"""

from __future__ import annotations

import re

from sqlalchemy import select

from app.actions.models import Action
from app.db import by_then, stands
from app.hazards.models import CheckResult, ExaminationReport
from app.hazards.remedial import about
from app.pack.ground import Ground
from app.pack.upkeep import Relied, Upkeep
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

EXTRACTION = re.compile(
    r"extract|exhaust|\blev\b|fume|dust|capture hood|spray booth", re.IGNORECASE
)

COLUMNS = (
    Column(key="system", heading="System and check", says="the control and its check"),
    Column(key="serves", heading="Serves", says="machines that rely on it", mm=30),
    Column(key="examined", heading="Examined", says="the last time", sort="day", mm=20),
    Column(key="by", heading="By", says="the examiner and the report", mm=30),
    Column(key="valid", heading="Valid through", says="the last day", sort="day", mm=20),
    Column(key="between", heading="Between", says="results in the period", sort="number", mm=16),
    Column(key="open", heading="Open", says="remedial actions", sort="number", mm=12),
)


def is_extraction(relied: Relied) -> bool:
    """Say whether a control is an extraction system, by the words of its titles."""
    return bool(EXTRACTION.search(f"{relied.control} {relied.title}"))


def part(ground: Ground, upkeep: Upkeep) -> Part:
    """Return every extraction system that is relied on."""
    systems = [relied for relied in upkeep.relied if is_extraction(relied)]
    examined = [relied for relied in systems if relied.statutory]
    unexamined = {r.control for r in systems} - {r.control for r in examined}
    return Part(
        number=6,
        key="extraction",
        title="Extraction systems",
        lead="Controls that are told to be extraction systems by the words of their titles or "
        "checks, with the last examination, the checks between and what is still to be put right.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Extraction examined and in date",
                        numerator=sum(relied.in_date for relied in examined),
                        denominator=len(examined),
                        counted="systems with an examination",
                    ),
                )
            ),
            Table(
                name="extraction",
                title="Examinations and checks of extraction systems",
                columns=COLUMNS,
                rows=tuple(_row(ground, relied) for relied in systems),
                otherwise="No control is called an extraction system.",
            ),
            Table(
                name="extraction-without-examination",
                title="Extraction systems without a statutory examination on record",
                columns=(Column(key="system", heading="System", says="the control"),),
                rows=tuple((control,) for control in sorted(unexamined)),
                otherwise="Each has one.",
            ),
        ),
    )


def _row(ground: Ground, relied: Relied) -> tuple[Cell, ...]:
    latest = relied.latest
    report = None
    if latest is not None:
        report = ground.session.execute(
            select(ExaminationReport).where(
                ExaminationReport.result_id == latest.id,
                ExaminationReport.recorded_at <= ground.known,
            )
        ).scalar()
    return (
        f"{relied.control}: {relied.title}",
        ", ".join(relied.machines),
        None if latest is None else ground.day(latest.occurred_at),
        _by(ground, latest, report, statutory=relied.statutory),
        relied.through,
        sum(result.occurred_at >= ground.begins for result in relied.results),
        _open(ground, relied),
    )


def _by(
    ground: Ground,
    latest: CheckResult | None,
    report: ExaminationReport | None,
    *,
    statutory: bool,
) -> str:
    if latest is None:
        return "never done"
    failed = ", failed" if latest.outcome.value == "failed" else ""
    if report is None:
        named = ground.name(latest.recorded_by_id)
        return f"{named}{failed}{'; no report on record' if statutory else ''}"
    return f"{report.examiner}, {report.reference}{failed}"


def _open(ground: Ground, relied: Relied) -> int:
    names = [about(result.id) for result in relied.results]
    if not names:
        return 0
    still = 0
    for start in range(0, len(names), 900):
        rows = ground.session.execute(
            select(Action.id).where(
                Action.about.in_(names[start : start + 900]),
                stands(Action, ground.at, ground.known),
                *by_then(Action, ground.at, ground.known),
            )
        )
        still += len(rows.all())
    return still
