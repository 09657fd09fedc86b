"""What the label of a machine says, read from the revision in force."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from app.errors import NotFound, Refused
from app.machines.models import Area, Machine
from app.machines.tags import tag_of
from app.risk_assessments.in_force import revisions_for
from app.risk_assessments.run_mode import RunMode
from app.settings import Settings
from assessments.document.frozen import thaw
from assessments.document.label import MachineLabel


def label_of(
    session: Session, machine_id: int, settings: Settings, *, at: datetime
) -> MachineLabel:
    """Return the label. Without an assessment in force it still carries the code to scan."""
    machine = session.get(Machine, machine_id)
    if machine is None:
        raise NotFound("There is no such machine.")
    code = tag_of(session, machine_id)
    if code is None:
        raise Refused(f"{machine.name} has no live tag. Issue one first.", code="no-tag")
    area = session.get_one(Area, machine.area_id)
    contents = [thaw(revision.content) for revision in revisions_for(session, [machine_id], at=at)]
    return MachineLabel(
        name=machine.name,
        area=area.name,
        place=machine.place,
        kind=machine.kind,
        run_mode=_strictest([content.run_mode for content in contents]),
        signs=tuple(dict.fromkeys(number for c in contents for number in c.signs)),
        never=tuple(dict.fromkeys(n.material for c in contents for n in c.never)),
        inductions=tuple(dict.fromkeys(i.title for c in contents for i in c.inductions)),
        url=f"{settings.public_url}/m/{code}",
        code=code,
    )


def _strictest(modes: list[str]) -> str:
    """Return the run mode that holds where several assessments cover the machine."""
    if not modes:
        return "not assessed, do not start"
    return min(modes, key=[mode.value for mode in RunMode].index)
