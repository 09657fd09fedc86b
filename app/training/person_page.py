"""What a person's page shows beside their inductions: each part as a list, in few statements."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, aliased

from app.actions.actions import open_actions
from app.actions.models import Action
from app.db import AnyRow
from app.machines.models import Area, Machine
from app.people.identity import Actor
from app.people.models import Person
from app.people.rights import Act
from app.people.visits import Guest, visits_of
from app.presence.models import Start
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionConditions
from app.training.equipment import asked_for, issued_to
from app.training.marks import open_marks
from app.training.models import EquipmentIssue, PersonMark, SignOff, TrainingRecord
from app.training.suspension import Stop, stops_of

MOST_STARTS, MOST_VISITS = 12, 6


@dataclass(frozen=True, kw_only=True)
class Places:
    """Areas and machines by name: where something holds, and what a form offers."""

    areas: dict[int, str]
    machines: dict[int, str]
    area_of: dict[int, int]  # of each machine

    def words(self, area_id: int | None, machine_id: int | None) -> str:
        """Say where something holds."""
        if machine_id is not None:
            return f"at {self.machines.get(machine_id, 'a machine')}"
        if area_id is not None:
            return f"in {self.areas.get(area_id, 'an area')}"
        return "everywhere"

    def where_may(self, me: Actor, act: Act) -> Places:
        """Return the places where somebody may do this: a form offers no others."""
        areas = {k: v for k, v in self.areas.items() if me.may(act, area_id=k)}
        return Places(
            areas=areas,
            machines={k: v for k, v in self.machines.items() if self.area_of[k] in areas},
            area_of=self.area_of,
        )


@dataclass(frozen=True, kw_only=True)
class File:
    """What stands about a person, as far as the one who looks may see it."""

    places: Places
    stops: list[Stop]
    marks: list[PersonMark]
    equipment: list[EquipmentIssue]
    equipment_asked: list[str]
    visits: list[Guest]
    guest_today: bool
    starts: list[AnyRow]
    actions: list[Action]  # open, and theirs
    shows_age: bool  # an assessment in force asks for it, and a technician looks


def places(session: Session) -> Places:
    """Return the areas and the machines that are not retired yet."""
    areas = session.execute(select(Area.id, Area.name).order_by(Area.name))
    machines = session.execute(
        select(Machine.id, Machine.name, Machine.area_id)
        .where(Machine.retired_on.is_(None))
        .order_by(Machine.name)
    ).all()
    return Places(
        areas={row.id: row.name for row in areas},
        machines={row.id: row.name for row in machines},
        area_of={row.id: row.area_id for row in machines},
    )


def file_of(session: Session, person: Person, me: Actor, *, today: date, now: datetime) -> File:
    """Return a person's file."""
    visits = visits_of(session, person.id)
    return File(
        places=places(session),
        stops=stops_of(session, person.id, me),
        marks=open_marks(session, person.id),
        equipment=issued_to(session, person.id),
        equipment_asked=asked_for(session, now),
        visits=visits[:MOST_VISITS],
        guest_today=any(each.row.day == today and not each.ended for each in visits),
        starts=_starts(session, person.id),
        actions=open_actions(session, owner_id=person.id),
        shows_age=me.may(Act.SUPERVISE) and _age_is_asked(session, now),
    )


def _starts(session: Session, person_id: int) -> list[AnyRow]:
    return list(
        session.execute(
            select(Start.occurred_at, Start.verdict, Start.reasons, Machine.id, Machine.name)
            .join(Machine, Machine.id == Start.machine_id)
            .where(Start.person_id == person_id)
            .order_by(Start.id.desc())
            .limit(MOST_STARTS)
        )
    )


def _age_is_asked(session: Session, now: datetime) -> bool:
    asked = (
        select(RevisionConditions.id)
        .join(Revision, Revision.id == RevisionConditions.revision_id)
        .where(
            in_force(now),
            or_(
                RevisionConditions.minimum_age.is_not(None),
                RevisionConditions.supervised_under.is_not(None),
            ),
        )
        .limit(1)
    )
    return session.execute(asked).first() is not None


@dataclass(frozen=True, kw_only=True)
class Paper:
    """What was written on paper first: seen by whom and when, typed in by whom and when."""

    saw: str
    seen_at: datetime
    typed: str
    typed_at: datetime


def papers_of(session: Session, person_id: int) -> dict[int, Paper]:
    """Return what was typed in from paper, by training record. One statement."""
    saw, typed = aliased(Person), aliased(Person)
    rows = session.execute(
        select(TrainingRecord.id, SignOff, saw.name.label("saw"), typed.name.label("typed"))
        .join(SignOff, SignOff.id == TrainingRecord.sign_off_id)
        .join(saw, saw.id == SignOff.technician_id)
        .join(typed, typed.id == TrainingRecord.recorded_by_id)
        .where(TrainingRecord.person_id == person_id, SignOff.on_paper)
    )
    return {
        row.id: Paper(
            saw=row.saw,
            seen_at=row.SignOff.occurred_at,
            typed=row.typed,
            typed_at=row.SignOff.recorded_at,
        )
        for row in rows
    }
