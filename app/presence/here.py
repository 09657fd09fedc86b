"""Who is about in an area, when it is open, and what runs or is kept at a machine: rows to facts.

Everything is read as of ``at``: what had happened by then; with ``known``, only what had been
written down by then. What is given back keeps when it runs out, so that the rules can be asked
again at a later moment. A finish that is dated ahead frees nothing early.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Date,
    Integer,
    Select,
    SmallInteger,
    String,
    bindparam,
    case,
    cast,
    func,
    literal_column,
    null,
    or_,
    select,
    union_all,
)
from sqlalchemy.orm import Session, aliased

from app.db import AnyRow, Moment, UtcDateTime, by_then, prepared, stands
from app.machines.hours import Calendar, Days, Stretch, stretch
from app.machines.models import (
    AreaTerms,
    ClosedDays,
    During,
    Machine,
    OpeningHours,
    Staffing,
    Term,
)
from app.machines.where import area_at
from app.people.models import Person
from app.presence.models import (
    Booking,
    Duty,
    Start,
    UnattendedJob,
    UseExtended,
    UseFinished,
)
from app.presence.present import Being, Present

AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
KNOWN: BindParameter[datetime] = bindparam("known", type_=UtcDateTime())
AREAS: BindParameter[Any] = bindparam("areas", expanding=True)
MACHINE: BindParameter[int] = bindparam("machine")

_SUPERVISED = "supervised"  # the verdict of a start, as it is kept
_IN_TERM = {During.ALWAYS: None, During.IN_TERM: True, During.OUT_OF_TERM: False}

# The columns of the one statement, and what each holds for each sort of row.
_COLUMNS = (
    ("id", Integer),
    ("area_id", Integer),
    ("machine_id", Integer),
    ("person_id", Integer),
    ("name", String),  # of the person, the job, the season
    ("other_id", Integer),  # a supervisor
    ("other", String),  # their name; or how it is staffed
    ("partner_id", Integer),
    ("partner", String),
    ("since", UtcDateTime),
    ("until", UtcDateTime),
    ("first_on", Date),
    ("last_on", Date),
    ("opens", String),  # or the verdict of a start
    ("closes", String),
    ("number", SmallInteger),  # a weekday; how many an area holds
    ("more", SmallInteger),  # how many one supervisor watches
)


def _row(what: str, **columns: Any) -> Select[Any]:
    """Return a SELECT with every column of the one statement; what is not named is null."""
    unknown = set(columns) - {name for name, _type in _COLUMNS}
    assert not unknown, unknown  # noqa: S101 - a slip of the program's own
    return select(
        literal_column(f"'{what}'", String).label("what"),
        *(_column(columns.get(name), kind).label(name) for name, kind in _COLUMNS),
    )


def _column(given: Any, kind: Any) -> ColumnElement[Any]:
    if given is None:
        return cast(null(), kind)
    # Words are of several types in the tables. A day must not be cast: SQLite makes a year of it.
    return cast(given, String) if kind is String else given


# --- people ------------------------------------------------------------------------------


def _uses(at: Moment, known: Moment | None, *, extended: bool) -> Select[Any]:
    """Select the open uses of the areas: those that run by themselves, or those kept on."""
    start, more, finish = aliased(Start), aliased(UseExtended), aliased(UseFinished)
    person, supervisor, partner = aliased(Person), aliased(Person), aliased(Person)
    latest = (
        select(more.runs_out_at)
        .where(more.start_id == start.id, *by_then(more, at, known))
        .order_by(more.occurred_at.desc(), more.id.desc())
        .limit(1)
        .correlate(start)
        .scalar_subquery()
    )
    over = (
        select(finish.id)
        .where(finish.start_id == start.id, *by_then(finish, at, known))
        .correlate(start)
        .exists()
    )
    found = (
        _row(
            "use",
            id=start.id,
            area_id=area_at(at, known),
            machine_id=start.machine_id,
            person_id=start.person_id,
            name=person.name,
            other_id=supervisor.id,
            other=supervisor.name,
            partner_id=partner.id,
            partner=partner.name,
            since=start.occurred_at,
            until=func.coalesce(latest, start.runs_out_at, type_=UtcDateTime()),
            opens=start.verdict,
        )
        .select_from(start)
        .join(Machine, Machine.id == start.machine_id)
        .join(person, person.id == start.person_id)
        # Whoever starts somebody under supervision stands there and supervises.
        .outerjoin(supervisor, supervisor.id == _supervisor(start))
        .outerjoin(partner, partner.id == start.partner_id)
        .where(area_at(at, known).in_(AREAS), *by_then(start, at, known), ~over)
    )
    if not extended:
        return found.where(start.runs_out_at > at)
    kept_on = aliased(UseExtended)
    return found.where(
        start.runs_out_at <= at,
        start.id.in_(
            select(kept_on.start_id).where(kept_on.runs_out_at > at, *by_then(kept_on, at, known))
        ),
    )


def _supervisor(start: Any) -> ColumnElement[int]:
    return func.coalesce(
        start.supervisor_id,
        case(
            (
                (start.verdict == literal_column(f"'{_SUPERVISED}'"))
                & (start.recorded_by_id != start.person_id),
                start.recorded_by_id,
            )
        ),
    )


def _duties(at: Moment, known: Moment | None) -> Select[Any]:
    return (
        _row(
            "duty",
            id=Duty.id,
            area_id=Duty.area_id,
            person_id=Duty.person_id,
            name=Person.name,
            since=Duty.occurred_at,
            until=Duty.runs_out_at,
        )
        .join(Person, Person.id == Duty.person_id)
        .where(Duty.area_id.in_(AREAS), Duty.runs_out_at > at, stands(Duty, at, known))
    )


@cache
def _people(as_known: bool) -> prepared:
    known = KNOWN if as_known else None
    return prepared(
        union_all(
            _uses(AT, known, extended=False), _uses(AT, known, extended=True), _duties(AT, known)
        )
    )


def present(
    session: Session,
    area_ids: Iterable[int],
    *,
    at: datetime,
    known: datetime | None = None,
) -> dict[int, tuple[Present, ...]]:
    """Return who is about in each of the areas, by area; nobody: an empty row. One statement."""
    areas = list(area_ids)
    asked = {"areas": areas, "at": at, "known": known or at}
    found: dict[int, list[Present]] = {area_id: [] for area_id in areas}
    for row in _people(known is not None)(session.connection(), asked):
        found[row.area_id] += _present(row)
    return {area_id: tuple(rows) for area_id, rows in found.items()}


def _present(row: AnyRow) -> list[Present]:
    """Return for whom a row speaks: whoever is at work, their partner, and who supervises them."""
    if row.what == "duty":
        return [_being(row, row.person_id, row.name, Being.ON_DUTY)]
    supervised = row.opens == _SUPERVISED
    found = [
        Present(
            person_id=row.person_id,
            name=row.name,
            being=Being.AT_WORK,
            since=row.since,
            until=row.until,
            machine_id=row.machine_id,
            supervised=supervised,
            supervisor_id=row.other_id if supervised else None,
            use_id=row.id,
        )
    ]
    if row.partner_id is not None:
        found.append(_being(row, row.partner_id, row.partner, Being.PARTNER))
    if supervised and row.other_id is not None:
        found.append(_being(row, row.other_id, row.other, Being.SUPERVISING))
    return found


def _being(row: AnyRow, person_id: int, name: str, being: Being) -> Present:
    return Present(
        person_id=person_id,
        name=name,
        being=being,
        since=row.since,
        until=row.until,
        machine_id=row.machine_id,
        use_id=None if being is Being.ON_DUTY else row.id,
    )


# --- the moment at one machine -----------------------------------------------------------


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """A job that runs on alone at a machine until somebody ends it."""

    id: int
    what: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Kept:
    """A machine kept for somebody from an instant up to another."""

    id: int
    person_id: int
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True, kw_only=True, slots=True)
class Around:
    """The moment around one machine, as rows say it."""

    calendar: Calendar | None  # None: the area has no hours
    present: tuple[Present, ...]
    capacity: int | None
    people_per_supervisor: int | None
    jobs: tuple[Job, ...]
    bookings: tuple[Kept, ...]


def _of_the_area(at: Moment, known: Moment | None) -> list[Select[Any]]:
    hours = _row(
        "hours",
        name=OpeningHours.during,
        other=OpeningHours.staffing,
        number=OpeningHours.weekday,
        opens=OpeningHours.opens,
        closes=OpeningHours.closes,
    ).where(OpeningHours.area_id.in_(AREAS), stands(OpeningHours, at, known))
    closed = _row("closed", first_on=ClosedDays.first_on, last_on=ClosedDays.last_on).where(
        or_(ClosedDays.area_id.is_(None), ClosedDays.area_id.in_(AREAS)),
        stands(ClosedDays, at, known),
    )
    terms = _row("term", first_on=Term.first_on, last_on=Term.last_on).where(
        stands(Term, at, known)
    )
    newer = aliased(AreaTerms)
    holds = _row("holds", number=AreaTerms.capacity, more=AreaTerms.people_per_supervisor).where(
        AreaTerms.id.in_(
            select(func.max(newer.id)).where(newer.area_id.in_(AREAS), *by_then(newer, at, known))
        )
    )
    return [hours, closed, terms, holds]


def _of_the_machine(at: Moment, known: Moment | None) -> list[Select[Any]]:
    jobs = _row("job", id=UnattendedJob.id, name=UnattendedJob.what).where(
        UnattendedJob.machine_id == MACHINE, stands(UnattendedJob, at, known)
    )
    bookings = _row(
        "booking",
        id=Booking.id,
        person_id=Booking.person_id,
        since=Booking.starts_at,
        until=Booking.ends_at,
    ).where(Booking.machine_id == MACHINE, Booking.ends_at > at, stands(Booking, at, known))
    return [jobs, bookings]


@cache
def _moment(as_known: bool) -> prepared:
    known = KNOWN if as_known else None
    return prepared(
        union_all(
            _uses(AT, known, extended=False),
            _uses(AT, known, extended=True),
            _duties(AT, known),
            *_of_the_area(AT, known),
            *_of_the_machine(AT, known),
        )
    )


def around(
    session: Session,
    *,
    area_id: int,
    machine_id: int,
    at: datetime,
    known: datetime | None = None,
) -> Around:
    """Return the moment around a machine in this area. One statement."""
    asked = {"areas": [area_id], "machine": machine_id, "at": at, "known": known or at}
    rows: dict[str, list[AnyRow]] = {}
    for row in _moment(known is not None)(session.connection(), asked):
        rows.setdefault(row.what, []).append(row)
    people = [*rows.get("use", ()), *rows.get("duty", ())]
    holds = next(iter(rows.get("holds", ())), None)
    return Around(
        calendar=_calendar(rows) if "hours" in rows else None,
        present=tuple(each for row in people for each in _present(row)),
        capacity=holds.number if holds else None,
        people_per_supervisor=holds.more if holds else None,
        jobs=tuple(Job(id=row.id, what=row.name) for row in rows.get("job", ())),
        bookings=tuple(
            Kept(id=row.id, person_id=row.person_id, starts_at=row.since, ends_at=row.until)
            for row in rows.get("booking", ())
        ),
    )


def _calendar(rows: dict[str, list[AnyRow]]) -> Calendar:
    def days(what: str) -> tuple[Days, ...]:
        return tuple(Days(first_on=row.first_on, last_on=row.last_on) for row in rows.get(what, ()))

    found: list[Stretch | None] = [
        stretch(
            weekday=row.number,
            opens=row.opens,
            closes=row.closes,
            staffed=row.other == Staffing.STAFFED.value,
            in_term=_IN_TERM[During(row.name)],
        )
        for row in rows["hours"]
    ]
    return Calendar(
        stretches=tuple(each for each in found if each is not None),
        closed=days("closed"),
        terms=days("term"),
    )
