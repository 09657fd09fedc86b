"""Who somebody is to this program: their name, when they belong here, and their roles."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import (
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

from app.db import AnyRow, AnySelect, prepared, stands
from app.people.models import Membership, Person, RoleGrant, SignIn
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


def _latest_membership() -> ScalarSelect[int]:
    of = aliased(Membership)
    return (
        select(func.max(of.id)).where(of.person_id == Person.id).correlate(Person).scalar_subquery()
    )


def _open_grants() -> ColumnElement[str]:
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
        .where(RoleGrant.person_id == Person.id, stands(RoleGrant))
        .correlate(Person)
        .scalar_subquery()
    )


def _suspended() -> ColumnElement[bool]:
    """Say whether the person is suspended everywhere: then no role of theirs counts either.

    The table belongs to `training`, which builds on this folder; it is named here alone.
    """
    row, ending = (
        table(
            "suspension",
            *(column(name) for name in ("id", "person_id", "area_id", "machine_id", "ends_id")),
        ).alias(name)
        for name in ("suspended_here", "lifted_here")
    )
    return (
        select(row.c.id)
        .where(
            row.c.person_id == Person.id,
            row.c.area_id.is_(None),
            row.c.machine_id.is_(None),
            row.c.ends_id.is_(None),
            ~select(ending.c.id).where(ending.c.ends_id == row.c.id).exists(),
        )
        .correlate(Person)
        .exists()
    )


_COLUMNS = (
    Person.id,
    Person.name,
    Person.erased_at,
    Membership.starts_on,
    Membership.ends_on,
    _open_grants().label("grants"),
    _suspended().label("suspended"),
)


def _with_membership(statement: AnySelect) -> AnySelect:
    return statement.outerjoin(Membership, Membership.id == _latest_membership())


def _identity(row: AnyRow, day: date) -> Identity:
    grants = set()
    for words in (row.grants or "").split(","):
        if words:
            role, area, ends_on = words.split(":")
            if not ends_on or date.fromisoformat(ends_on) >= day:
                grants.add((Role(role), int(area) if area else None))
    return Identity(
        id=row.id,
        name=row.name,
        starts_on=row.starts_on,
        ends_on=row.ends_on,
        erased=row.erased_at is not None,
        grants=frozenset(grants),
        suspended=row.suspended,
    )


def identities(session: Session, person_ids: list[int], day: date) -> dict[int, Identity]:
    """Return those people as of the register, by id. One statement."""
    rows = _BY_ID(session.connection(), {"people": person_ids})
    return {row.id: _identity(row, day) for row in rows}


_BY_ID = prepared(
    _with_membership(select(*_COLUMNS).select_from(Person)).where(
        Person.id.in_(bindparam("people", expanding=True))
    )
)


_BY_TOKEN = prepared(
    _with_membership(
        select(
            *_COLUMNS,
            SignIn.id.label("sign_in_id"),
            SignIn.confirmed_at,
            SignIn.expires_at,
            SignIn.revoked_at,
        )
        .select_from(SignIn)
        .join(Person, Person.id == SignIn.person_id)
        .where(SignIn.token_digest == bindparam("digest"))
    )
)


def actor_by_token(
    session: Session, *, token: str, digest: str, now: datetime, day: date
) -> Actor | None:
    """Return who holds this sign-in, or None if it is unknown, over or revoked. One statement."""
    row = _BY_TOKEN(session.connection(), {"digest": digest}).one_or_none()
    if row is None or row.revoked_at is not None or row.expires_at <= now:
        return None
    identity = _identity(row, day)
    return Actor(
        identity=identity,
        sign_in_id=row.sign_in_id,
        token=token,
        confirmed_at=row.confirmed_at,
        here=identity.belongs_on(day) and not identity.suspended,
    )
