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


def verified(
    session: Session, *, login: str, password: str, address: str, now: datetime
) -> Person | None:
    """Return whom name and password belong to, or None. Too many tries are refused.

    It only reads: the hash takes long, and nobody else should wait for it to write.
    """
    login = login.strip().lower()
    throttle(session, login=login, address=address, now=now)
    person = session.execute(
        select(Person).where(
            or_(Person.email == login, Person.card == login.upper()), Person.erased_at.is_(None)
        )
    ).scalar_one_or_none()
    right = matches(person.password_hash if person else None, password)
    return person if right else None


def begin(
    session: Session,
    person: Person,
    *,
    login: str,
    address: str,
    device: str,
    shared: bool,
    now: datetime,
) -> str:
    """Start the sign-in of somebody who was `verified`, and return its new token.

    What was read without the lock is asked again: many guesses at once tell no more than the
    same guesses one by one, and a password that has just been changed lets nobody in.
    """
    throttle(session, login=login.strip().lower(), address=address, now=now)
    today = session.get_one(Person, person.id)
    if today.erased_at is not None or today.password_hash != person.password_hash:
        raise Refused("This account has just been changed. Sign in again.", code="changed")
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
    return token


def note_failure(session: Session, *, login: str, address: str, now: datetime) -> None:
    """Count a wrong password against the name and the address. Too many tries are refused."""
    login = login.strip().lower()
    throttle(session, login=login, address=address, now=now)
    session.add_all(
        SignInAttempt(key_digest=token_digest(key), tried_at=now)
        for key in (f"name:{login}", f"address:{address}")
    )


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


def is_password_of(
    session: Session, *, person_id: int, password: str, address: str, now: datetime
) -> bool:
    """Say whether this is the person's password. It only reads, as `verified` does."""
    throttle(session, login=signature_of(person_id), address=address, now=now)
    return matches(session.get_one(Person, person_id).password_hash, password)


def signature_of(person_id: int) -> str:
    """Return the name under which wrong passwords at a signature are counted."""
    return f"confirm:{person_id}"


def confirm(session: Session, *, sign_in_id: int, address: str, now: datetime) -> None:
    """Remember that the password of the person signed in was given."""
    row = session.get_one(SignIn, sign_in_id)
    throttle(session, login=signature_of(row.person_id), address=address, now=now)
    row.confirmed_at = now


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
