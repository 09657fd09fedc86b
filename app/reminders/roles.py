"""Who looks after what: the technicians and approvers whom something is the business of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.db import stands
from app.people.models import RoleGrant
from app.people.rights import Role
from app.reminders.known import Somebody
from app.reminders.stages import Told
from app.training.models import Suspension

NOBODY: frozenset[int] = frozenset()


@dataclass(frozen=True, kw_only=True, slots=True)
class Roles:
    """Who looks after which area, and who approves there. An area None: everywhere."""

    technicians: Mapping[int | None, frozenset[int]]
    approvers: Mapping[int | None, frozenset[int]]

    @property
    def everybody(self) -> frozenset[int]:
        return NOBODY.union(*self.technicians.values(), *self.approvers.values())

    def told(self, owners: Collection[int], areas: Collection[int]) -> Told:
        """Return whose business something in these areas is."""
        return Told(
            owners=frozenset(owners),
            technicians=_of(self.technicians, areas),
            approvers=_of(self.approvers, areas),
        )


def _of(holders: Mapping[int | None, frozenset[int]], areas: Collection[int]) -> frozenset[int]:
    return NOBODY.union(*(holders.get(area, NOBODY) for area in (None, *areas)))


def roles(session: Session, people: Mapping[int, Somebody], *, at: datetime, today: date) -> Roles:
    """Return who holds a role that counts: of those who belong here and are not suspended."""
    barred = set(
        session.execute(
            select(Suspension.person_id).where(
                stands(Suspension, at),
                Suspension.area_id.is_(None),
                Suspension.machine_id.is_(None),
            )
        ).scalars()
    )
    found: dict[Role, dict[int | None, set[int]]] = {
        Role.TECHNICIAN: defaultdict(set),
        Role.APPROVER: defaultdict(set),
    }
    for role, person_id, area_id, ends_on in session.execute(
        select(RoleGrant.role, RoleGrant.person_id, RoleGrant.area_id, RoleGrant.ends_on).where(
            RoleGrant.role.in_(found), RoleGrant.recorded_at <= at, stands(RoleGrant)
        )
    ):
        counts = ends_on is None or ends_on >= today
        if counts and person_id in people and person_id not in barred:
            found[role][area_id].add(person_id)
    technicians, approvers = (
        {area: frozenset(those) for area, those in found[role].items()}
        for role in (Role.TECHNICIAN, Role.APPROVER)
    )
    return Roles(technicians=technicians, approvers=approvers)


def with_a_role(session: Session, *, at: datetime) -> set[int]:
    """Return who was given a role that may make something theirs."""
    return set(
        session.execute(
            select(RoleGrant.person_id).where(
                RoleGrant.role.in_((Role.TECHNICIAN, Role.APPROVER)),
                RoleGrant.recorded_at <= at,
                stands(RoleGrant),
            )
        ).scalars()
    )
