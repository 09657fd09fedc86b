"""Sign in and out: tokens that can be revoked one by one, and guessing that is slowed."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.people.models import Person, SignIn, SignInAttempt
from app.people.passwords import matches

REMEMBERED = timedelta(days=60)
SHARED = timedelta(minutes=10)  # on a shared device at most, however busy it is
FRESH = timedelta(minutes=5)  # how long a given password vouches for a signature

WINDOW = timedelta(minutes=15)
MOST_FAILURES = 5  # for one name; a name is guessed slowly and its owner waits at most this long
MOST_FAILURES_FROM_ONE_ADDRESS = 50  # a workshop shares one address


def token_digest(token: str) -> str:
    """Return what is stored of a token: a copy of the database signs nobody in."""
    return hashlib.sha256(token.encode()).hexdigest()


def sign_in(
    session: Session,
    *,
    login: str,
    password: str,
    address: str,
    device: str,
    shared: bool,
    now: datetime,
) -> tuple[str, Person] | None:
    """Return a new token and its person, or None if name and password do not belong together.

    A failure is recorded and must be committed by the caller. Too many of them are refused.
    """
    login = login.strip().lower()
    throttle(session, login=login, address=address, now=now)
    person = session.execute(
        select(Person).where(
            or_(Person.email == login, Person.card == login.upper()), Person.erased_at.is_(None)
        )
    ).scalar_one_or_none()
    if not matches(person.password_hash if person else None, password) or person is None:
        for key in (f"name:{login}", f"address:{address}"):
            session.add(SignInAttempt(key_digest=token_digest(key), tried_at=now))
        return None
    token = secrets.token_urlsafe(32)
    row = SignIn(
        person_id=person.id,
        token_digest=token_digest(token),
        device=device[:200],
        started_at=now,
        confirmed_at=now,
        expires_at=now + (SHARED if shared else REMEMBERED),
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="people:sign_in:start",
        subject=f"sign_in:{row.id}",
        actor_id=person.id,
        now=now,
    )
    return token, person


def throttle(session: Session, *, login: str, address: str, now: datetime) -> None:
    """Refuse when too many tries have failed lately, for this name or from this address."""
    for key, most in (
        (f"name:{login}", MOST_FAILURES),
        (f"address:{address}", MOST_FAILURES_FROM_ONE_ADDRESS),
    ):
        failures = session.execute(
            select(func.count(SignInAttempt.id)).where(
                SignInAttempt.key_digest == token_digest(key),
                SignInAttempt.tried_at > now - WINDOW,
            )
        ).scalar_one()
        if failures >= most:
            raise Refused(
                "Too many tries. Wait a quarter of an hour, or ask a technician.",
                code="too-many-tries",
                status=429,
            )


def confirm(
    session: Session, *, sign_in_id: int, password: str, address: str, now: datetime
) -> bool:
    """Say whether the password is that of the person signed in, and remember that it was given."""
    row = session.get_one(SignIn, sign_in_id)
    person = session.get_one(Person, row.person_id)
    login = f"confirm:{person.id}"
    throttle(session, login=login, address=address, now=now)
    if not matches(person.password_hash, password):
        session.add(SignInAttempt(key_digest=token_digest(f"name:{login}"), tried_at=now))
        return False
    row.confirmed_at = now
    return True


def sign_out(session: Session, *, sign_in_id: int, actor_id: int, now: datetime) -> None:
    """End one sign-in."""
    row = session.get_one(SignIn, sign_in_id)
    if row.revoked_at is None:
        row.revoked_at = now
        log.record(
            session,
            action="people:sign_in:end",
            subject=f"sign_in:{row.id}",
            actor_id=actor_id,
            now=now,
        )


def sign_out_everywhere(session: Session, *, person_id: int, actor_id: int, now: datetime) -> None:
    """End every sign-in of a person: a lost phone, a changed password."""
    for row in session.execute(
        select(SignIn).where(SignIn.person_id == person_id, SignIn.revoked_at.is_(None))
    ).scalars():
        sign_out(session, sign_in_id=row.id, actor_id=actor_id, now=now)
