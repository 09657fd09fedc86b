"""A permit on paper: one override with what it lifts and what it leaves."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.codes import Code, Verdict
from app.clearance.lifting import LIFTABLE
from app.clearance.models import Override, OverrideReview
from app.clearance.override_views import lifts_words
from app.db import by_then
from app.documents.asked import Asked, head_of, site_then
from app.errors import NotFound
from app.machines.models import Area, Machine
from app.people.models import Person
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionMachine
from assessments.document.content import RiskAssessment
from assessments.document.frozen import thaw
from assessments.document.permit import Permit
from assessments.document.wording import conditions_words, moment

FIRE_SIGNS = ("W021", "W002")  # ISO 7010: flammable, explosive


def permit(session: Session, asked: Asked) -> Permit:
    """Return an override as it stood at that moment."""
    row = session.execute(
        select(Override).where(
            Override.id == asked.subject,
            Override.ends_id.is_(None),
            *by_then(Override, asked.at, asked.known),
        )
    ).scalar_one_or_none()
    if row is None:
        raise NotFound("There is no such permit, or there was none at that moment.")
    place = site_then(session, asked)
    names = {each.id: each.name for each in session.execute(select(Person.id, Person.name))}
    machine = session.get_one(Machine, row.machine_id)
    area = session.get_one(Area, machine.area_id).name
    ending = session.execute(
        select(Override).where(
            Override.ends_id == row.id, *by_then(Override, asked.at, asked.known)
        )
    ).scalar_one_or_none()
    looked = session.execute(
        select(OverrideReview).where(
            OverrideReview.override_id == row.id,
            *by_then(OverrideReview, asked.at, asked.known),
        )
    ).scalar_one_or_none()
    contents = _in_force(session, machine.id, asked)
    over = ending is not None or row.until <= asked.at
    until = row.until.astimezone(place.tz)
    return Permit(
        head=head_of(
            place,
            asked,
            reference=f"Permit {row.id}",
            title=f"{machine.name}: {lifts_words(row.lifts)}",
            word="Over" if over else "Stands",
            standing="It is over: nobody works by it any more"
            if over
            else f"It holds until {moment(until)}, and only while the register still says so",
            loud=over,
        ),
        number=row.id,
        person=names[row.person_id],
        person_number=row.person_id,
        machine=machine.name,
        where=", ".join(filter(None, (area, machine.place))),
        lifts=lifts_words(row.lifts),
        becomes=_becomes(row.lifts),
        granted_by=names[row.recorded_by_id],
        granted_at=row.occurred_at.astimezone(place.tz),
        until=until,
        ended=f"{moment(ending.occurred_at.astimezone(place.tz))}, "
        f"by {names[ending.recorded_by_id]}"
        if ending
        else "",
        looked_at=f"{moment(looked.recorded_at.astimezone(place.tz))}, "
        f"by {names[looked.recorded_by_id]}"
        if looked
        else "",
        fire_hazards=_once(
            line.kind for each in contents for line in each.hazards if line.sign in FIRE_SIGNS
        ),
        conditions=_once(words for each in contents for words in conditions_words(each)),
    )


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))


def _becomes(lifts: str) -> str:
    try:
        lift = LIFTABLE[Code(lifts)]
    except (KeyError, ValueError):
        return "it is lifted no more"
    if lift.becomes is Verdict.SUPERVISED:
        return "they may work with a supervisor in sight, and not on their own"
    return "this condition does not stand in the way meanwhile; every other one does"


def _in_force(session: Session, machine_id: int, asked: Asked) -> list[RiskAssessment]:
    rows = session.execute(
        select(Revision.content)
        .join(RevisionMachine, RevisionMachine.revision_id == Revision.id)
        .where(RevisionMachine.machine_id == machine_id, in_force(asked.at, asked.known))
        .order_by(Revision.id)
    ).scalars()
    return [thaw(content) for content in rows]
