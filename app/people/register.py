"""Put people on the register, give them roles, and find them again."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.people.models import Membership, Person, RoleGrant
from app.people.passwords import hash_password
from app.people.rights import Role

MOST_FOUND = 20


def add_person(
    session: Session,
    *,
    name: str,
    email: str | None,
    card: str | None,
    starts_on: date,
    ends_on: date | None,
    password: str | None,
    actor_id: int | None,
    now: datetime,
) -> Person:
    """Add a person with the time they belong here."""
    name, email = name.strip(), (email or "").strip().lower() or None
    if not name:
        raise Refused("A person needs a name.", code="name-missing", status=422)
    taken = email and session.execute(select(Person.id).where(Person.email == email)).first()
    if taken:
        raise Refused(f"{email} belongs to somebody already.", code="email-taken", status=422)
    person = Person(
        name=name,
        email=email,
        card=card,
        password_hash=hash_password(password) if password else None,
        registered_at=now,
    )
    session.add(person)
    session.flush()
    session.add(
        Membership(
            person_id=person.id,
            starts_on=starts_on,
            ends_on=ends_on,
            recorded_by_id=actor_id,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="people:person:add",
        subject=f"person:{person.id}",
        actor_id=actor_id,
        now=now,
    )
    return person


def grant(
    session: Session,
    *,
    person_id: int,
    role: Role,
    area_id: int | None,
    actor_id: int | None,
    now: datetime,
    ends_on: date | None = None,
) -> RoleGrant:
    """Give a role, in one area or everywhere."""
    row = RoleGrant(
        person_id=person_id,
        role=role,
        area_id=area_id,
        ends_on=ends_on,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="people:role:grant",
        subject=f"person:{person_id}",
        actor_id=actor_id,
        now=now,
        detail={"role": role.value, "area": area_id},
    )
    return row


def find(session: Session, words: str) -> list[Person]:
    """Return people whose name holds the words, or whose card or e-mail is exactly that."""
    words = words.strip()
    if len(words) < 2:
        return []
    pattern = "%" + words.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_") + "%"
    return list(
        session.execute(
            select(Person)
            .where(
                Person.erased_at.is_(None),
                or_(
                    Person.name.ilike(pattern, escape="\\"),
                    Person.card == words,
                    Person.email == words.lower(),
                ),
            )
            .order_by(Person.name, Person.id)
            .limit(MOST_FOUND)
        ).scalars()
    )


def person_or_404(session: Session, person_id: int) -> Person:
    person = session.get(Person, person_id)
    if person is None or person.erased_at is not None:
        raise NotFound("There is nobody under that number.")
    return person
