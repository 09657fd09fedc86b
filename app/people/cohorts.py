"""Groups that came together: a course, a year, a residency."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import AnyRow
from app.errors import NotFound, Refused
from app.people.models import Cohort, CohortMember, Person


def cohorts(session: Session) -> list[AnyRow]:
    """Return every cohort with how many are in it, the latest to start first."""
    return list(
        session.execute(
            select(
                Cohort.id,
                Cohort.name,
                Cohort.starts_on,
                Cohort.ends_on,
                func.count(CohortMember.person_id).label("members"),
            )
            .outerjoin(CohortMember, CohortMember.cohort_id == Cohort.id)
            .group_by(Cohort.id)
            .order_by(Cohort.starts_on.desc(), Cohort.name)
        )
    )


def cohorts_of(session: Session, person_id: int) -> list[Cohort]:
    return list(
        session.execute(
            select(Cohort)
            .join(CohortMember, CohortMember.cohort_id == Cohort.id)
            .where(CohortMember.person_id == person_id)
            .order_by(Cohort.starts_on.desc(), Cohort.name)
        ).scalars()
    )


def cohort_or_404(session: Session, cohort_id: int) -> Cohort:
    cohort = session.get(Cohort, cohort_id)
    if cohort is None:
        raise NotFound("There is no such cohort.")
    return cohort


def add_cohort(
    session: Session,
    *,
    name: str,
    starts_on: date,
    ends_on: date | None,
    actor_id: int,
    now: datetime,
) -> Cohort:
    """Put down a group that people come in."""
    name = " ".join(name.split())
    if not name or len(name) > 200:
        raise Refused("A cohort needs a name of at most 200 characters.", code="name", status=422)
    if ends_on is not None and ends_on < starts_on:
        raise Refused("The last day comes after the first.", code="days", status=422)
    if session.execute(select(Cohort.id).where(Cohort.name == name)).first():
        raise Refused(f"There is a cohort called {name} already.", code="name-taken", status=422)
    cohort = Cohort(name=name, starts_on=starts_on, ends_on=ends_on)
    session.add(cohort)
    session.flush()
    log.record(
        session,
        action="people:cohort:add",
        subject=f"cohort:{cohort.id}",
        actor_id=actor_id,
        now=now,
    )
    return cohort


def join(session: Session, cohort: Cohort, person: Person, *, actor_id: int, now: datetime) -> None:
    """Put somebody into a cohort; whoever is in it stays in it once."""
    if session.get(CohortMember, (cohort.id, person.id)) is None:
        session.add(CohortMember(cohort_id=cohort.id, person_id=person.id))
        _log(session, "people:cohort:join", cohort, person, actor_id, now)


def leave(
    session: Session, cohort: Cohort, person: Person, *, actor_id: int, now: datetime
) -> None:
    """Take somebody out of a cohort."""
    row = session.get(CohortMember, (cohort.id, person.id))
    if row is None:
        raise NotFound("They are not in that cohort.")
    session.delete(row)
    _log(session, "people:cohort:leave", cohort, person, actor_id, now)


def _log(
    session: Session, action: str, cohort: Cohort, person: Person, actor_id: int, now: datetime
) -> None:
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"cohort:{cohort.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": person.id},
    )
