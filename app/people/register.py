"""Put people on the register, change what it says of them, and find them again."""

from __future__ import annotations

import unicodedata
from datetime import date, datetime

from sqlalchemy import ColumnElement, or_, select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.people.models import Membership, Person, RoleGrant
from app.people.passwords import hash_password
from app.people.rights import Role

MOST_FOUND = 20
LONGEST_NAME, LONGEST_EMAIL, LONGEST_CARD = 200, 254, 64
ADULT = 18
_OLDEST = 120  # years; a date before that was mistyped
# They turn the text after them around: a name with one makes the whole line read otherwise.
_TURNS_TEXT = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


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
    adult_on: date | None = None,
) -> Person:
    """Add a person with the time they belong here."""
    _insist_on_order(starts_on, ends_on)
    person = put_down(
        session, name=name, email=email, card=card, adult_on=adult_on, actor_id=actor_id, now=now
    )
    person.password_hash = hash_password(password) if password else None
    session.add(
        Membership(
            person_id=person.id,
            starts_on=starts_on,
            ends_on=ends_on,
            recorded_by_id=actor_id,
            recorded_at=now,
        )
    )
    session.flush()
    return person


def put_down(
    session: Session,
    *,
    name: str,
    email: str | None = None,
    card: str | None = None,
    adult_on: date | None = None,
    actor_id: int | None,
    now: datetime,
) -> Person:
    """Write somebody down who belongs here by no membership yet: a guest, or a member to be."""
    person = Person(
        name=_named(name),
        email=_email(session, email, of=None),
        card=_card(session, card, of=None),
        adult_on=adult_on,
        registered_at=now,
    )
    session.add(person)
    _log(session, "people:person:add", person, actor_id, now)
    return person


def describe_person(
    session: Session,
    person: Person,
    *,
    name: str,
    email: str | None,
    card: str | None,
    actor_id: int,
    now: datetime,
) -> list[str]:
    """Change how somebody is called and found; return what changed. The log names the fields."""
    told = {
        "name": _named(name),
        "email": _email(session, email, of=person),
        "card": _card(session, card, of=person),
    }
    changed = [field for field, value in told.items() if getattr(person, field) != value]
    for field in changed:
        setattr(person, field, told[field])
    if changed:
        _log(session, "people:person:describe", person, actor_id, now, fields=changed)
    return changed


def set_age(
    session: Session, person: Person, adult_on: date | None, *, actor_id: int, now: datetime
) -> None:
    """Keep the day on which somebody turns 18, or one by which they had; None: not on record."""
    person.adult_on = adult_on
    _log(session, "people:person:age", person, actor_id, now, known=adult_on is not None)


def adult_day(born_on: date, today: date) -> date:
    """Return the day somebody turns 18. The birthday itself is not kept.

    Who was born on a 29 February is 18 on a 1 March: rather a day too late.

    >>> adult_day(date(2008, 2, 29), date(2026, 1, 1))
    datetime.date(2026, 3, 1)
    """
    if not 0 <= today.year - born_on.year <= _OLDEST or born_on > today:
        raise Refused("Nobody here was born on that day.", code="birthday", status=422)
    try:
        return born_on.replace(year=born_on.year + ADULT)
    except ValueError:
        return date(born_on.year + ADULT, 3, 1)


def belongs(
    session: Session,
    person: Person,
    *,
    starts_on: date,
    ends_on: date | None,
    actor_id: int,
    now: datetime,
) -> Membership:
    """Say anew from when until when somebody belongs here. Nobody says it of themselves."""
    if person.id == actor_id:
        raise Refused("Another administrator changes your own time here.", code="own", status=403)
    _insist_on_order(starts_on, ends_on)
    row = Membership(
        person_id=person.id,
        starts_on=starts_on,
        ends_on=ends_on,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(row)
    _log(
        session,
        "people:membership:set",
        person,
        actor_id,
        now,
        starts_on=starts_on.isoformat(),
        ends_on=ends_on.isoformat() if ends_on else None,
    )
    return row


def membership_of(session: Session, person_id: int) -> Membership | None:
    """Return the membership that counts: the latest row."""
    return session.execute(
        select(Membership)
        .where(Membership.person_id == person_id)
        .order_by(Membership.id.desc())
        .limit(1)
    ).scalar_one_or_none()


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
    """Give a role, in one area or everywhere. `roles.give` asks first whether it may be given."""
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
                    Person.card == words.upper(),
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


def _named(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        raise Refused("A person needs a name.", code="name-missing", status=422)
    if len(name) > LONGEST_NAME:
        raise Refused(
            f"A name has at most {LONGEST_NAME} characters.", code="name-long", status=422
        )
    if any(sign in _TURNS_TEXT or unicodedata.category(sign) == "Cc" for sign in name):
        raise Refused("That name holds a sign that cannot be read.", code="name-signs", status=422)
    return name


def _email(session: Session, email: str | None, *, of: Person | None) -> str | None:
    email = (email or "").strip().lower()
    if not email:
        return None
    before, _, behind = email.partition("@")
    odd = any(sign.isspace() or unicodedata.category(sign) == "Cc" for sign in email)
    if not before or not behind or "@" in behind or odd or len(email) > LONGEST_EMAIL:
        raise Refused("That is no e-mail address.", code="email", status=422)
    _insist_on_free(session, Person.email == email, of, email, "email-taken")
    return email


def _card(session: Session, card: str | None, *, of: Person | None) -> str | None:
    """A card is typed in capitals or not; it is no e-mail address, by which people sign in too."""
    card = (card or "").strip().upper()
    if not card:
        return None
    if len(card) > LONGEST_CARD or "@" in card or not card.isprintable():
        raise Refused("That is no card number.", code="card", status=422)
    _insist_on_free(session, Person.card == card, of, f"Card {card}", "card-taken")
    return card


def _insist_on_free(
    session: Session, same: ColumnElement[bool], of: Person | None, words: str, code: str
) -> None:
    taken = session.execute(select(Person.id).where(same)).scalar_one_or_none()
    if taken is not None and (of is None or taken != of.id):
        raise Refused(f"{words} belongs to somebody already.", code=code, status=422)


def _insist_on_order(starts_on: date, ends_on: date | None) -> None:
    if ends_on is not None and ends_on < starts_on:
        raise Refused("The last day comes after the first.", code="days", status=422)


def _log(
    session: Session,
    action: str,
    person: Person,
    actor_id: int | None,
    now: datetime,
    **detail: object,
) -> None:
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"person:{person.id}",
        actor_id=actor_id,
        now=now,
        detail=detail,
    )
