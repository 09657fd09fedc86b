"""One of everything that an address about induction sessions can name."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.inductions.models import Induction, InductionRevision
from app.machines.areas import set_terms
from app.machines.models import Area
from app.people.models import Person
from app.sessions.asked import Asked, Taught, Who
from app.sessions.given import give
from app.sessions.models import PaperSheet, TeachingHours
from app.sessions.proposal import Planned, Proposal
from app.sessions.teaching import give_hours
from app.sessions.term_plan import begin
from tests.factories import Workshop


def about_sessions(
    session: Session,
    shop: Workshop,
    area: Area,
    induction: Induction,
    technician: Person,
    person: Person,
) -> dict[str, str | int]:
    """Return a plan with one session, not published; a published session; and hours."""
    by = {"actor_id": shop.chief.id, "now": shop.now}
    day = shop.now.date() + timedelta(days=7)
    held = session.get_one(Area, area.id)
    set_terms(session, held, capacity=8, people_per_supervisor=None, **by)
    plan = begin(
        session,
        name="Spring",
        first_on=day,
        last_on=day,
        asked=Asked(
            courses=(Taught(induction=induction.id, minutes=60, group_most=8),),
            who=Who.LACKING,
            cohort=None,
            by=None,
            rooms=(area.id,),
        ),
        **by,
    )
    plan.proposed = Proposal(
        sessions=(
            Planned(
                number=1,
                induction=induction.id,
                start=540,
                end=600,
                room=area.id,
                technician=technician.id,
                places=8,
            ),
        )
    ).as_json()
    given = give(
        session,
        induction_id=induction.id,
        area=held,
        technician_id=technician.id,
        starts_at=shop.now + timedelta(days=8),
        ends_at=shop.now + timedelta(days=8, hours=1),
        places=8,
        people=[person.id],
        **by,
    )
    give_hours(
        session,
        person_id=technician.id,
        first_on=day,
        last_on=day,
        weekdays=frozenset(),
        opens="09:00",
        closes="12:00",
        now=shop.now,
        today=shop.now.date(),
    )
    revision = select(InductionRevision.id).where(InductionRevision.induction_id == induction.id)
    session.add(
        PaperSheet(
            reference="SH-7K3QX9",
            session_id=given.id,
            induction_revision_id=session.execute(revision).scalar_one(),
            people=[person.id],
            digest="0" * 64,
            recorded_by_id=technician.id,
            occurred_at=shop.now,
            recorded_at=shop.now,
        )
    )
    session.flush()
    hours = select(TeachingHours.id).order_by(TeachingHours.id).limit(1)
    return {
        "plan_id": plan.id,
        "session_id": given.id,
        "sheet_code": "SH-7K3QX9",
        "teaching_id": session.execute(hours).scalar_one(),
    }
