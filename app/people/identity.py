"""Who somebody is to this program: their name, when they belong here, and their roles."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    ScalarSelect,
    String,
    bindparam,
    cast,
    column,
    func,
    select,
    table,
)
from sqlalchemy.orm import Session, aliased

from app.db import AnyRow, AnySelect, Moment, UtcDateTime, by_then, prepared, stands
from app.people.models import Membership, Person, RoleGrant, SignIn, Visit
from app.people.rights import Act, Grant, Role, may


@dataclass(frozen=True, kw_only=True, slots=True)
class Identity:
    """A person as read from the register at one moment."""

    id: int
    name: str
    starts_on: date | None
    ends_on: date | None
    erased: bool
    grants: frozenset[Grant]  # whether they still belong here is asked apart
    suspended: bool = False  # everywhere
    adult_on: date | None = None
    visits: frozenset[date] = frozenset()  # days as somebody's guest; no role counts by them

    def belongs_on(self, day: date) -> bool:
        return (
            not self.erased
            and self.starts_on is not None
            and self.starts_on <= day
            and (self.ends_on is None or day <= self.ends_on)
        )

    @property
    def technician_of(self) -> frozenset[int | None]:
        return frozenset(area for role, area in self.grants if role is Role.TECHNICIAN)


@dataclass(frozen=True, kw_only=True, slots=True)
class Actor:
    """The person who is signed in. The shape that Flask-Login asks of a user."""

    identity: Identity
    sign_in_id: int
    token: str
    confirmed_at: datetime
    here: bool  # belongs here today and is not suspended: without it no role counts

    is_active = True
    is_authenticated = True
    is_anonymous = False

    def get_id(self) -> str:
        return self.token

    @property
    def id(self) -> int:
        return self.identity.id

    @property
    def name(self) -> str:
        return self.identity.name

    def may(self, act: Act, *, area_id: int | None = None) -> bool:
        return self.here and may(self.identity.grants, act, area_id=area_id)


AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
KNOWN: BindParameter[datetime] = bindparam("known", type_=UtcDateTime())


def _latest_membership(at: Moment | None, known: Moment | None) -> ScalarSelect[int]:
    of = aliased(Membership)
    return (
        select(func.max(of.id))
        .where(of.person_id == Person.id, *by_then(of, at, known))
        .correlate(Person)
        .scalar_subquery()
    )


def _open_grants(at: Moment | None, known: Moment | None) -> ColumnElement[str]:
    """Gather the roles into one column: a scan must not pay a statement for each small list."""
    return (
        select(
            func.aggregate_strings(
                cast(RoleGrant.role, String)
                + ":"
                + func.coalesce(cast(RoleGrant.area_id, String), "")
                + ":"
                + func.coalesce(cast(RoleGrant.ends_on, String), ""),
                ",",
            )
        )
        .where(RoleGrant.person_id == Person.id, stands(RoleGrant, at, known))
        .correlate(Person)
        .scalar_subquery()
    )


def _visits(at: Moment | None, known: Moment | None) -> ColumnElement[str]:
    """Gather the days on which somebody is a guest here."""
    return (
        select(func.aggregate_strings(cast(Visit.day, String), ","))
        .where(Visit.person_id == Person.id, stands(Visit, at, known))
        .correlate(Person)
        .scalar_subquery()
    )


def _suspended(at: Moment | None, known: Moment | None) -> ColumnElement[bool]:
    """Say whether the person is suspended everywhere: then no role of theirs counts either.

    The table belongs to `training`, which builds on this folder; it is named here alone.
    """
    row, ending = (
        table(
            "suspension",
            *(column(name) for name in ("id", "person_id", "area_id", "machine_id", "ends_id")),
            *(column(name, UtcDateTime()) for name in ("occurred_at", "recorded_at")),
        ).alias(name)
        for name in ("suspended_here", "lifted_here")
    )
    lifted = select(ending.c.id).where(ending.c.ends_id == row.c.id, *by_then(ending.c, at, known))
    return (
        select(row.c.id)
        .where(
            row.c.person_id == Person.id,
            row.c.area_id.is_(None),
            row.c.machine_id.is_(None),
            row.c.ends_id.is_(None),
            *by_then(row.c, at, known),
            ~lifted.exists(),
        )
        .correlate(Person)
        .exists()
    )


def _columns(at: Moment | None, known: Moment | None) -> tuple[Any, ...]:
    return (
        Person.id,
        Person.name,
        Person.adult_on,
        Person.erased_at,
        Membership.starts_on,
        Membership.ends_on,
        _open_grants(at, known).label("grants"),
        _suspended(at, known).label("suspended"),
        _visits(at, known).label("visits"),
    )


def _with_membership(
    statement: AnySelect, at: Moment | None = None, known: Moment | None = None
) -> AnySelect:
    return statement.outerjoin(Membership, Membership.id == _latest_membership(at, known))


def _identity(row: AnyRow, day: date, at: datetime | None = None) -> Identity:
    grants = set()
    for words in (row.grants or "").split(","):
        if words:
            role, area, ends_on = words.split(":")
            if not ends_on or date.fromisoformat(ends_on) >= day:
                grants.add((Role(role), int(area) if area else None))
    erased_at = row.erased_at
    return Identity(
        id=row.id,
        name=row.name,
        starts_on=row.starts_on,
        ends_on=row.ends_on,
        erased=erased_at is not None and (at is None or erased_at <= at),
        grants=frozenset(grants),
        suspended=row.suspended,
        adult_on=row.adult_on,
        visits=frozenset(map(date.fromisoformat, filter(None, (row.visits or "").split(",")))),
    )


def identities(
    session: Session,
    person_ids: Iterable[int],
    day: date,
    *,
    at: datetime | None = None,
    known: datetime | None = None,
) -> dict[int, Identity]:
    """Return those people as of the register, by id. One statement.

    With ``at`` as they stood at that moment, and with ``known`` as was on record by then. A
    name and a day of birth are read as they are now.
    """
    asked: dict[str, Any] = {"people": list(person_ids), "at": at, "known": known or at}
    statement = _by_id(at is not None, known is not None)
    return {row.id: _identity(row, day, at) for row in statement(session.connection(), asked)}


@cache
def _by_id(as_of: bool, as_known: bool) -> prepared:
    at, known = AT if as_of else None, KNOWN if as_known else None
    return prepared(
        _with_membership(select(*_columns(at, known)).select_from(Person), at, known).where(
            Person.id.in_(bindparam("people", expanding=True))
        )
    )


_BY_TOKEN = prepared(
    _with_membership(
        select(
            *_columns(AT, None),
            SignIn.id.label("sign_in_id"),
            SignIn.confirmed_at,
            SignIn.expires_at,
            SignIn.revoked_at,
        )
        .select_from(SignIn)
        .join(Person, Person.id == SignIn.person_id)
        .where(SignIn.token_digest == bindparam("digest")),
        AT,
    )
)


def actor_by_token(
    session: Session, *, token: str, digest: str, now: datetime, day: date
) -> Actor | None:
    """Return who holds this sign-in, or None if it is unknown, over or revoked. One statement."""
    row = _BY_TOKEN(session.connection(), {"digest": digest, "at": now}).one_or_none()
    if row is None or row.revoked_at is not None or row.expires_at <= now:
        return None
    identity = _identity(row, day, now)
    return Actor(
        identity=identity,
        sign_in_id=row.sign_in_id,
        token=token,
        confirmed_at=row.confirmed_at,
        here=identity.belongs_on(day) and not identity.suspended,
    )
