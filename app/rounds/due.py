"""Everything that is due anywhere, by what it does to people: what stops them comes first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import IntEnum

from flask import url_for
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.actions import open_actions
from app.actions.models import Action
from app.dates import local_date
from app.db import stands
from app.hazards.due import IntervalUnit
from app.hazards.remedial import results_behind
from app.hazards.status import Unit
from app.machines.models import Area, Machine
from app.people.models import Person
from app.presence.models import Loan
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Review, Revision, RevisionMachine, RiskAssessment, Trigger
from app.risk_assessments.reviews import open_reviews
from app.rounds.relied_on import ReliedOn, machines_in, relied_on
from app.site import Site

Relied = Mapping[Unit, ReliedOn]

SOON = timedelta(days=30)
SOON_EXAMINED = timedelta(days=60)  # an examiner is not to be had next week
SOON_CHECKED = timedelta(days=3)


class Consequence(IntEnum):
    """What comes of it if nobody does it. The worst first."""

    STOPS_EVERYBODY = 0
    STOPS_STARTS = 1
    LATE = 2
    SOON = 3

    @property
    def words(self) -> str:
        return (
            "Out of use for everybody",
            "Nobody starts until it is done",
            "Late, and stops nothing by itself",
            "Coming",
        )[self]


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One thing to do."""

    sort: str  # check, examination, review, action, loan
    title: str
    words: str
    due_on: date | None
    consequence: Consequence
    areas: frozenset[int]  # none: of no area in particular
    address: str


def due_list(
    session: Session, *, area_id: int | None, at: datetime, site: Site
) -> dict[Consequence, list[Item]]:
    """Return what is due, of one area or everywhere, by consequence and then by day."""
    relied = _relied_on(session, at, site)
    found = [
        item
        for source in (_checks, _reviews, _actions, _loans)
        for item in source(session, relied, at, site)
        if area_id is None or area_id in item.areas
    ]
    found.sort(key=lambda item: (item.consequence, item.due_on or date.min, item.title))
    return {
        consequence: [item for item in found if item.consequence is consequence]
        for consequence in Consequence
    }


def areas_by_name(session: Session) -> list[Area]:
    """Return the areas to choose from."""
    return list(session.execute(select(Area).order_by(Area.name)).scalars())


def _relied_on(session: Session, at: datetime, site: Site) -> Relied:
    machines = machines_in(session, None, today=local_date(at, site.tz))
    return relied_on(session, machines, at=at, zone=site.tz, most=1)


# --- checks and examinations ---------------------------------------------------------------


def _checks(_session: Session, relied: Relied, at: datetime, site: Site) -> Iterator[Item]:
    today = local_date(at, site.tz)
    for line in relied.values():
        consequence = _of_check(line, today)
        if consequence is None:
            continue
        status = line.status
        yield Item(
            sort="examination" if status.statutory else "check",
            title=status.check.title,
            words=_check_words(line),
            due_on=status.good_through,
            consequence=consequence,
            areas=frozenset(machine.area_id for machine in line.machines),
            address=url_for("hazards.check", machine_id=line.machine.id, check_id=status.check.id),
        )


def _of_check(line: ReliedOn, today: date) -> Consequence | None:
    status = line.status
    if status.failed:
        return Consequence.STOPS_EVERYBODY
    if status.terms.unit is IntervalUnit.USE:
        return None
    through = status.good_through
    if through is None or through < today:
        return Consequence.STOPS_EVERYBODY if status.statutory else Consequence.STOPS_STARTS
    if status.statutory:
        return Consequence.SOON if through - today <= SOON_EXAMINED else None
    if status.terms.unit is IntervalUnit.DAY:
        return None  # it is in this morning's round, or was
    return Consequence.SOON if through - today <= SOON_CHECKED else None


def _check_words(line: ReliedOn) -> str:
    names = ", ".join(machine.name for machine in line.machines)
    if line.status.failed:
        return f"{names}. Failed"
    return f"{names}. Never done" if line.status.good_through is None else names


# --- reviews -------------------------------------------------------------------------------


def _reviews(session: Session, _relied: Relied, at: datetime, site: Site) -> Iterator[Item]:
    today = local_date(at, site.tz)
    references = dict(session.execute(select(RiskAssessment.id, RiskAssessment.reference)).all())
    areas = areas_of_assessments(session, at)
    reviews = open_reviews(session)
    for review in reviews:
        yield Item(
            sort="review",
            title=f"Review of {references[review.assessment_id]}",
            words=review.why,
            due_on=review.due_on,
            consequence=_of_review(review, today, site),
            areas=areas.get(review.assessment_id, frozenset()),
            address=url_for("rounds.review", review_id=review.id),
        )
    opened = {review.assessment_id for review in reviews if review.trigger is Trigger.DATE}
    for revision in session.execute(select(Revision).where(in_force(at))).scalars():
        if revision.review_due_on <= today + SOON and revision.assessment_id not in opened:
            reference = references[revision.assessment_id]
            yield Item(
                sort="review",
                title=f"Review of {reference}",
                words=f"Revision {revision.number}, by its date",
                due_on=revision.review_due_on,
                consequence=_of_date(revision.review_due_on, today, site),
                areas=areas.get(revision.assessment_id, frozenset()),
                address=url_for(
                    "risk_assessments.revision", reference=reference, number=revision.number
                ),
            )


def _of_review(review: Review, today: date, site: Site) -> Consequence:
    if review.trigger is Trigger.DATE:
        return _of_date(review.due_on, today, site)
    return Consequence.LATE if review.due_on < today else Consequence.SOON


def _of_date(due_on: date, today: date, site: Site) -> Consequence:
    if due_on >= today:
        return Consequence.SOON
    grace = site.review_grace_days
    if grace is not None and due_on + timedelta(days=grace) < today:
        return Consequence.STOPS_STARTS
    return Consequence.LATE


def areas_of_assessments(session: Session, at: datetime) -> dict[int, frozenset[int]]:
    """Return, by the assessment, the areas of the machines that it covers in force."""
    rows = session.execute(
        select(Revision.assessment_id, Machine.area_id)
        .join(RevisionMachine, RevisionMachine.revision_id == Revision.id)
        .join(Machine, Machine.id == RevisionMachine.machine_id)
        .where(in_force(at))
        .distinct()
    )
    found: dict[int, set[int]] = {}
    for assessment_id, area_id in rows:
        found.setdefault(assessment_id, set()).add(area_id)
    return {assessment_id: frozenset(areas) for assessment_id, areas in found.items()}


# --- actions and loans ---------------------------------------------------------------------


def _actions(session: Session, relied: Relied, at: datetime, site: Site) -> Iterator[Item]:
    today = local_date(at, site.tz)
    actions = open_actions(session)
    areas = _areas_of(session, actions, relied)
    for action in actions:
        urgent = "Urgent. " if action.urgent else ""
        yield Item(
            sort="action",
            title=action.what,
            words=f"{urgent}{action.owner}",
            due_on=action.due_on,
            consequence=Consequence.LATE if action.due_on < today else Consequence.SOON,
            areas=areas.get(action.id, frozenset()),
            address=url_for("rounds.action", action_id=action.id),
        )


def areas_of_action(
    session: Session, action: Action, *, at: datetime, site: Site
) -> frozenset[int]:
    """Return the areas of the machines that an action is about; none where it is about none."""
    areas = _areas_of(session, [action], _relied_on(session, at, site))
    return areas.get(action.id, frozenset())


def _areas_of(session: Session, actions: list[Action], relied: Relied) -> dict[int, frozenset[int]]:
    return {
        action_id: frozenset(machine.area_id for machine in line.machines)
        for action_id, result in results_behind(session, actions).items()
        if (line := relied.get((result.check_id, result.machine_id))) is not None
    }


def _loans(session: Session, _relied: Relied, at: datetime, site: Site) -> Iterator[Item]:
    rows = session.execute(
        select(Loan, Machine, Person.name)
        .join(Machine, Machine.id == Loan.machine_id)
        .join(Person, Person.id == Loan.person_id)
        .where(stands(Loan, at), Loan.due_at < at)
    )
    for loan, machine, who in rows:
        yield Item(
            sort="loan",
            title=f"{machine.name} is not back",
            words=f"With {who}{f', {loan.place}' if loan.place else ''}",
            due_on=local_date(loan.due_at, site.tz),
            consequence=Consequence.LATE,
            areas=frozenset({machine.area_id}),
            address=url_for("clearance.machine", machine_id=machine.id),
        )
