"""Fill a method's form from the data sheets of machines, and know afterwards what came from them.

A value is filled in only where it is beyond doubt: the machines that have it agree, and its
unit is of the kind that the method asks for.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.calculations.form import Described, Typed, cell_name, typed_as
from app.hazards.models import Hazard
from app.machines.data import data_of, value_in, worded
from app.machines.models import MachineDatum
from app.risk_assessments.drafts import machines_of
from assessments import units
from assessments.finding import Finding


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The machines of a hazard line's draft, and lines of their data sheets."""

    machines: Mapping[int, str]  # name by id
    data: tuple[MachineDatum, ...]

    def said(self, datum: MachineDatum) -> str:
        return f"{self.machines[datum.machine_id]}: {worded(datum)} ({datum.source})"


def sheet_of(session: Session, hazard: Hazard, machine_id: int | None) -> Sheet:
    """Return the latest data of the machines that the hazard's draft covers, or of one of them."""
    machines = {each.id: each.name for each in machines_of(session, hazard.assessment_id)}
    wanted = [machine_id] if machine_id in machines else list(machines)
    return Sheet(machines=machines, data=tuple(data_of(session, wanted)))


def sheet_used(session: Session, hazard: Hazard, datum_ids: Collection[int]) -> Sheet:
    """Return the data that a form was filled from, as it says; those of other machines are not."""
    machines = {each.id: each.name for each in machines_of(session, hazard.assessment_id)}
    data = session.execute(
        select(MachineDatum)
        .where(MachineDatum.id.in_(datum_ids), MachineDatum.machine_id.in_(machines))
        .order_by(MachineDatum.machine_id, MachineDatum.name, MachineDatum.id)
    ).scalars()
    return Sheet(machines=machines, data=tuple(data))


def filled(described: Described, sheet: Sheet) -> tuple[Typed, Sheet]:
    """Return the form as the data sheets fill it, and what of them it took or could not take."""
    question: dict[str, Any] = {}
    used: list[MachineDatum] = []
    for field in described["fields"]:
        found = _data_for(field, sheet)
        used += found
        if field["kind"] == "rows" and found:
            question[field["name"]] = _rows(field, found)
        elif found and _agree(field, found):
            question[field["name"]] = _written(found[0], field["unit"])
    data = tuple(dict.fromkeys(used))
    return typed_as(described, question), Sheet(machines=sheet.machines, data=data)


def taken_from(described: Described, finding: Finding, sheet: Sheet) -> dict[str, int]:
    """Return, for each cell whose value is that of a datum, the id of the datum.

    A value that was overwritten in the form is not taken from anywhere. Where machines agree
    on one, each is named, so that a change at any of them is seen.
    """
    taken: dict[str, int] = {}
    for datum in sheet.data:
        for cell, value, column in _cells(described, finding):
            if column["name"] == datum.name and _is(value, datum, column["unit"]):
                taken[f"{cell} of {datum.machine_id}" if cell in taken else cell] = datum.id
    return taken


def notes(described: Described, typed: Typed, sheet: Sheet) -> dict[str, list[str]]:
    """Say beside each field what the data sheets have for it, and whether that stands in it."""
    said: dict[str, list[str]] = {}
    for field in described["fields"]:
        found = _data_for(field, sheet)
        differ = field["kind"] == "number" and not _agree(field, found)
        for datum in found:
            said.setdefault(field["name"], []).append(
                f"{_heading(field, typed, datum, differ=differ)} {sheet.said(datum)}."
            )
    return said


def _heading(field: Described, typed: Typed, datum: MachineDatum, *, differ: bool) -> str:
    if any(
        _is_typed(text, datum, column["unit"])
        for text, column in _typed_cells(field, typed)
        if column["name"] == datum.name
    ):
        return "From the data sheet of"
    if differ:
        return "The machines differ; give the value that counts. The data sheet of"
    return "Another value stands here. The data sheet of"


def _data_for(field: Described, sheet: Sheet) -> list[MachineDatum]:
    """Return the data that answer an input without doubt about their meaning."""
    if not _may_be_filled(field):
        return []
    columns = {each["name"]: each for each in _numbers(field)}
    return [
        datum
        for datum in sheet.data
        if datum.name in columns and _convertible(datum, columns[datum.name]["unit"])
    ]


def _numbers(field: Described) -> list[Described]:
    columns = field["columns"] if field["kind"] == "rows" else [field]
    return [each for each in columns if each["kind"] == "number" and not each["unit_by"]]


def _convertible(datum: MachineDatum, unit: str) -> bool:
    try:
        value_in(datum, unit)
    except units.UnitError:
        return False
    return True


def _agree(field: Described, data: Sequence[MachineDatum]) -> bool:
    return len({_written(datum, field["unit"]) for datum in data}) == 1


def _rows(field: Described, data: Sequence[MachineDatum]) -> list[list[str]]:
    """Return one row for each machine, blank where its sheet says nothing."""
    rows: dict[int, list[str]] = {}
    for datum in data:
        row = rows.setdefault(datum.machine_id, [""] * len(field["columns"]))
        for place, column in enumerate(field["columns"]):
            if column["name"] == datum.name:
                row[place] = _written(datum, column["unit"])
    return list(rows.values())[: field["most"]]


def _written(datum: MachineDatum, unit: str) -> str:
    """Return the value in the unit of the form; unconverted it stays as it was written."""
    return datum.value if datum.unit == unit else f"{value_in(datum, unit):.10g}"


def _is(value: Any, datum: MachineDatum, unit: str) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return _convertible(datum, unit) and math.isclose(value, value_in(datum, unit), rel_tol=1e-9)


def _is_typed(text: str, datum: MachineDatum, unit: str) -> bool:
    found = units.split(text)
    if found is None:
        return False
    try:
        value = units.convert(found[0], found[1] or unit, unit)
    except units.UnitError:
        return False
    return _is(value, datum, unit)


def _cells(described: Described, finding: Finding) -> Iterator[tuple[str, Any, Described]]:
    """Give each number of the finding's inputs: its cell in the form, its value, its column."""
    for field in described["fields"]:
        given = finding.inputs.get(field["name"])
        if given is not None and _may_be_filled(field):
            yield from _cells_of(field, given.value)


def _cells_of(field: Described, value: Any) -> Iterator[tuple[str, Any, Described]]:
    if field["kind"] == "number":
        yield from ((field["name"], value, column) for column in _numbers(field))
        return
    for at, row in enumerate(value):
        for place, column in enumerate(field["columns"]):
            if column in _numbers(field):
                yield cell_name(field["name"], at, place), row[place], column


def _may_be_filled(field: Described) -> bool:
    """Say whether an input is always asked for; else whoever fills in the form knows when."""
    return not field["when"] and field["kind"] in ("number", "rows")


def _typed_cells(field: Described, typed: Typed) -> Iterator[tuple[str, Described]]:
    value = typed[field["name"]]
    if isinstance(value, str):
        yield value, field
        return
    for row in value:
        yield from (
            (text, column)
            for text, column in zip(row, field["columns"], strict=True)
            if column in _numbers(field)
        )
