"""Part 13: what the last audits found, and what happened to each finding."""

from __future__ import annotations

from app.oversight.findings import Followed, followed
from app.pack.ground import Ground
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

COLUMNS = (
    Column(key="audit", heading="Audit", says="its name and the number of the finding", mm=30),
    Column(key="finding", heading="What was found", says="in the auditor's words"),
    Column(key="owner", heading="By whom", says="who does it", mm=24),
    Column(key="due_on", heading="By", says="the day", sort="day", mm=20),
    Column(key="end", heading="What happened to it", says="its verified end, or open", mm=44),
)


def findings_of(ground: Ground) -> list[Followed]:
    """Return the findings that were open in some part of the period, the open ones in front."""
    found = [
        each
        for each in followed(ground.session, at=ground.at, known=ground.known)
        if (each.ended is None or each.ended.occurred_at >= ground.begins)
        and (each.finding.area_id is None or each.finding.area_id in ground.areas)
    ]
    return sorted(found, key=lambda each: each.ended is not None)


def part(ground: Ground) -> Part:
    """Return every finding that was open in the period."""
    found = findings_of(ground)
    late = [f for f in found if f.ended is None and f.due_on and f.due_on < ground.today]
    return Part(
        number=13,
        key="findings",
        title="Findings of the last audits",
        lead="Every finding that was open in some part of the period. A finding ends when what was "
        "to be done is closed and somebody has verified that its cause is gone.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Audit findings ended",
                        numerator=sum(each.ended is not None for each in found),
                        denominator=len(found),
                        counted="findings",
                    ),
                    Figure(
                        what="Audit findings open past their day",
                        numerator=len(late),
                        denominator=len(found),
                        counted="findings",
                    ),
                )
            ),
            Table(
                name="findings",
                title="Findings",
                columns=COLUMNS,
                rows=tuple(_row(ground, each) for each in found),
                otherwise="No finding was open in the period, and none is on record of it.",
            ),
        ),
    )


def _row(ground: Ground, each: Followed) -> tuple[Cell, ...]:
    row = each.finding
    if each.ended is not None:
        end = f"Ended {ground.day(each.ended.occurred_at).isoformat()}: {each.ended.verified}"
    else:
        late = each.due_on is not None and each.due_on < ground.today
        still = "; ".join(action.what for action in each.open_actions)
        end = f"Open{', late' if late else ''}. {f'Still to do: {still}' if still else 'All done'}."
    return (
        f"{row.audit}, no. {row.reference}" if row.reference else row.audit,
        f"{row.weight.value.capitalize()}: {row.words}",
        each.owners,
        each.due_on,
        end,
    )
