"""Load the register as a list is compared with it: a fixed number of statements."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.db import stands
from app.people.models import Cohort, CohortMember, Membership, Person, RoleGrant
from app.transfer.known import Known, KnownCohort, Register, register_of
from app.transfer.models import PersonKey, PersonMerge


def load(session: Session, *, source: str, today: date) -> Register:
    """Return everybody whom a line could mean. Who was erased or absorbed is nobody any more."""
    connection = session.connection()
    gone = select(PersonMerge.absorbed_id)
    people = connection.execute(
        select(Person.id, Person.name, Person.email, Person.card, Person.adult_on)
        .where(Person.erased_at.is_(None), Person.id.not_in(gone))
        .order_by(Person.id)
    )
    latest = select(func.max(Membership.id)).group_by(Membership.person_id)
    here = {
        person_id: (starts_on, ends_on)
        for person_id, starts_on, ends_on in connection.execute(
            select(Membership.person_id, Membership.starts_on, Membership.ends_on).where(
                Membership.id.in_(latest)
            )
        )
    }
    keys, cohorts = _keys(session, source), _members(session)
    roles = set(
        connection.execute(
            select(RoleGrant.person_id).where(
                stands(RoleGrant), or_(RoleGrant.ends_on.is_(None), RoleGrant.ends_on >= today)
            )
        ).scalars()
    )
    nowhen: tuple[date | None, date | None] = (None, None)
    return register_of(
        (
            Known(
                id=id_,
                name=name,
                email=email,
                card=card,
                adult_on=adult_on,
                starts_on=here.get(id_, nowhen)[0],
                ends_on=here.get(id_, nowhen)[1],
                keys=frozenset(keys.get(id_, ())),
                cohorts=frozenset(cohorts.get(id_, ())),
                has_role=id_ in roles,
            )
            for id_, name, email, card, adult_on in people
        ),
        (
            KnownCohort(id=id_, name=name, ends_on=ends_on)
            for id_, name, ends_on in connection.execute(
                select(Cohort.id, Cohort.name, Cohort.ends_on).order_by(Cohort.id)
            )
        ),
    )


def _keys(session: Session, source: str) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    rows = session.connection().execute(
        select(PersonKey.id, PersonKey.person_id, PersonKey.key, PersonKey.ends_id)
        .where(PersonKey.source == source)
        .order_by(PersonKey.id)
    )
    every = rows.all()
    ended = {row.ends_id for row in every}
    for row in every:
        if row.ends_id is None and row.id not in ended:
            found[row.person_id].append(row.key)
    return found


def _members(session: Session) -> dict[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    rows = session.connection().execute(select(CohortMember.person_id, CohortMember.cohort_id))
    for person_id, cohort_id in rows:
        found[person_id].append(cohort_id)
    return found
