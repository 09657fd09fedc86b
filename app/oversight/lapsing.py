"""Certificates and fits that run out: of first aiders, of wardens, of what was fitted to people."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.db import stands
from app.oversight.models import AidCertificate
from app.training.models import EquipmentIssue


@dataclass(frozen=True, kw_only=True, slots=True)
class Lapsing:
    """What somebody holds through a day, as the last that they have of its kind."""

    subject: str  # "aid_certificate:3" or "equipment_issue:8"
    person_id: int
    duty: str  # first aider, fire warden; empty: equipment
    title: str  # the certificate, or what was issued or fitted
    through: date
    recorded_by_id: int


def lapsing(session: Session, *, at: datetime, through: date | None = None) -> list[Lapsing]:
    """Return what runs out by a day, or ever, the nearest first. Two statements.

    Of several for one duty, or of one kind of equipment, the one that holds longest counts:
    what was renewed runs out in peace, and what holds for good never does.
    """
    kept: dict[tuple[int, str, str], Lapsing] = {}
    for_good = set()
    for key, found in _held(session, at):
        if found is None:
            for_good.add(key)
        elif key not in kept or found.through > kept[key].through:
            kept[key] = found
    return sorted(
        (
            each
            for key, each in kept.items()
            if key not in for_good and (through is None or each.through <= through)
        ),
        key=lambda each: (each.through, each.title, each.person_id),
    )


def _held(session: Session, at: datetime) -> Iterator[tuple[tuple[int, str, str], Lapsing | None]]:
    """Give all that stands, by person and kind; None where it holds for good."""
    certificates = select(AidCertificate).where(stands(AidCertificate, at))
    for aid in session.execute(certificates).scalars():
        key = (aid.person_id, aid.duty.value, "")
        yield key, _of(aid, aid.duty.value, aid.certificate)
    issued = select(EquipmentIssue).where(stands(EquipmentIssue, at))
    for fit in session.execute(issued).scalars():
        yield (fit.person_id, "", fit.equipment.casefold()), _of(fit, "", fit.equipment)


def _of(row: AidCertificate | EquipmentIssue, duty: str, title: str) -> Lapsing | None:
    if row.expires_on is None:
        return None
    return Lapsing(
        subject=f"{row.__tablename__}:{row.id}",
        person_id=row.person_id,
        duty=duty,
        title=title,
        through=row.expires_on,
        recorded_by_id=row.recorded_by_id,
    )
