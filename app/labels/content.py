"""What labels and room sheets say, from the revisions in force. A fixed number of statements."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.errors import NotFound, Refused
from app.machines.areas import area_or_404, terms_of_area
from app.machines.models import Area, Machine, OpeningHours
from app.machines.opening import WEEKDAYS, calendar_of
from app.machines.tags import address_of, tags_of
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionMachine
from app.risk_assessments.run_mode import RunMode
from app.settings import Settings
from app.site import Site
from assessments.document.content import RiskAssessment
from assessments.document.frozen import thaw
from assessments.document.label_content import MachineLabel
from assessments.document.room import RoomSheet


def labels_of(
    session: Session, machine_ids: Sequence[int], settings: Settings, *, at: datetime
) -> list[MachineLabel]:
    """Return the labels in the order asked. Without an assessment in force one still has its code.

    NotFound: an unknown machine. Refused: machines without a live tag, each named.
    """
    found = session.execute(
        select(Machine, Area.name)
        .join(Area, Area.id == Machine.area_id)
        .where(Machine.id.in_(machine_ids))
    )
    machines = {machine.id: (machine, area) for machine, area in found}
    if set(machine_ids) - machines.keys():
        raise NotFound("There is no such machine.")
    codes = tags_of(session, machine_ids)
    wanting = [machines[each][0].name for each in machine_ids if each not in codes]
    if wanting:
        raise Refused(f"No live tag: {', '.join(wanting)}. Issue one first.", code="no-tag")
    contents = _in_force(session, machine_ids, at)
    return [
        _label(*machines[each], codes[each], contents.get(each, []), settings)
        for each in machine_ids
    ]


def _in_force(
    session: Session, machine_ids: Sequence[int], at: datetime
) -> dict[int, list[RiskAssessment]]:
    """Return what is in force for each machine; one text is read once for all that it covers."""
    rows = session.execute(
        select(RevisionMachine.machine_id, Revision.id, Revision.content)
        .join(Revision, Revision.id == RevisionMachine.revision_id)
        .where(RevisionMachine.machine_id.in_(machine_ids), in_force(at))
        .order_by(Revision.id)
    )
    known: dict[int, RiskAssessment] = {}
    found: dict[int, list[RiskAssessment]] = defaultdict(list)
    for machine_id, revision_id, content in rows:
        if revision_id not in known:
            known[revision_id] = thaw(content)
        found[machine_id].append(known[revision_id])
    return found


def _label(
    machine: Machine, area: str, code: str, contents: list[RiskAssessment], settings: Settings
) -> MachineLabel:
    return MachineLabel(
        name=machine.name,
        area=area,
        place=machine.place,
        kind=machine.kind,
        run_mode=_strictest([content.run_mode for content in contents]),
        signs=tuple(dict.fromkeys(number for c in contents for number in c.signs)),
        never=tuple(dict.fromkeys(n.material for c in contents for n in c.never)),
        inductions=tuple(dict.fromkeys(i.title for c in contents for i in c.inductions)),
        url=address_of(settings.public_url, code),
        code=code,
    )


def _strictest(modes: list[str]) -> str:
    """Return the run mode that holds where several assessments cover the machine."""
    if not modes:
        return "not assessed, do not start"
    return min(modes, key=[mode.value for mode in RunMode].index)


def labelled_in(session: Session, area_id: int | None) -> list[Machine]:
    """Return the machines that have a live tag, of one area or all, by area and name."""
    asked = (
        select(Machine)
        .join(Area, Area.id == Machine.area_id)
        .where(Machine.retired_on.is_(None))
        .order_by(Area.name, Area.id, Machine.name, Machine.id)
    )
    if area_id is not None:
        asked = asked.where(Machine.area_id == area_id)
    machines = list(session.execute(asked).scalars())
    codes = tags_of(session, [machine.id for machine in machines])
    return [machine for machine in machines if machine.id in codes]


def room_of(
    session: Session, area_id: int, settings: Settings, site: Site, *, at: datetime
) -> RoomSheet:
    """Return what the sheet of an area says. NotFound: there is no such area."""
    area, terms = area_or_404(session, area_id), terms_of_area(session, area_id)
    ids = [machine.id for machine in labelled_in(session, area_id)]
    return RoomSheet(
        site=site.name,
        name=area.name,
        place=area.place,
        hours=_weekdays(calendar_of(session, area_id).hours),
        capacity=terms.capacity if terms else None,
        help=area.help,
        emergency=site.emergency,
        local_document=site.local_document,
        machines=tuple(labels_of(session, ids, settings, at=at)),
        printed_on=local_date(at, site.tz),
    )


def _weekdays(hours: list[OpeningHours]) -> tuple[tuple[str, str], ...]:
    """Return the hours of each weekday in words; days of equal hours that follow are one line."""
    days = [
        (weekday, "; ".join(map(_stretch, stretches)))
        for weekday, stretches in groupby(hours, key=lambda row: row.weekday)
    ]
    lines: list[tuple[int, int, str]] = []
    for weekday, words in days:
        if lines and lines[-1][1:] == (weekday - 1, words):
            lines[-1] = (lines[-1][0], weekday, words)
        else:
            lines.append((weekday, weekday, words))
    return tuple(
        (WEEKDAYS[first] if first == last else f"{WEEKDAYS[first]} to {WEEKDAYS[last]}", words)
        for first, last, words in lines
    )


def _stretch(hours: OpeningHours) -> str:
    season = "" if hours.during.value == "all year" else f", {hours.during.value}"
    return f"{hours.opens}–{hours.closes} {hours.staffing.value}{season}"
