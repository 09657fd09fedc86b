"""In which area a machine stood at a moment."""

from __future__ import annotations

from sqlalchemy import ColumnElement, func, or_, select
from sqlalchemy.orm import aliased

from app.db import Moment
from app.machines.models import Machine, MachineMove


def area_at(at: Moment, known: Moment | None = None) -> ColumnElement[int]:
    """Return, for a row of `Machine`, the area it stood in.

    The register holds the area of now; the first move that had not happened yet, or was not
    known yet, tells from where it was moved.
    """
    move = aliased(MachineMove)
    later = move.occurred_at > at
    return func.coalesce(
        select(move.from_area_id)
        .where(
            move.machine_id == Machine.id,
            later if known is None else or_(later, move.recorded_at > known),
        )
        .order_by(move.occurred_at, move.id)
        .limit(1)
        .correlate(Machine)
        .scalar_subquery(),
        Machine.area_id,
    )
