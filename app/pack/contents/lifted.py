"""Part 11: overrides and suspensions of the period. No reason stands here: reasons are private."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from app.clearance.lifting import LIFTABLE
from app.clearance.models import Override, OverrideReview
from app.db import by_then
from app.machines.models import Machine
from app.pack.ground import Ground
from app.people.rights import Act
from app.training.models import Suspension
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

OVERRIDES = (
    Column(key="number", heading="No.", says="of the override", sort="number", mm=12),
    Column(key="from", heading="From", says="when it was granted", mm=30),
    Column(key="until", heading="Until", says="its end", mm=30),
    Column(key="machine", heading="Machine", says="its name"),
    Column(key="lifts", heading="Lifts", says="the condition", mm=36),
    Column(key="person", heading="Person", says="number", sort="number", mm=16),
    Column(key="looked_at", heading="Looked at", says="by somebody else", sort="day", mm=20),
)
SUSPENSIONS = (
    Column(key="number", heading="No.", says="of the suspension", sort="number", mm=12),
    Column(key="from", heading="From", says="when", mm=30),
    Column(key="until", heading="Until", says="its end, or standing", mm=30),
    Column(key="where", heading="Where", says="machine, area or everywhere"),
    Column(key="person", heading="Person", says="number", sort="number", mm=16),
)
PERMITS = frozenset(code.value for code, lift in LIFTABLE.items() if lift.act is Act.PERMIT)


def overrides_of(ground: Ground) -> list[tuple[Override, Override | None]]:
    """Return the overrides of the period at the machines, each with the row that ended it early."""
    rows = list(
        ground.session.execute(
            select(Override)
            .where(*by_then(Override, ground.at, ground.known))
            .order_by(Override.occurred_at, Override.id)
        ).scalars()
    )
    ends = {row.ends_id: row for row in rows if row.ends_id is not None}
    return [
        (row, ends.get(row.id))
        for row in rows
        if row.ends_id is None and row.machine_id in ground.files and row.until >= ground.begins
    ]


def reviews_of(ground: Ground) -> dict[int, OverrideReview]:
    """Return the looks at overrides afterwards."""
    rows = ground.session.execute(
        select(OverrideReview).where(*by_then(OverrideReview, ground.at, ground.known))
    ).scalars()
    return {row.override_id: row for row in rows}


def part(ground: Ground) -> Part:
    """Return both lists. People are named by their number in the register."""
    lifted = [(row, end) for row, end in overrides_of(ground) if row.lifts not in PERMITS]
    looked = reviews_of(ground)
    return Part(
        number=11,
        key="overrides",
        title="Overrides and suspensions",
        lead="Of the period. People stand here by their number in the register, and reasons are "
        "not in the pack: those entitled read them in the register.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Overrides looked at by somebody else",
                        numerator=sum(row.id in looked for row, _end in lifted),
                        denominator=len(lifted),
                        counted="overrides",
                    ),
                )
            ),
            Table(
                name="overrides",
                title="Overrides",
                columns=OVERRIDES,
                rows=tuple(_override(ground, row, end, looked) for row, end in lifted),
                otherwise="Nothing was overridden.",
            ),
            Table(
                name="suspensions",
                title="Suspensions",
                columns=SUSPENSIONS,
                rows=tuple(_suspensions(ground)),
                otherwise="Nobody was suspended.",
            ),
        ),
    )


def _override(
    ground: Ground, row: Override, end: Override | None, looked: dict[int, OverrideReview]
) -> tuple[Cell, ...]:
    review = looked.get(row.id)
    return (
        row.id,
        ground.clock(row.occurred_at),
        ground.clock(end.occurred_at if end is not None else row.until),
        ground.files[row.machine_id].facts.name,
        row.lifts.replace("-", " "),
        row.person_id,
        None if review is None else ground.day(review.recorded_at),
    )


def _suspensions(ground: Ground) -> list[tuple[Cell, ...]]:
    rows = list(
        ground.session.execute(
            select(Suspension)
            .where(*by_then(Suspension, ground.at, ground.known))
            .order_by(Suspension.occurred_at, Suspension.id)
        ).scalars()
    )
    ends = {row.ends_id: row for row in rows if row.ends_id is not None}
    machines: dict[int, Any] = {
        row.id: row for row in ground.session.execute(select(Machine)).scalars()
    }
    found: list[tuple[Cell, ...]] = []
    for row in rows:
        end = ends.get(row.id)
        over = end is not None and end.occurred_at < ground.begins
        if row.ends_id is not None or over or not _here(ground, row):
            continue
        if row.machine_id is not None:
            where = machines[row.machine_id].name
        else:
            where = "everywhere" if row.area_id is None else ground.areas[row.area_id].name
        until = "stands" if end is None else ground.clock(end.occurred_at)
        found.append((row.id, ground.clock(row.occurred_at), until, where, row.person_id))
    return found


def _here(ground: Ground, row: Suspension) -> bool:
    """Say whether a suspension reaches into the areas of the choice."""
    if row.machine_id is not None:
        return row.machine_id in ground.files
    return row.area_id is None or row.area_id in ground.areas
