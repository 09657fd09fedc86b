"""Part 3: the register of machines, with how each stood and its statutory days."""

from __future__ import annotations

from app.clearance.codes import Code
from app.clearance.decision import CheckFact, Reason, machine_part
from app.clearance.machine_facts import MachineFile
from app.pack.ground import Ground
from app.pack.upkeep import Upkeep
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table

COLUMNS = (
    Column(key="machine", heading="Machine", says="its name", mm=30),
    Column(key="what", heading="What it is", says="form, kind, maker, model, serial number"),
    Column(key="place", heading="Place", says="where in the area", mm=24),
    Column(key="state", heading="State", says="what stood against everybody's use", mm=24),
    Column(key="examination", heading="Statutory examination", says="the next due", mm=30),
    Column(
        key="valid_through",
        heading="Valid through",
        says="the last day of the examination",
        sort="day",
        mm=20,
    ),
)


def part(ground: Ground, upkeep: Upkeep) -> Part:
    """Return every machine of the areas, a table for each area."""
    statutory = [c for f in ground.files.values() for c in f.facts.checks if c.statutory]
    states = {f.facts.id: state(ground, f, upkeep.daily) for f in ground.files.values()}
    return Part(
        number=3,
        key="machines",
        title="Register of machines",
        lead="What stood on the register, what kept everybody from using it, and until when its "
        "statutory examinations were valid. Machines retired in the period are listed as such. "
        "That a check of each day of use was missed is counted in part 9 and not here.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Free to be used by cleared people",
                        numerator=sum(not words for words in states.values()),
                        denominator=len(ground.files),
                        counted="machines",
                    ),
                    Figure(
                        what="Statutory examinations in date",
                        numerator=sum(in_date(check, ground) for check in statutory),
                        denominator=len(statutory),
                        counted="relied on, at each machine",
                    ),
                )
            ),
            *(_table(ground, area_id, states) for area_id in ground.areas),
        ),
    )


def in_date(check: CheckFact, ground: Ground) -> bool:
    """Say whether a check was passed and in date at the moment."""
    return not check.failed and check.due_on is not None and check.due_on >= ground.today


def state(ground: Ground, file: MachineFile, daily: frozenset[int]) -> str:
    """Return what stood against everybody's use, in words; empty: nothing.

    ``daily`` are the checks of each day of use: in the night none of them is in date.
    """
    reasons = machine_part(file.facts, ground.at, ground.zone)
    words = (
        _words(reason)
        for reason in reasons
        if not (reason.code is Code.CHECK_NOT_DONE and reason.subject_id in daily)
    )
    return "; ".join(dict.fromkeys(words))


def _words(reason: Reason) -> str:
    about = reason.code in (Code.CHECK_FAILED, Code.CHECK_NOT_DONE, Code.EXAMINATION_OVERDUE)
    subject = f": {reason.subject}" if about and reason.subject else ""
    return f"{reason.code.value.replace('-', ' ')}{subject}"


def _table(ground: Ground, area_id: int, states: dict[int, str]) -> Table:
    area = ground.areas[area_id]
    return Table(
        name=f"machines-{area_id}",
        title=area.name,
        columns=COLUMNS,
        rows=tuple(_row(ground, f, states[f.facts.id]) for f in ground.in_area(area_id)),
        otherwise="No machine stood here.",
    )


def _row(ground: Ground, file: MachineFile, stood: str) -> tuple[Cell, ...]:
    row = ground.machine(file.facts.id)
    made = ", ".join(part for part in (row.maker, row.model) if part)
    what = "; ".join(
        part
        for part in (row.form.value, row.kind, made, row.serial and f"no. {row.serial}")
        if part
    )
    statutory = sorted(
        (c for c in file.facts.checks if c.statutory),
        key=lambda c: (c.due_on is not None, c.due_on or ground.today),
    )
    first = statutory[0] if statutory else None
    examination = "none relied on" if first is None else first.title
    if first is not None and first.due_on is None:
        examination += ": never done"
    elif first is not None and first.failed:
        examination += ": failed"
    return (
        file.facts.name,
        what,
        file.row.place,
        stood or "in use",
        examination,
        first.due_on if first is not None else None,
    )
