"""A link by which somebody chooses their own password: once, and within a day.

Nothing is stored of it. It is signed, and it names the password that it replaces, so that it
is worth nothing once another has been chosen.
"""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

from itsdangerous import BadSignature, URLSafeSerializer
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.people.models import Person
from app.people.signin import sign_out_everywhere

GOOD_FOR = timedelta(hours=24)


def link_token(person: Person, *, secret: str, now: datetime) -> str:
    """Return what the link ends in. Somebody without e-mail and card could never sign in."""
    if person.email is None and person.card is None:
        raise Refused(
            "Give them an e-mail or a card first: that is what people sign in with.",
            code="no-login",
            status=422,
        )
    return _serializer(secret).dumps([person.id, int(now.timestamp()), _replaces(person)])


def person_of_link(session: Session, token: str, *, secret: str, now: datetime) -> Person:
    """Return whose link it is; refuse one that was used, has run out, or was never given."""
    try:
        person_id, made_at, replaces = _serializer(secret).loads(token)
        age = now.timestamp() - made_at
    except (BadSignature, ValueError, TypeError):
        raise NotFound("That link is not one of ours. Ask for a new one.") from None
    person = session.get(Person, person_id)
    used = person is None or person.erased_at is not None or _replaces(person) != replaces
    if person is None or used or not 0 <= age <= GOOD_FOR.total_seconds():
        raise NotFound("That link was used or has run out. Ask for a new one.")
    return person


def choose(session: Session, person: Person, kept_hash: str, *, now: datetime) -> None:
    """Keep the hash of a password that somebody chose, and end whatever was signed in before."""
    person.password_hash = kept_hash
    sign_out_everywhere(session, person_id=person.id, actor_id=person.id, now=now)
    log.record(
        session,
        action="people:password:choose",
        subject=f"person:{person.id}",
        actor_id=person.id,
        now=now,
    )


def _serializer(secret: str) -> URLSafeSerializer:
    return URLSafeSerializer(secret, salt="first-password")


def _replaces(person: Person) -> str:
    return hashlib.sha256((person.password_hash or "").encode()).hexdigest()[:16]
