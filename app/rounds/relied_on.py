"""Which checks are relied on where: by the machines of an area, or of all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.clearance.facts import machine_files
from app.hazards.status import LAST, Status, Unit, checks_by_id, statuses, unit
from app.machines.models import Machine


@dataclass(frozen=True, kw_only=True, slots=True)
class ReliedOn:
    """One check of one unit, and the machines that stop with it, by name."""

    status: Status
    machines: tuple[Machine, ...]

    @property
    def machine(self) -> Machine:
        """Return where it is recorded: of a shared control, at the first that relies on it."""
        return self.machines[0]

    @property
    def key(self) -> str:
        """Return the name of its fields in a form."""
        return f"{self.status.check.id}-{self.status.machine_id or 0}"


def machines_in(session: Session, area_id: int | None, *, today: date) -> list[Machine]:
    """Return the machines that are still in use, by name; of one area or of all."""
    statement = select(Machine).where(or_(Machine.retired_on.is_(None), Machine.retired_on > today))
    if area_id is not None:
        statement = statement.where(Machine.area_id == area_id)
    return list(session.execute(statement.order_by(Machine.name)).scalars())


def relied_on(
    session: Session,
    machines: Iterable[Machine],
    *,
    at: datetime,
    zone: ZoneInfo,
    most: int = LAST,
) -> dict[Unit, ReliedOn]:
    """Return every check that these machines rely on by what is in force, each unit once."""
    by_id = {machine.id: machine for machine in machines}
    if not by_id:
        return {}
    files = machine_files(session, list(by_id), at=at)
    checks = checks_by_id(
        session, (check.id for file in files.values() for check in file.facts.checks)
    )
    relying: dict[Unit, list[Machine]] = defaultdict(list)
    for machine_id, machine in by_id.items():
        for check_id in sorted({check.id for check in files[machine_id].facts.checks}):
            relying[unit(checks[check_id], machine_id)].append(machine)
    found = statuses(session, relying, at=at, zone=zone, most=most)
    return {
        each: ReliedOn(status=found[each], machines=tuple(those)) for each, those in relying.items()
    }
