"""Every machine's answer to one person, from the very function of the single answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import Facts, Reason, Verdict, reasons_of, worst
from app.clearance.facts import machine_files, person_facts
from app.clearance.person_facts import asks_more
from app.clearance.wording import words
from app.machines.models import Area, Machine, Tag
from app.people.identity import Identity


@dataclass(frozen=True, kw_only=True)
class Line:
    """One machine in the overview."""

    id: int
    name: str
    form: str
    code: str | None
    carried_by_id: int | None
    verdict: Verdict
    reasons: tuple[Reason, ...]

    @property
    def why(self) -> str:
        return words(self.reasons[0]).sentence if self.reasons else ""


def overview(
    session: Session, person: Identity, *, now: datetime, zone: ZoneInfo
) -> list[tuple[str, list[Line]]]:
    """Return the machines by area, each with its answer to this person. Six statements."""
    rows = session.execute(
        select(
            Machine.id, Machine.name, Machine.form, Machine.carried_by_id, Area.name.label("area")
        )
        .join(Area, Area.id == Machine.area_id)
        .where(Machine.retired_on.is_(None))
        .order_by(Area.name, Machine.name)
    ).all()
    codes = dict(
        session.execute(
            select(Tag.machine_id, Tag.code).where(Tag.retired_at.is_(None)).order_by(Tag.id)
        ).all()
    )
    ids = [row.id for row in rows]
    files = machine_files(session, ids, at=now)
    facts = person_facts(
        session,
        {person.id: person},
        inductions={i for file in files.values() for i in file.facts.inductions},
        assessments={a.id for file in files.values() for a in file.facts.assessments},
        at=now,
        more=any(asks_more(file.facts) for file in files.values()),
    )[person.id]
    areas: dict[str, list[Line]] = {}
    for row in rows:
        reasons = reasons_of(Facts(machine=files[row.id].facts, person=facts, now=now, zone=zone))
        areas.setdefault(row.area, []).append(
            Line(
                id=row.id,
                name=row.name,
                form=row.form.value,
                code=codes.get(row.id),
                carried_by_id=row.carried_by_id,
                verdict=worst(reasons),
                reasons=reasons,
            )
        )
    return list(areas.items())
