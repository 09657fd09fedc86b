"""Whose an action is: a person of the register, or a post or a firm outside in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.actions.models import Action
from app.db import stands
from app.errors import Refused
from app.people.identity import identities
from app.people.models import Person, RoleGrant


@dataclass(frozen=True, kw_only=True)
class Owner:
    """Who does it, as it is written down."""

    words: str
    person_id: int | None  # None: nobody of the register, or nobody who belongs here


def owner_named(session: Session, words: str, today: date) -> Owner:
    """Return whom a name means; of a person also their e-mail or card, in any case of letters.

    Raises:
        Refused: several people who belong here have that name.
    """
    words = " ".join(words.split())
    asked = select(Person.id).where(
        Person.erased_at.is_(None),
        or_(
            func.lower(Person.name) == words.lower(),
            Person.name == words,
            Person.email == words.lower(),
            Person.card == words.upper(),
        ),
    )
    known = identities(session, session.execute(asked).scalars().all(), today).values()
    here = [who for who in known if who.belongs_on(today)]
    if len(here) > 1:
        raise Refused(
            f"{len(here)} people here are called {words}: give the e-mail or the card of the one "
            "you mean.",
            code="owner",
            status=422,
        )
    if not here:
        return Owner(words=words, person_id=None)
    return Owner(words=here[0].name, person_id=here[0].id)


def names_to_choose(session: Session, today: date) -> list[str]:
    """Return to whom an action is usually given: who has a role here, by name."""
    having = select(RoleGrant.person_id).where(
        stands(RoleGrant), or_(RoleGrant.ends_on.is_(None), RoleGrant.ends_on >= today)
    )
    ids = session.execute(having.distinct()).scalars().all()
    known = identities(session, ids, today).values()
    return sorted({who.name for who in known if who.belongs_on(today)})


def whose_owner_left(session: Session, actions: Iterable[Action], today: date) -> set[int]:
    """Return the actions whose owner, a person of the register, does not belong here any more."""
    owned = {action.id: action.owner_id for action in actions if action.owner_id is not None}
    known = identities(session, set(owned.values()), today)
    return {
        action_id
        for action_id, person_id in owned.items()
        if person_id not in known or not known[person_id].belongs_on(today)
    }
