"""A machine's data sheet: what its plate, its maker or a measurement says, with the source."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from datetime import datetime
from functools import cache

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.errors import BadInput
from app.machines.models import Machine, MachineDatum
from assessments import units
from assessments.method import Number, Rows
from assessments.methods import catalogue

LONGEST_NAME, LONGEST_VALUE, LONGEST_UNIT = 60, 40, 20


def data_of(session: Session, machine_ids: Collection[int]) -> list[MachineDatum]:
    """Return the data sheets of machines: the latest row of each name, by machine and name."""
    newer = aliased(MachineDatum)
    latest = (
        select(func.max(newer.id))
        .where(newer.machine_id.in_(machine_ids))
        .group_by(newer.machine_id, newer.name)
    )
    return list(
        session.execute(
            select(MachineDatum)
            .where(MachineDatum.id.in_(latest))
            .order_by(MachineDatum.machine_id, MachineDatum.name)
        ).scalars()
    )


def record_datum(
    session: Session,
    machine: Machine,
    *,
    name: str,
    value: str,
    unit: str,
    source: str,
    actor_id: int,
    now: datetime,
) -> MachineDatum:
    """Add a line to the data sheet; it takes the place of an older one of the same name."""
    datum = MachineDatum(
        machine_id=machine.id,
        name=_name(name),
        value=_value(value),
        unit=_unit(unit),
        source=_source(source),
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(datum)
    session.flush()
    log.record(
        session,
        action="machines:datum:record",
        subject=f"machine_datum:{datum.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": machine.id, "name": datum.name},
    )
    return datum


@cache
def known_names() -> Mapping[str, str]:
    """Return the names that forms can be filled from, each with a unit that it may have."""
    names: dict[str, str] = {}
    for method in catalogue().values():
        for each in method.inputs:
            for column in each.columns if isinstance(each, Rows) else (each,):
                if isinstance(column, Number) and not column.unit_by:
                    names.setdefault(column.name, column.unit)
    return dict(sorted(names.items()))


def _name(written: str) -> str:
    """Return a name as the methods write theirs: "Beam diameter" is beam_diameter."""
    name = re.sub(r"[\s_]+", "_", written.strip().lower())
    if not name or len(name) > LONGEST_NAME:
        raise BadInput(f"Give the datum a name of at most {LONGEST_NAME} characters.", status=422)
    return name


def _value(written: str) -> str:
    value = written.strip()
    found = units.split(value) if len(value) <= LONGEST_VALUE else None
    if found is None or found[1] or abs(found[0]) == float("inf"):
        raise BadInput("The value is a plain number with a point, such as 10.6.", status=422)
    return value


def _unit(written: str) -> str:
    unit = written.strip() or "1"
    try:
        if len(unit) > LONGEST_UNIT:
            raise units.UnitError("it is too long")
        units.unit(unit)
    except units.UnitError:
        raise BadInput(
            f"“{unit[:LONGEST_UNIT]}” is not a unit known here: W, mm, 1/min or m/s2 would be.",
            status=422,
        ) from None
    return unit


def _source(written: str) -> str:
    source = written.strip()
    if not source:
        raise BadInput(
            "Say where the value is from: the plate, the manual, or who measured it when.",
            status=422,
        )
    return source


def worded(datum: MachineDatum) -> str:
    """Return the value as it is read: 60 W."""
    return units.worded(datum.value, datum.unit)


def label(name: str) -> str:
    """Return a name as it is read: Beam diameter."""
    return name.replace("_", " ").capitalize()


def value_in(datum: MachineDatum, unit: str) -> float:
    """Return the value in another unit.  Raises UnitError where that is of another kind."""
    return float(units.convert(float(datum.value), datum.unit, unit))
