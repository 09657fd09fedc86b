"""Part 12: permits of every kind, locks that were on, and tools that were lent."""

from __future__ import annotations

from sqlalchemy import select

from app.db import by_then
from app.pack.contents.permits import isolations, permits
from app.pack.ground import Ground
from app.presence.models import Loan
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

LOAN_COLUMNS = (
    Column(key="tool", heading="Tool", says="its name"),
    Column(key="person", heading="Person", says="number", sort="number", mm=16),
    Column(key="out", heading="Out", says="when it went out", mm=30),
    Column(key="due", heading="Due", says="when it had to be back", mm=30),
    Column(key="back", heading="Back", says="when it came back", mm=30),
    Column(key="evidence", heading="Inspection that went with it", says="its evidence", mm=44),
)


def part(ground: Ground) -> Part:
    """Return the lists."""
    loans = _loans(ground)
    ended = [(out, back) for out, back in loans if back is not None or out.due_at < ground.at]
    return Part(
        number=12,
        key="loans",
        title="Permits and loans",
        lead="Permits that were given, locks that were on and tools that were lent in the period. "
        "Who was permitted or lent something stands here by their number in the register.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Loans back in time",
                        numerator=sum(
                            back is not None and back.occurred_at <= out.due_at
                            for out, back in ended
                        ),
                        denominator=len(ended),
                        counted="loans that fell due",
                    ),
                )
            ),
            permits(ground),
            isolations(ground),
            Table(
                name="loans",
                title="Loans",
                columns=LOAN_COLUMNS,
                rows=tuple(_row(ground, out, back) for out, back in loans),
                otherwise="Nothing was lent.",
            ),
        ),
    )


def _loans(ground: Ground) -> list[tuple[Loan, Loan | None]]:
    rows = list(
        ground.session.execute(
            select(Loan)
            .where(*by_then(Loan, ground.at, ground.known))
            .order_by(Loan.occurred_at, Loan.id)
        ).scalars()
    )
    ends = {row.ends_id: row for row in rows if row.ends_id is not None}
    return [
        (row, ends.get(row.id))
        for row in rows
        if row.ends_id is None
        and row.machine_id in ground.files
        and (row.id not in ends or ends[row.id].occurred_at >= ground.begins)
    ]


def _row(ground: Ground, out: Loan, back: Loan | None) -> tuple[Cell, ...]:
    if back is None:
        came = "not back, late" if out.due_at < ground.at else "out"
    else:
        came = ground.clock(back.occurred_at) + (", with a defect" if back.defect else "")
    return (
        ground.files[out.machine_id].facts.name,
        out.person_id,
        ground.clock(out.occurred_at),
        ground.clock(out.due_at),
        came,
        out.evidence or "none on record",
    )
