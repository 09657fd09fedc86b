"""Roles given and ended by an administrator, each a row that a later row can end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Integer, String, column, select, table
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import Forbidden, NotFound, Refused
from app.people.models import RoleGrant
from app.people.register import grant
from app.people.rights import Role

# The table belongs to `machines`, which builds on this folder; it is named here alone.
_AREA = table("area", column("id", Integer), column("name", String))
# These look after the whole site; a right that ended at a door would only seem to end there.
EVERYWHERE = frozenset({Role.ADMINISTRATOR, Role.AUDITOR})


@dataclass(frozen=True, kw_only=True)
class Held:
    """A role that somebody holds, with the name of its area; None: everywhere."""

    row: RoleGrant
    area: str | None
    over: bool  # its last day has passed


def areas(session: Session) -> dict[int, str]:
    """Return the areas by their names."""
    rows = session.execute(select(_AREA.c.id, _AREA.c.name).order_by(_AREA.c.name))
    return {row.id: row.name for row in rows}


def roles_of(session: Session, person_id: int, today: date) -> list[Held]:
    """Return the roles that nobody has ended, oldest first."""
    names = areas(session)
    rows = session.execute(
        select(RoleGrant)
        .where(RoleGrant.person_id == person_id, stands(RoleGrant))
        .order_by(RoleGrant.id)
    ).scalars()
    return [
        Held(
            row=row,
            area=None if row.area_id is None else names.get(row.area_id, ""),
            over=row.ends_on is not None and row.ends_on < today,
        )
        for row in rows
    ]


def give(
    session: Session,
    *,
    person_id: int,
    role: Role,
    area_id: int | None,
    ends_on: date | None,
    self_allowed: bool,
    actor_id: int,
    now: datetime,
    today: date,
) -> RoleGrant:
    """Give a role. Nobody gives one to themself, unless one person is all that the site has."""
    if person_id == actor_id and not self_allowed:
        raise Forbidden("Nobody gives themself a role. Another administrator does.")
    if area_id is not None and role in EVERYWHERE:
        raise Refused(f"An {role.value} is one everywhere.", code="everywhere", status=422)
    if area_id is not None and area_id not in areas(session):
        raise NotFound("There is no such area.")
    if ends_on is not None and ends_on < today:
        raise Refused("That day has passed.", code="past", status=422)
    if any(
        (each.row.role, each.row.area_id) == (role, area_id) and not each.over
        for each in roles_of(session, person_id, today)
    ):
        raise Refused("They hold that role already. End it first to change its end.", code="held")
    return grant(
        session,
        person_id=person_id,
        role=role,
        area_id=area_id,
        ends_on=ends_on,
        actor_id=actor_id,
        now=now,
    )


def end(session: Session, row: RoleGrant, *, actor_id: int, now: datetime) -> RoleGrant:
    """End a role. An administrator does not end their own: one of them always remains."""
    if row.role is Role.ADMINISTRATOR and row.person_id == actor_id:
        raise Forbidden("Another administrator ends your own role.")
    standing = session.execute(
        select(RoleGrant.id).where(RoleGrant.id == row.id, stands(RoleGrant))
    ).scalar_one_or_none()
    if standing is None:
        raise Refused("That role was ended already.", code="ended")
    ending = RoleGrant(
        person_id=row.person_id,
        role=row.role,
        area_id=row.area_id,
        ends_id=row.id,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    session.add(ending)
    session.flush()
    log.record(
        session,
        action="people:role:end",
        subject=f"person:{row.person_id}",
        actor_id=actor_id,
        now=now,
        detail={"role": row.role.value, "area": row.area_id},
    )
    return ending
