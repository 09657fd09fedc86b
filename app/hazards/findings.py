"""The findings that stand beside hazard lines, and which machine data have moved on since."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from app.db import stands
from app.hazards.models import Hazard, HazardFinding
from app.machines.data import data_of, label, value_in, worded
from app.machines.models import Machine, MachineDatum
from assessments.units import UnitError


def standing() -> Select[Any]:
    """Return the statement for the findings that no later row ended, oldest first."""
    return (
        select(HazardFinding)
        .join(Hazard, Hazard.id == HazardFinding.hazard_id)
        .where(stands(HazardFinding))
        .order_by(HazardFinding.id)
    )


def findings_of(session: Session, assessment_id: int) -> list[HazardFinding]:
    """Return the findings beside the hazard lines of a draft."""
    return list(session.execute(standing().where(Hazard.assessment_id == assessment_id)).scalars())


def outdated(session: Session, rows: Sequence[HazardFinding]) -> dict[int, str]:
    """Say, by the finding's id, which of them rest on machine data that have another value now."""
    ids = {datum_id for row in rows for datum_id in row.taken_from.values()}
    changes = _changes(session, ids) if ids else {}
    said: dict[int, str] = {}
    for row in rows:
        words = [changes[each] for each in sorted(set(row.taken_from.values())) if each in changes]
        if words:
            said[row.id] = " ".join(words)
    return said


def _changes(session: Session, datum_ids: set[int]) -> dict[int, str]:
    """Say what became of data that were used, where the machine has another value by now."""
    rows = session.execute(
        select(MachineDatum, Machine.name)
        .join(Machine, Machine.id == MachineDatum.machine_id)
        .where(MachineDatum.id.in_(datum_ids))
    ).all()
    today = {
        (datum.machine_id, datum.name): datum
        for datum in data_of(session, {used.machine_id for used, _ in rows})
    }
    changes = {}
    for used, machine in rows:
        now = today[used.machine_id, used.name]
        if not _equal(used, now):
            changes[used.id] = (
                f"It was computed from {worded(used)} ({label(used.name).lower()}); "
                f"{machine} now has {worded(now)}."
            )
    return changes


def _equal(used: MachineDatum, now: MachineDatum) -> bool:
    """Say whether a newer row only confirms the value, perhaps in another unit."""
    try:
        return math.isclose(value_in(now, used.unit), float(used.value), rel_tol=1e-9)
    except UnitError:
        return False
