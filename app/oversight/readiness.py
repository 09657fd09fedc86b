"""Drills that were held, and certificates of first aiders and fire wardens."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.oversight.models import AidCertificate, AidDuty, Drill, DrillKind
from app.people.models import Person


@dataclass(frozen=True, kw_only=True)
class Held:
    """What is to be written down of a drill."""

    kind: DrillKind
    area_id: int | None
    held_on: date
    people: int | None
    minutes: int | None
    learnt: str


@dataclass(frozen=True, kw_only=True)
class Certified:
    """What a certificate says."""

    person_id: int
    duty: AidDuty
    certificate: str
    issued_by: str
    issued_on: date
    expires_on: date | None


# --- drills --------------------------------------------------------------------------------


def record_drill(
    session: Session, held: Held, *, actor_id: int, now: datetime, today: date
) -> Drill:
    """Write down a drill that was held."""
    if held.held_on > today:
        raise Refused("A drill cannot have been held in the future.", code="future", status=422)
    if any(count is not None and count > 9999 for count in (held.people, held.minutes)):
        raise Refused("That is more than anybody counts here.", code="count", status=422)
    row = _drill(held, actor_id=actor_id, now=now)
    session.add(row)
    _log(session, "drill:record", row, actor_id, now)
    return row


def strike_drill(session: Session, drill: Drill, *, why: str, actor_id: int, now: datetime) -> None:
    """Strike out a drill that was written down wrongly. It stays on record, with why."""
    if not why.strip():
        raise Refused("Say what was wrong with it.", code="why-missing", status=422)
    if not _standing(session, Drill, drill.id):
        raise Refused("It was struck out already.", code="struck")
    row = _drill(
        Held(
            kind=drill.kind,
            area_id=drill.area_id,
            held_on=drill.held_on,
            people=drill.people,
            minutes=drill.minutes,
            learnt=why.strip(),
        ),
        actor_id=actor_id,
        now=now,
    )
    row.ends_id = drill.id
    session.add(row)
    _log(session, "drill:strike", drill, actor_id, now)


def drills(
    session: Session, *, at: datetime | None = None, known: datetime | None = None
) -> list[Drill]:
    """Return the drills that stand, the newest first."""
    return list(
        session.execute(
            select(Drill)
            .where(stands(Drill, at, known))
            .order_by(Drill.held_on.desc(), Drill.id.desc())
        ).scalars()
    )


def drill_or_404(session: Session, drill_id: int) -> Drill:
    """Return a drill by its number."""
    row = session.get(Drill, drill_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such drill.")
    return row


def _drill(held: Held, *, actor_id: int, now: datetime) -> Drill:
    return Drill(
        kind=held.kind,
        area_id=held.area_id,
        held_on=held.held_on,
        people=held.people,
        minutes=held.minutes,
        learnt=held.learnt.strip(),
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )


# --- certificates --------------------------------------------------------------------------


def record_certificate(
    session: Session, certified: Certified, *, actor_id: int, now: datetime, today: date
) -> AidCertificate:
    """Write down a certificate of a first aider or a fire warden."""
    if not certified.certificate.strip() or not certified.issued_by.strip():
        raise Refused("Name the certificate and who issued it.", code="certificate", status=422)
    if certified.issued_on > today:
        raise Refused("It cannot have been issued in the future.", code="future", status=422)
    if certified.expires_on is not None and certified.expires_on < certified.issued_on:
        raise Refused("It cannot run out before it was issued.", code="order", status=422)
    row = _certificate(certified, actor_id=actor_id, now=now)
    session.add(row)
    _log(session, "certificate:record", row, actor_id, now)
    return row


def end_certificate(session: Session, row: AidCertificate, *, actor_id: int, now: datetime) -> None:
    """End a certificate: the person no longer does it here, or it was written down wrongly."""
    if not _standing(session, AidCertificate, row.id):
        raise Refused("It has ended already.", code="ended")
    ending = _certificate(
        Certified(
            person_id=row.person_id,
            duty=row.duty,
            certificate=row.certificate,
            issued_by=row.issued_by,
            issued_on=row.issued_on,
            expires_on=row.expires_on,
        ),
        actor_id=actor_id,
        now=now,
    )
    ending.ends_id = row.id
    session.add(ending)
    _log(session, "certificate:end", row, actor_id, now)


def certificates(
    session: Session, *, at: datetime | None = None, known: datetime | None = None
) -> list[tuple[AidCertificate, str]]:
    """Return the certificates that stand with the names of their holders, by duty and name."""
    rows = session.execute(
        select(AidCertificate, Person.name)
        .join(Person, Person.id == AidCertificate.person_id)
        .where(stands(AidCertificate, at, known))
        .order_by(AidCertificate.duty, Person.name, AidCertificate.issued_on.desc())
    )
    return [(row, name) for row, name in rows]


def certificate_or_404(session: Session, certificate_id: int) -> AidCertificate:
    """Return a certificate by its number."""
    row = session.get(AidCertificate, certificate_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such certificate.")
    return row


def _certificate(certified: Certified, *, actor_id: int, now: datetime) -> AidCertificate:
    return AidCertificate(
        person_id=certified.person_id,
        duty=certified.duty,
        certificate=certified.certificate.strip(),
        issued_by=certified.issued_by.strip(),
        issued_on=certified.issued_on,
        expires_on=certified.expires_on,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )


def _standing(session: Session, model: type[Drill | AidCertificate], row_id: int) -> bool:
    found = session.execute(select(model.id).where(model.id == row_id, stands(model)))
    return found.first() is not None


def _log(
    session: Session, verb: str, row: Drill | AidCertificate, actor_id: int, now: datetime
) -> None:
    session.flush()  # the entry names its number
    log.record(
        session,
        action=f"oversight:{verb}",
        subject=f"{row.__tablename__}:{row.id}",
        actor_id=actor_id,
        now=now,
    )
