"""Who and what is in the areas that a technician looks after, as their page shows it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit.log import note
from app.db import AnyRow
from app.machines.areas import terms_of_area
from app.machines.models import Area, Machine
from app.people.identity import Actor
from app.people.rights import Act
from app.presence.here import present
from app.presence.jobs import running_jobs
from app.presence.loans import loans_out
from app.presence.present import Being, Present

SOON = timedelta(minutes=15)  # about to run out: time to walk over and ask


@dataclass(frozen=True, kw_only=True)
class Use:
    """Somebody at work."""

    id: int
    person: str
    machine: str
    since: datetime
    until: datetime
    supervised: bool
    soon: bool  # it runs out in a moment


@dataclass(frozen=True, kw_only=True)
class Job:
    """A job that runs with nobody there."""

    row: AnyRow
    reach: str
    late: bool


@dataclass(frozen=True, kw_only=True)
class AreaNow:
    """One area now."""

    id: int
    name: str
    mine: Present | None  # the duty of whoever looks
    duty: tuple[tuple[int, str], ...]  # who is on duty, once each
    uses: tuple[Use, ...]
    partners: tuple[str, ...]
    people: int  # present in all, each once
    at_work: int
    capacity: int | None
    jobs: tuple[Job, ...]
    loans: tuple[AnyRow, ...]  # overdue first
    overdue: frozenset[int]

    @property
    def is_quiet(self) -> bool:
        return not (self.duty or self.uses or self.jobs or self.loans)


def areas_of(session: Session, me: Actor) -> list[Area]:
    """Return the areas in which somebody may supervise."""
    areas = session.execute(select(Area).order_by(Area.name)).scalars()
    return [area for area in areas if me.may(Act.SUPERVISE, area_id=area.id)]


def areas_now(session: Session, areas: Sequence[Area], me: Actor, *, at: datetime) -> list[AreaNow]:
    """Return how the areas stand: those of one's own duty first, then where something goes on."""
    ids = [area.id for area in areas]
    if not ids:
        return []
    about = present(session, ids, at=at)
    jobs, loans = running_jobs(session, ids, at=at), loans_out(session, ids, at=at)
    machines = _names(session, about.values())
    found = [
        _area(
            session,
            area,
            about[area.id],
            machines,
            [_job(session, row, at) for row in jobs if row.area_id == area.id],
            [row for row in loans if row.area_id == area.id],
            me=me,
            at=at,
        )
        for area in areas
    ]
    return sorted(found, key=lambda each: (each.mine is None, each.is_quiet))


def _names(session: Session, about: Iterable[tuple[Present, ...]]) -> dict[int, str]:
    ids = {each.machine_id for rows in about for each in rows if each.machine_id is not None}
    asked = select(Machine.id, Machine.name).where(Machine.id.in_(ids))
    return {row.id: row.name for row in session.execute(asked)}


def _job(session: Session, row: AnyRow, at: datetime) -> Job:
    reach = note(session, row.reach_digest) if row.reach_digest else None
    return Job(row=row, reach=reach or "", late=row.expected_end_at < at)


def _area(
    session: Session,
    area: Area,
    about: tuple[Present, ...],
    machines: dict[int, str],
    jobs: list[Job],
    loans: list[AnyRow],
    *,
    me: Actor,
    at: datetime,
) -> AreaNow:
    terms = terms_of_area(session, area.id)
    at_work = [each for each in about if each.being is Being.AT_WORK]
    on_duty = [each for each in about if each.being is Being.ON_DUTY]
    partners = [each for each in about if each.being is Being.PARTNER]
    return AreaNow(
        id=area.id,
        name=area.name,
        mine=max(
            (each for each in on_duty if each.person_id == me.id),
            key=lambda each: each.until,
            default=None,
        ),
        duty=tuple(sorted({(each.person_id, each.name) for each in on_duty}, key=lambda d: d[1])),
        uses=tuple(_use(each, machines, at) for each in sorted(at_work, key=lambda e: e.until)),
        partners=tuple(sorted({each.name for each in partners})),
        people=len({each.person_id for each in about}),
        at_work=len({each.person_id for each in (*at_work, *partners)}),
        capacity=terms.capacity if terms else None,
        jobs=tuple(jobs),
        loans=tuple(loans),
        overdue=frozenset(row.id for row in loans if row.due_at < at),
    )


def _use(each: Present, machines: dict[int, str], at: datetime) -> Use:
    return Use(
        id=each.use_id or 0,
        person=each.name,
        machine=machines.get(each.machine_id or 0, ""),
        since=each.since,
        until=each.until,
        supervised=each.supervised,
        soon=each.until - at <= SOON,
    )
