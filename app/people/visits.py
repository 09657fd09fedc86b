"""People who are here for a day under a host: put down, shown, and ended before the night."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.people.identity import identities
from app.people.models import Person, Visit, VisitKind
from app.people.register import person_or_404, put_down

MOST = 500  # visits on one page


@dataclass(frozen=True, kw_only=True)
class Guest:
    """A visit with the names on it."""

    row: Visit
    name: str
    host: str
    ended: bool  # before its night


def receive(
    session: Session,
    *,
    name: str,
    person_id: int | None = None,
    kind: VisitKind,
    host_id: int,
    adult_on: date | None,
    actor_id: int,
    today: date,
    now: datetime,
) -> Visit:
    """Put a guest of today on the register, or somebody again who was here before.

    There is no membership: a guest is here by the visit alone, under supervision, and no role
    counts. It is over with the day.
    """
    if person_id == host_id:
        raise Refused("Nobody is their own guest.", code="own-guest", status=422)
    _insist_on_host(session, host_id, today)
    if person_id is None:
        _insist_on_new(session, name, host_id, today)
        person = put_down(session, name=name, adult_on=adult_on, actor_id=actor_id, now=now)
    else:
        person = _known(session, person_id, today)
        person.adult_on = person.adult_on or adult_on
    row = Visit(
        person_id=person.id,
        host_id=host_id,
        kind=kind,
        day=today,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    _log(session, "people:visit:receive", row, actor_id, now)
    return row


def _insist_on_host(session: Session, host_id: int, today: date) -> None:
    host = identities(session, [host_id], today).get(host_id)
    if host is None or not host.belongs_on(today) or host.suspended:
        raise Refused(
            "A host is somebody who belongs here today and is not suspended.",
            code="host",
            status=422,
        )


def _insist_on_new(session: Session, name: str, host_id: int, today: date) -> None:
    """A form that is sent twice is one guest."""
    same = " ".join(name.split()).casefold()
    for each in visits_on(session, today):
        if each.row.host_id == host_id and not each.ended and each.name.casefold() == same:
            raise Refused(
                f"{each.name} is on the list for today, under the same host. For somebody else of "
                "that name add what tells them apart.",
                code="received",
            )


def _known(session: Session, person_id: int, today: date) -> Person:
    person = person_or_404(session, person_id)
    if identities(session, [person_id], today)[person_id].belongs_on(today):
        raise Refused(
            f"{person.name} belongs here today, and needs no host.", code="member", status=422
        )
    if any(not each.ended and each.row.day == today for each in visits_of(session, person_id)):
        raise Refused(f"{person.name} is on the list for today.", code="received", status=422)
    return person


def end(session: Session, visit: Visit, *, actor_id: int, today: date, now: datetime) -> None:
    """End a visit of today early."""
    if visit.day != today or visit.ends_id is not None or not _stands(session, visit.id):
        raise Refused("That visit is over already.", code="over")
    row = Visit(
        person_id=visit.person_id,
        host_id=visit.host_id,
        kind=visit.kind,
        day=visit.day,
        ends_id=visit.id,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    _log(session, "people:visit:end", row, actor_id, now)


def visit_or_404(session: Session, visit_id: int) -> Visit:
    visit = session.get(Visit, visit_id)
    if visit is None or visit.ends_id is not None:
        raise NotFound("There is no such visit.")
    return visit


def visits_on(session: Session, day: date) -> list[Guest]:
    """Return the visits of a day, the latest first; those that were ended early too."""
    return _guests(session, Visit.day == day)


def visits_of(session: Session, person_id: int) -> list[Guest]:
    """Return somebody's visits, the latest first."""
    return _guests(session, Visit.person_id == person_id)


def guest(session: Session, visit_id: int) -> Guest:
    """Return one visit with the names on it."""
    visit_or_404(session, visit_id)
    return _guests(session, Visit.id == visit_id)[0]


def _guests(session: Session, those: ColumnElement[bool]) -> list[Guest]:
    host, ending = aliased(Person), aliased(Visit)
    rows = session.execute(
        select(Visit, Person.name, host.name.label("host"), ending.id.label("ended"))
        .join(Person, Person.id == Visit.person_id)
        .join(host, host.id == Visit.host_id)
        .outerjoin(ending, ending.ends_id == Visit.id)
        .where(those, Visit.ends_id.is_(None))
        .order_by(Visit.id.desc())
        .limit(MOST)
    )
    return [
        Guest(row=row.Visit, name=row.name, host=row.host, ended=row.ended is not None)
        for row in rows
    ]


def _stands(session: Session, visit_id: int) -> bool:
    statement = select(Visit.id).where(Visit.id == visit_id, stands(Visit))
    return session.execute(statement).first() is not None


def _log(session: Session, action: str, row: Visit, actor_id: int, now: datetime) -> None:
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"visit:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": row.person_id, "host": row.host_id, "kind": row.kind.value},
    )
