"""The form of what a plan is asked for: what it offers, what was sent, what it shows again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from flask import request
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.errors import BadInput
from app.forms import day_or_none, text, whole_or_none
from app.inductions.catalogue import catalogue_now
from app.inductions.models import InductionRevision
from app.machines.areas import terms_of_area
from app.machines.models import Area
from app.people.identity import Actor
from app.people.models import Cohort
from app.people.rights import Act
from app.sessions.asked import USUAL_GROUP, USUAL_MINUTES, Asked, Taught, Who, read_asked
from app.sessions.models import TermPlan

_COHORT = "cohort-"  # before the number of the cohort, in the field that says who


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """One induction that can be planned."""

    id: int
    title: str
    after: tuple[str, ...]  # titles of what comes first
    group_size: int | None  # as its revision says


@dataclass(frozen=True, kw_only=True, slots=True)
class Seats:
    """An area where sessions can be held."""

    id: int
    name: str
    capacity: int


@dataclass(frozen=True, kw_only=True)
class Offered:
    """What there is to choose from."""

    inductions: tuple[Choice, ...]
    cohorts: tuple[Cohort, ...]
    rooms: tuple[Seats, ...]
    no_rooms: tuple[str, ...]  # areas of which nobody said how many they hold


def offered(session: Session, me: Actor) -> Offered:
    """Return the inductions, cohorts and rooms for a plan of this technician."""
    taught = catalogue_now(session)
    sizes = _group_sizes(session)
    rooms, without = [], []
    for area in session.execute(select(Area).order_by(Area.name)).scalars():
        terms = terms_of_area(session, area.id)
        if not me.may(Act.PLAN_SESSIONS, area_id=area.id):
            continue
        if terms is None or terms.capacity is None:
            without.append(area.name)
        else:
            rooms.append(Seats(id=area.id, name=area.name, capacity=terms.capacity))
    return Offered(
        inductions=tuple(
            Choice(
                id=entry.id,
                title=entry.title,
                after=tuple(
                    taught[it].title for it in entry.publications[-1].requires if it in taught
                ),
                group_size=sizes.get(entry.id),
            )
            for entry in sorted(taught.values(), key=lambda entry: entry.title)
        ),
        cohorts=tuple(session.execute(select(Cohort).order_by(Cohort.name)).scalars()),
        rooms=tuple(rooms),
        no_rooms=tuple(without),
    )


def _group_sizes(session: Session) -> dict[int, int]:
    """Return the group size of each induction as its newest revision says it, if it does."""
    rows = session.execute(
        select(InductionRevision.induction_id, InductionRevision.group_size).order_by(
            InductionRevision.number
        )
    )
    newest: dict[int, int | None] = dict(rows.all())
    return {induction_id: size for induction_id, size in newest.items() if size}


# --- what was sent -----------------------------------------------------------------------


def sent(offer: Offered) -> Asked:
    """Return what the form asks for.

    Raises:
        BadInput: something that is not offered, or no number.
    """
    who, cohort = _who(offer)
    return Asked(
        courses=tuple(
            _course(choice)
            for choice in offer.inductions
            if str(choice.id) in request.form.getlist("induction")
        ),
        who=who,
        cohort=cohort,
        by=day_or_none("by"),
        rooms=tuple(
            room.id for room in offer.rooms if str(room.id) in request.form.getlist("room")
        ),
    )


def _course(choice: Choice) -> Taught:
    return Taught(
        induction=choice.id,
        minutes=_number(f"minutes_{choice.id}", USUAL_MINUTES),
        group_most=_number(f"most_{choice.id}", choice.group_size or USUAL_GROUP),
        group_least=_number(f"least_{choice.id}", 1),
    )


def _number(name: str, usual: int) -> int:
    found = whole_or_none(name)
    return usual if found is None else found


def _who(offer: Offered) -> tuple[Who, int | None]:
    said = text("who", most=40)
    for cohort in offer.cohorts:
        if said == f"{_COHORT}{cohort.id}":
            return Who.COHORT, cohort.id
    if said not in (Who.LACKING, Who.LAPSING):
        raise BadInput("Choose whose needs are planned.", status=422)
    return Who(said), None


# --- what the form shows -----------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Shown:
    """The values of the form's fields, as they stand in it."""

    name: str = ""
    first_on: str = ""
    last_on: str = ""
    by: str = ""
    who: str = ""
    inductions: frozenset[str] = frozenset()
    rooms: frozenset[str] = frozenset()
    sizes: Mapping[str, str]  # minutes_3, most_3, least_3


def as_sent() -> Shown:
    """Return the fields as they were sent, for a form that is shown again."""
    form = request.form
    return Shown(
        name=form.get("name", ""),
        first_on=form.get("first_on", ""),
        last_on=form.get("last_on", ""),
        by=form.get("by", ""),
        who=form.get("who", ""),
        inductions=frozenset(form.getlist("induction")),
        rooms=frozenset(form.getlist("room")),
        sizes={
            name: value
            for name, value in form.items()
            if name.startswith(("minutes_", "most_", "least_"))
        },
    )


def as_kept(plan: TermPlan) -> Shown:
    """Return the fields of a plan that is asked again."""
    asked = read_asked(plan.asked)
    sizes = {}
    for course in asked.courses:
        sizes[f"minutes_{course.induction}"] = str(course.minutes)
        sizes[f"most_{course.induction}"] = str(course.group_most)
        sizes[f"least_{course.induction}"] = str(course.group_least)
    return Shown(
        name=plan.name,
        first_on=plan.first_on.isoformat(),
        last_on=plan.last_on.isoformat(),
        by=asked.by.isoformat() if asked.by else "",
        who=f"{_COHORT}{asked.cohort}" if asked.who is Who.COHORT else asked.who.value,
        inductions=frozenset(str(course.induction) for course in asked.courses),
        rooms=frozenset(map(str, asked.rooms)),
        sizes=sizes,
    )


def empty(offer: Offered, today: date) -> Shown:
    """Return the fields of a new plan: the newest cohort, all rooms, from today on."""
    newest = max(offer.cohorts, key=lambda cohort: (cohort.starts_on, cohort.id), default=None)
    return Shown(
        first_on=today.isoformat(),
        who=f"{_COHORT}{newest.id}" if newest else Who.LACKING.value,
        rooms=frozenset(str(room.id) for room in offer.rooms),
        sizes={},
    )
