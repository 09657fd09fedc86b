"""Who needs which induction in a plan, and the question that the solver is asked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.people.models import CohortMember, Person
from app.planning.plan import DAY, Ask, Course, Hour, Need, with_prerequisites
from app.sessions.asked import Asked, Who
from app.sessions.ground import Ground, here_within
from app.sessions.wall import clock_of, day_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Apart:
    """A need that this plan cannot be asked for, and why."""

    need: Need
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Question:
    """What the solver is asked, and what it cannot be asked."""

    ask: Ask
    apart: tuple[Apart, ...]
    left_out: tuple[str, ...]  # sentences about people who are not planned at all


def candidates(session: Session, asked: Asked) -> list[int]:
    """Return whose needs may be planned: a cohort, or everybody on the register."""
    everybody = select(Person.id).where(Person.erased_at.is_(None)).order_by(Person.id)
    if asked.who is Who.COHORT:
        everybody = everybody.join(CohortMember, CohortMember.person_id == Person.id).where(
            CohortMember.cohort_id == asked.cohort
        )
    return list(session.execute(everybody).scalars())


def question(ground: Ground, asked: Asked, people: Iterable[int]) -> Question:
    """Return what is to be planned for these people."""
    needs: list[Need] = []
    apart: list[Apart] = []
    suspended = 0
    for person in people:
        who = ground.people[person]
        if not here_within(who, ground.first_on, ground.last_on):
            continue
        own = list(_own_needs(ground, asked, person))
        if who.suspended:
            suspended += bool(own)
            continue
        for need in own:
            why = _why_apart(ground, need)
            if why is None:
                needs.append(need)
            else:
                apart.append(Apart(need=need, sentence=why))
    ask = _ask(ground, needs)
    kept = tuple(
        need
        for need in with_prerequisites(ask)
        if ground.booked(need.person, need.induction) is None
    )
    return Question(
        ask=replace(ask, needs=kept),
        apart=tuple(apart),
        left_out=tuple(_left_out(suspended)),
    )


def _left_out(suspended: int) -> Iterator[str]:
    if suspended == 1:
        yield "One person is suspended and not planned."
    elif suspended:
        yield f"{suspended} people are suspended and not planned."


def _own_needs(ground: Ground, asked: Asked, person: int) -> Iterator[Need]:
    by = asked.by or ground.last_on
    ends_on = ground.people[person].ends_on
    last = min(by, ends_on) if ends_on is not None else by
    for induction in ground.courses:
        if ground.booked(person, induction) is None and _is_wanted(
            ground, asked.who, person, induction, by
        ):
            minute = ((last - ground.first_on).days + 1) * DAY
            yield Need(person=person, induction=induction, by=minute)


def _is_wanted(ground: Ground, who: Who, person: int, induction: int, by: date) -> bool:
    if who is Who.LAPSING:
        # What holds through a day has run out on the next.
        return ground.holds(person, induction) and not ground.holds(person, induction, by)
    return not ground.holds(person, induction)


def _why_apart(ground: Ground, need: Need) -> str | None:
    """Return what the solver does not know of: first days, and places published already."""
    starts_on = ground.people[need.person].starts_on
    if starts_on is not None and starts_on > ground.first_on:
        return (
            f"Starts here on {starts_on.day} {starts_on:%b}, after the first day of this plan: "
            "put them in by hand."
        )
    for first in ground.courses[need.induction].requires:
        place = ground.booked(need.person, first)
        if place is not None and not ground.holds(need.person, first) and place.span.end > 0:
            day = day_of(ground.first_on, place.span.start)
            return (
                f"“{ground.title(first)}” comes first: they have a place in it on {day.day} "
                f"{day:%b} at {clock_of(place.span.start)}. Put them in by hand after that."
            )
    return None


def _ask(ground: Ground, needs: list[Need]) -> Ask:
    people = {need.person for need in needs}
    held = {
        (person, induction)
        for person in people
        for induction in _about(ground.courses.values())
        if ground.holds(person, induction) or _over_before(ground, person, induction)
    }
    return Ask(
        needs=tuple(needs),
        courses=tuple(ground.courses.values()),
        technicians=tuple(ground.technicians.values()),
        hours=tuple(
            Hour(technician=person, start=span.start, end=span.end)
            for person, spans in sorted(ground.hours.items())
            for span in spans
        ),
        rooms=tuple(ground.rooms.values()),
        held=frozenset(held),
    )


def _about(courses: Iterable[Course]) -> set[int]:
    return {it for course in courses for it in (course.induction, *course.requires)}


def _over_before(ground: Ground, person: int, induction: int) -> bool:
    """Say whether a place in a published session lets what follows it be planned."""
    place = ground.booked(person, induction)
    return place is not None and place.span.end <= 0
