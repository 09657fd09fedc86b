"""What sessions are planned on: people and what they hold, technicians, hours, rooms, sessions.

Read anew whenever a plan is proposed, changed or published: between the three people leave,
are appointed, pass what they lacked, and other sessions are published.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import day_begins, local_date
from app.db import stands
from app.inductions.catalogue import Catalogue, catalogue_now, needed
from app.inductions.models import Inductor
from app.machines import hours as opening_hours
from app.machines.hours import Days
from app.machines.models import Area
from app.machines.opening import calendar_of
from app.people.identity import Identity, identities
from app.people.rights import Act, may
from app.planning.offers import joined
from app.planning.plan import DAY, Course, Room, Span, Technician
from app.sessions.asked import Asked
from app.sessions.given import places_in, seated, sessions_after
from app.sessions.models import InductionSession
from app.sessions.rooms import room_of
from app.sessions.teaching import hours_between
from app.sessions.wall import minute_at, without
from app.training.models import TrainingRecord
from app.training.standing import Record, State, standing

AT_A_TIME = 5000  # people named in one statement


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """A published session that stands, on the wall of the plan."""

    id: int
    induction: int
    span: Span
    room: int
    technician: int
    people: frozenset[int]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Everything that a plan rests on, as it is now."""

    first_on: date
    last_on: date
    today: date
    zone: ZoneInfo
    taught: Catalogue
    courses: Mapping[int, Course]
    people: Mapping[int, Identity]
    # What somebody is current in, and the last day of that (None: it does not run out).
    held: Mapping[tuple[int, int], date | None]
    technicians: Mapping[int, Technician]
    passed_over: tuple[str, ...]  # who is named to give an induction, and may not at present
    hours: Mapping[int, tuple[Span, ...]]  # by technician, what is left of them
    rooms: Mapping[int, Room]
    areas: Mapping[int, Area]
    taken: tuple[Taken, ...]

    def holds(self, person: int, induction: int, day: date | None = None) -> bool:
        """Say whether somebody is current in it now, and still will be on that day."""
        if (person, induction) not in self.held:
            return False
        until = self.held[person, induction]
        return day is None or until is None or until >= day

    def booked(self, person: int, induction: int) -> Taken | None:
        """Return the first published session of it in which this person has a place."""
        return next(
            (it for it in self.taken if it.induction == induction and person in it.people), None
        )

    def name(self, person: int) -> str:
        found = self.people.get(person)
        return found.name if found is not None and not found.erased else "somebody who was erased"

    def title(self, induction: int) -> str:
        entry = self.taught.get(induction)
        return entry.title if entry is not None else "an induction"


def ground(
    session: Session,
    asked: Asked,
    first_on: date,
    last_on: date,
    people: Iterable[int],
    *,
    now: datetime,
    zone: ZoneInfo,
) -> Ground:
    """Read what a plan of these days rests on, as far as it concerns these people."""
    taught, today = catalogue_now(session), local_date(now, zone)
    named = _named(session, asked)
    everybody = {*people, *named}
    known = _identities(session, everybody, today)
    about = [entry.id for entry in needed(taught, [course.induction for course in asked.courses])]
    held = current_in(session, known, about, taught, now=now, today=today)
    technicians, passed_over = _technicians(named, known, held, taught, first_on, last_on)
    taken = _taken(session, first_on, now=now, zone=zone)
    areas = {
        area.id: area
        for area in session.execute(
            select(Area).where(Area.id.in_(asked.rooms)).order_by(Area.name)
        ).scalars()
    }
    return Ground(
        first_on=first_on,
        last_on=last_on,
        today=today,
        zone=zone,
        taught=taught,
        courses=_courses(asked, taught),
        people=known,
        held=held,
        technicians=technicians,
        passed_over=passed_over,
        hours=_hours(session, technicians, known, taken, first_on, last_on),
        rooms={
            area.id: room_of(
                session,
                area,
                first_on,
                last_on,
                zone,
                taken=[it.span for it in taken if it.room == area.id],
            )
            for area in areas.values()
        },
        areas=areas,
        taken=taken,
    )


def _courses(asked: Asked, taught: Catalogue) -> dict[int, Course]:
    return {
        course.induction: Course(
            induction=course.induction,
            title=taught[course.induction].title,
            minutes=course.minutes,
            group_most=course.group_most,
            group_least=course.group_least,
            requires=taught[course.induction].publications[-1].requires,
        )
        for course in asked.courses
        if course.induction in taught
    }


# --- people ------------------------------------------------------------------------------


def _parts(people: Iterable[int]) -> Iterator[list[int]]:
    """Yield people so many at a time: a statement has only so many places for values."""
    rest = iter(sorted(people))
    while part := list(islice(rest, AT_A_TIME)):
        yield part


def _identities(session: Session, people: Iterable[int], today: date) -> dict[int, Identity]:
    found: dict[int, Identity] = {}
    for part in _parts(people):
        found |= identities(session, part, today)
    return found


def current_in(
    session: Session,
    people: Iterable[int],
    about: Iterable[int],
    taught: Catalogue,
    *,
    now: datetime,
    today: date,
) -> dict[tuple[int, int], date | None]:
    """Return what these people are current in, and the last day of that. One statement."""
    asked = list(about)
    records: dict[tuple[int, int], list[Record]] = defaultdict(list)
    for part in _parts(people):
        for row in session.execute(
            select(
                TrainingRecord.id,
                TrainingRecord.person_id,
                TrainingRecord.induction_id,
                TrainingRecord.result,
                TrainingRecord.revision_number,
                TrainingRecord.occurred_at,
                TrainingRecord.expires_on,
            ).where(
                TrainingRecord.person_id.in_(part),
                TrainingRecord.induction_id.in_(asked),
                TrainingRecord.occurred_at <= now,
            )
        ):
            records[row.person_id, row.induction_id].append(Record.of(row))
    return {
        pair: _last_day(found)
        for pair, found in records.items()
        if standing(found, counts_from=taught[pair[1]].counts_from(now), now=now, today=today)
        is State.CURRENT
    }


def _last_day(records: Iterable[Record]) -> date | None:
    """Return through which day the newest record holds; of several at once, the shortest."""
    found = list(records)
    newest = max(record.occurred_at for record in found)
    days = [record.expires_on for record in found if record.occurred_at == newest]
    return min((day for day in days if day is not None), default=None)


# --- technicians -------------------------------------------------------------------------


def _named(session: Session, asked: Asked) -> dict[int, list[int]]:
    """Return who is named in writing to give which of the inductions."""
    found: dict[int, list[int]] = defaultdict(list)
    for person_id, induction_id in session.execute(
        select(Inductor.person_id, Inductor.induction_id)
        .where(
            Inductor.induction_id.in_([course.induction for course in asked.courses]),
            stands(Inductor),
        )
        .distinct()
        .order_by(Inductor.person_id, Inductor.induction_id)
    ):
        found[person_id].append(induction_id)
    return found


def _technicians(
    named: Mapping[int, list[int]],
    known: Mapping[int, Identity],
    held: Mapping[tuple[int, int], date | None],
    taught: Catalogue,
    first_on: date,
    last_on: date,
) -> tuple[dict[int, Technician], tuple[str, ...]]:
    """Return who could sign the inductions off that they give, and a sentence for the others.

    The same conditions as of a sign-off (`training.signing`): a session that nobody may sign
    off afterwards clears nobody.
    """
    technicians: dict[int, Technician] = {}
    passed_over: list[str] = []
    for person, inductions in named.items():
        who = known[person]
        if why := _why_nothing(who, first_on, last_on):
            passed_over.append(why)
            continue
        gives = set()
        for induction in inductions:
            lapsed = [it for it in needed(taught, [induction]) if (person, it.id) not in held]
            if lapsed:
                passed_over.append(
                    f"{who.name} is named for “{taught[induction].title}”, and their own "
                    f"“{lapsed[0].title}” is not current."
                )
            else:
                gives.add(induction)
        if gives:
            technicians[person] = Technician(id=person, name=who.name, gives=frozenset(gives))
    return technicians, tuple(passed_over)


def _why_nothing(who: Identity, first_on: date, last_on: date) -> str | None:
    if not here_within(who, first_on, last_on):
        return f"{who.name} does not belong here in these days."
    if not may(who.grants, Act.SIGN_OFF):
        return f"{who.name} is named for an induction, and is no technician."
    if who.suspended:
        return f"{who.name} signs nothing at present."
    return None


def here_within(who: Identity, first_on: date, last_on: date) -> bool:
    """Say whether somebody belongs here on at least one of these days."""
    return (
        not who.erased
        and who.starts_on is not None
        and who.starts_on <= last_on
        and (who.ends_on is None or who.ends_on >= first_on)
    )


def _hours(
    session: Session,
    technicians: Mapping[int, Technician],
    known: Mapping[int, Identity],
    taken: Iterable[Taken],
    first_on: date,
    last_on: date,
) -> dict[int, tuple[Span, ...]]:
    """Return what technicians offer, without days off and the sessions that they give already."""
    closed = [
        Days(first_on=days.first_on, last_on=days.last_on)
        for days in calendar_of(session, None).closed
    ]
    offered: dict[int, list[Span]] = defaultdict(list)
    for row in hours_between(session, technicians, first_on, last_on):
        off = any(days.hold(row.day) for days in closed)
        opens, closes = opening_hours.minutes(row.opens), opening_hours.minutes(row.closes)
        if off or opens is None or closes is None or not known[row.person_id].belongs_on(row.day):
            continue
        midnight = (row.day - first_on).days * DAY
        offered[row.person_id].append(Span(midnight + opens, midnight + closes))
    return {
        person: without(joined(spans), [it.span for it in taken if it.technician == person])
        for person, spans in offered.items()
    }


# --- sessions ----------------------------------------------------------------------------


def _taken(session: Session, first_on: date, *, now: datetime, zone: ZoneInfo) -> tuple[Taken, ...]:
    """Return the sessions that are published and still to come, or within the plan."""
    rows = sessions_after(session, min(now, day_begins(first_on, zone)))
    places = places_in(session, [row.id for row in rows])

    def on_the_wall(row: InductionSession) -> Span:
        return Span(
            minute_at(first_on, row.starts_at, zone), minute_at(first_on, row.ends_at, zone)
        )

    return tuple(
        Taken(
            id=row.id,
            induction=row.induction_id,
            span=on_the_wall(row),
            room=row.area_id,
            technician=row.technician_id,
            people=frozenset(seated(places.get(row.id, ()))),
        )
        for row in rows
    )
