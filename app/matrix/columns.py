"""What people's rows say, as columns: one look at each table, no object for each row.

The rows come straight from the driver, because two hundred thousand records are read at once;
what they mean is left to the rules (see `cells`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from sqlalchemy import String, cast, func, select
from sqlalchemy.orm import Session, aliased

from app.db import AnySelect, stands
from app.people.models import Membership, Person, RoleGrant
from app.people.rights import Role
from app.presence.models import Start
from app.risk_assessments.models import Revision
from app.training.models import Acknowledgement, SignOff, SignOffBriefing, TrainingRecord

# What a record says, in one text: result, revision and expiry; two at the same instant make one
# text of both. Hundreds of thousands are read at once, and only the distinct ones are taken apart.
APART, TOGETHER = "|", "&"
SHIFT = 1 << 24  # person and induction in one number
FEW = 900  # of SQLite's parameters to a statement, a careful share


@dataclass(kw_only=True, slots=True)
class People:
    """The people asked for, and what is on record of them."""

    ids: list[int]
    names: list[str]
    spans: list[tuple[date | None, date | None, bool]]  # starts, ends, erased
    adult_on: list[date | None]
    roles: dict[int, frozenset[int | None]] = field(default_factory=dict)  # technician of
    # person * SHIFT + induction: when the newest record happened, as the driver gives it, and
    # what it says; (person, assessment): the newest revision.
    records: dict[int, tuple[Any, str]] = field(default_factory=dict)
    acknowledged: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    briefed: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    used: list[tuple[int, int, Any]] = field(default_factory=list)  # person, machine, newest


def raw(session: Session, statement: AnySelect, **asked: Any) -> list[tuple[Any, ...]]:
    """Return the rows as the driver gives them."""
    found: Any = session.connection().execute(statement, asked).cursor
    return list(found.fetchall())


def load(
    session: Session,
    *,
    at: datetime,
    today: date,
    people: Iterable[int] | None = None,
    used: bool = True,
) -> People:
    """Return what is on record of these people, or of everybody who belongs here or will.

    Without ``used`` nobody's starts are looked through.
    """
    found = _people(session, at, people, today)
    only = None if people is None else set(found.ids)
    _roles(session, found, at, today)
    _records(session, found, at, only)
    found.acknowledged = _numbers(session, _ACKNOWLEDGED, at, only)
    found.briefed = _numbers(session, _BRIEFED, at, only)
    if used:
        found.used = raw(session, _USED.where(Start.occurred_at <= at, Start.recorded_at <= at))
    return found


def _of(statement: AnySelect, person_id: Any, only: set[int] | None) -> AnySelect:
    """Let the database leave out the others where few are asked for."""
    few = only is not None and len(only) <= FEW
    return statement.where(person_id.in_(only)) if few else statement


def _people(session: Session, at: datetime, people: Iterable[int] | None, today: date) -> People:
    of = aliased(Membership)
    latest = (
        select(func.max(of.id))
        .where(of.person_id == Person.id, of.recorded_at <= at)
        .correlate(Person)
        .scalar_subquery()
    )
    statement = (
        select(
            Person.id,
            Person.name,
            cast(Membership.starts_on, String),
            cast(Membership.ends_on, String),
            Person.erased_at.is_not(None),
            cast(Person.adult_on, String),
        )
        .outerjoin(Membership, Membership.id == latest)
        .order_by(Person.name, Person.id)
    )
    if people is None:
        ended = Membership.ends_on
        statement = statement.where(Person.erased_at.is_(None), ended.is_(None) | (ended >= today))
    else:
        statement = statement.where(Person.id.in_(list(people)))
    rows = raw(session, statement)
    return People(
        ids=[row[0] for row in rows],
        names=[row[1] for row in rows],
        spans=[(_day(row[2]), _day(row[3]), bool(row[4])) for row in rows],
        adult_on=[_day(row[5]) for row in rows],
    )


def _roles(session: Session, found: People, at: datetime, today: date) -> None:
    areas: dict[int, set[int | None]] = {}
    for person_id, area_id, ends_on in session.execute(
        select(RoleGrant.person_id, RoleGrant.area_id, RoleGrant.ends_on).where(
            RoleGrant.role == Role.TECHNICIAN, RoleGrant.recorded_at <= at, stands(RoleGrant)
        )
    ):
        if ends_on is None or ends_on >= today:
            areas.setdefault(person_id, set()).add(area_id)
    found.roles = {person: frozenset(of) for person, of in areas.items()}


def _records(session: Session, found: People, at: datetime, only: set[int] | None) -> None:
    """Keep the newest record of each pair: of two at the same instant, both."""
    latest: dict[int, tuple[Any, str]] = {}
    for pair, happened, said in raw(
        session,
        _of(_RECORDS, TrainingRecord.person_id, only).where(
            TrainingRecord.occurred_at <= at, TrainingRecord.recorded_at <= at
        ),
    ):
        before = latest.get(pair)
        if before is None or happened > before[0]:
            latest[pair] = (happened, said)
        elif happened == before[0]:
            latest[pair] = (happened, before[1] + TOGETHER + said)
    if only is not None:
        latest = {pair: each for pair, each in latest.items() if pair // SHIFT in only}
    found.records = latest


def told_apart(said: str) -> list[tuple[str, int, date | None]]:
    """Return result, revision and expiry of each record in such a text."""
    each = (one.split(APART) for one in said.split(TOGETHER))
    return [(result, int(number), _day(expires)) for result, number, expires in each]


_RECORDS = select(
    (TrainingRecord.person_id * SHIFT + TrainingRecord.induction_id).label("pair"),
    TrainingRecord.occurred_at,
    (
        cast(TrainingRecord.result, String)
        + APART
        + cast(TrainingRecord.revision_number, String)
        + APART
        + func.coalesce(cast(TrainingRecord.expires_on, String), "")
    ).label("said"),
)
_ACKNOWLEDGED = (
    select(Revision.assessment_id, Acknowledgement.person_id, func.max(Revision.number))
    .join(Revision, Revision.id == Acknowledgement.revision_id)
    .group_by(Revision.assessment_id, Acknowledgement.person_id)
)
_BRIEFED = (
    select(Revision.assessment_id, SignOff.person_id, func.max(Revision.number))
    .join(SignOffBriefing, SignOffBriefing.sign_off_id == SignOff.id)
    .join(Revision, Revision.id == SignOffBriefing.revision_id)
    .group_by(Revision.assessment_id, SignOff.person_id)
)
_USED = select(Start.person_id, Start.machine_id, func.max(Start.occurred_at)).group_by(
    Start.person_id, Start.machine_id
)


def _numbers(
    session: Session, statement: Any, at: datetime, only: set[int] | None
) -> dict[int, list[tuple[int, int]]]:
    """Return, for each assessment, who read or heard which revision of it last."""
    happened = Acknowledgement if statement is _ACKNOWLEDGED else SignOff
    by_assessment: dict[int, list[tuple[int, int]]] = {}
    asked = _of(statement, happened.person_id, only)
    for assessment, person, number in raw(
        session, asked.where(happened.occurred_at <= at, happened.recorded_at <= at)
    ):
        if only is None or person in only:
            by_assessment.setdefault(assessment, []).append((person, number))
    return by_assessment


def _day(written: str | None) -> date | None:
    return date.fromisoformat(written) if written else None
