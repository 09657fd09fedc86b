"""Protective equipment issued or fitted to a person, and taken back."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import Forbidden, Refused
from app.people.identity import Actor
from app.people.rights import Act
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionConditions
from app.training.models import EquipmentIssue


def issued_to(session: Session, person_id: int) -> list[EquipmentIssue]:
    """Return what this person has, oldest first; what has run out too."""
    return list(
        session.execute(
            select(EquipmentIssue)
            .where(EquipmentIssue.person_id == person_id, stands(EquipmentIssue))
            .order_by(EquipmentIssue.id)
        ).scalars()
    )


def asked_for(session: Session, at: datetime) -> list[str]:
    """Return what assessments in force ask for, in their own words."""
    rows = session.execute(
        select(RevisionConditions.equipment)
        .join(Revision, Revision.id == RevisionConditions.revision_id)
        .where(in_force(at))
    ).scalars()
    return sorted({title for titles in rows for title in titles})


def issue(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    equipment: str,
    expires_on: date | None,
    self_allowed: bool,
    today: date,
    now: datetime,
) -> EquipmentIssue:
    """Record that equipment was issued or fitted, valid through a day or for good.

    Nobody fits themself, unless one person is all that the site has.
    """
    if not actor.may(Act.ISSUE_EQUIPMENT):
        raise Forbidden("You may not issue protective equipment.")
    if actor.id == person_id and not self_allowed:
        raise Forbidden("Nobody issues equipment to themself.")
    equipment = " ".join(equipment.split())
    if not equipment or len(equipment) > 200:
        raise Refused(
            "Say in at most 200 characters what was issued.", code="equipment", status=422
        )
    if expires_on is not None and expires_on < today:
        raise Refused("That day has passed.", code="past", status=422)
    if any(
        (row.equipment.casefold(), row.expires_on) == (equipment.casefold(), expires_on)
        for row in issued_to(session, person_id)
    ):
        raise Refused("They have that already.", code="issued")
    row = EquipmentIssue(
        person_id=person_id,
        equipment=equipment,
        expires_on=expires_on,
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    return _kept(session, row, "training:equipment:issue")


def take_back(
    session: Session, row: EquipmentIssue, *, actor: Actor, now: datetime
) -> EquipmentIssue:
    """Record that equipment came back, or that its fit no longer holds."""
    if not actor.may(Act.ISSUE_EQUIPMENT):
        raise Forbidden("You may not take protective equipment back.")
    if row.id not in {each.id for each in issued_to(session, row.person_id)}:
        raise Refused("That was taken back already.", code="ended")
    ending = EquipmentIssue(
        person_id=row.person_id,
        equipment=row.equipment,
        ends_id=row.id,
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    return _kept(session, ending, "training:equipment:take_back")


def _kept(session: Session, row: EquipmentIssue, action: str) -> EquipmentIssue:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"equipment_issue:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={"person": row.person_id},
    )
    return row
