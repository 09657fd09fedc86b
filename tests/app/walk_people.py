"""One of everything that an address about people can name, for the walk."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.clearance.codes import Code
from app.clearance.models import Override
from app.machines.models import Machine
from app.people import roles, visits
from app.people.cohorts import add_cohort, join
from app.people.models import Person, VisitKind
from app.people.rights import Role
from app.training.equipment import issue
from app.training.marks import mark
from tests.factories import Workshop


def about_people(
    session: Session, shop: Workshop, machine: Machine, technician: Person, person: Person
) -> dict[str, str | int]:
    """Return one of everything that an address about people can name."""
    now, today = shop.now, shop.now.date()
    cohort = add_cohort(
        session, name="Spring year", starts_on=today, ends_on=None, actor_id=shop.chief.id, now=now
    )
    join(session, cohort, person, actor_id=shop.chief.id, now=now)
    visit = visits.receive(
        session,
        name="Vera Guest",
        kind=VisitKind.VISITOR,
        host_id=shop.author.id,
        adult_on=None,
        actor_id=shop.author.id,
        today=today,
        now=now,
    )
    given = roles.give(
        session,
        person_id=person.id,
        role=Role.AUDITOR,
        area_id=None,
        ends_on=None,
        self_allowed=False,
        actor_id=shop.chief.id,
        now=now,
        today=today,
    )
    roles.end(session, given, actor_id=shop.chief.id, now=now)  # the walk looks at a plain person
    actor = shop.actor(technician)
    issued = issue(
        session,
        actor=actor,
        person_id=person.id,
        equipment="Face shield",
        expires_on=None,
        self_allowed=False,
        today=today,
        now=now,
    )
    row = Override(
        person_id=person.id,
        machine_id=machine.id,
        lifts=Code.INDUCTION_EXPIRED.value,
        until=now,  # over: the walk is about addresses and not about clearances
        recorded_by_id=technician.id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    return {
        "override_id": row.id,
        "cohort_id": cohort.id,
        "visit_id": visit.id,
        "grant_id": given.id,
        "mark_id": mark(session, actor=actor, person_id=person.id, now=now).id,
        "issue_id": issued.id,
    }
