"""Areas on the register: added, described, closed to everybody and opened again."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.machines.models import Area, AreaClosure, AreaTerms

MOST_PEOPLE = 1000


def area_or_404(session: Session, area_id: int) -> Area:
    area = session.get(Area, area_id)
    if area is None:
        raise NotFound("There is no such area.")
    return area


def add_area(
    session: Session, *, name: str, place: str, help: str, actor_id: int, now: datetime
) -> Area:
    """Put a room or bay on the register."""
    area = Area(name=_named(session, name, other_than=None), place=place, help=help)
    session.add(area)
    _log(session, "machines:area:add", area, actor_id, now)
    return area


def describe_area(
    session: Session, area: Area, *, name: str, place: str, help: str, actor_id: int, now: datetime
) -> None:
    """Change how an area is called and found."""
    area.name = _named(session, name, other_than=area.id)
    area.place, area.help = place, help
    _log(session, "machines:area:describe", area, actor_id, now)


def _named(session: Session, name: str, *, other_than: int | None) -> str:
    if not name.strip():
        raise Refused("An area needs a name.", code="name-missing", status=422)
    if len(name) > 200:
        raise Refused("A name has at most 200 characters.", code="name-long", status=422)
    taken = session.execute(select(Area.id).where(Area.name == name)).scalar_one_or_none()
    if taken not in (None, other_than):
        raise Refused(f"There is an area called {name} already.", code="name-taken", status=422)
    return name


def terms_of_area(session: Session, area_id: int) -> AreaTerms | None:
    """Return how many the area holds and how many one supervisor watches, if anybody said."""
    return session.execute(
        select(AreaTerms).where(AreaTerms.area_id == area_id).order_by(AreaTerms.id.desc()).limit(1)
    ).scalar_one_or_none()


def set_terms(
    session: Session,
    area: Area,
    *,
    capacity: int | None,
    people_per_supervisor: int | None,
    actor_id: int,
    now: datetime,
) -> AreaTerms:
    """Say how many people an area holds at work, and how many one supervisor can watch."""
    for number, what in ((capacity, "capacity"), (people_per_supervisor, "ratio")):
        if number is not None and not 1 <= number <= MOST_PEOPLE:
            raise Refused(
                f"The {what} is a whole number from 1 to {MOST_PEOPLE}, or empty for no rule.",
                code="number",
                status=422,
            )
    row = AreaTerms(
        area_id=area.id,
        capacity=capacity,
        people_per_supervisor=people_per_supervisor,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    _log(session, "machines:area:terms", area, actor_id, now)
    return row


def open_closures(session: Session, area_id: int) -> list[AreaClosure]:
    """Return what keeps the area closed to everybody, oldest first."""
    return list(
        session.execute(
            select(AreaClosure)
            .where(AreaClosure.area_id == area_id, stands(AreaClosure))
            .order_by(AreaClosure.id)
        ).scalars()
    )


def close_area(
    session: Session, area: Area, *, why: str, actor_id: int, now: datetime
) -> AreaClosure:
    """Close an area to everybody at once: a spill, an alarm, cleaning, an event."""
    if not why.strip():
        raise Refused("Say why the area is closed.", code="reason-missing", status=422)
    row = AreaClosure(
        area_id=area.id, why=why, recorded_by_id=actor_id, occurred_at=now, recorded_at=now
    )
    session.add(row)
    _log(session, "machines:area:close", area, actor_id, now)
    return row


def open_area(
    session: Session, closure: AreaClosure, *, checks: str, actor_id: int, now: datetime
) -> AreaClosure:
    """Open an area again after the named checks."""
    if not checks.strip():
        raise Refused(
            "Name what was looked at before the area opens.", code="checks-missing", status=422
        )
    ended = select(AreaClosure.id).where(AreaClosure.ends_id == closure.id)
    if closure.ends_id is not None or session.execute(ended).first():
        raise Refused("That closure has ended already.", code="ended")
    row = AreaClosure(
        area_id=closure.area_id,
        why=checks,
        ends_id=closure.id,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    _log(session, "machines:area:open", session.get_one(Area, closure.area_id), actor_id, now)
    return row


def _log(session: Session, action: str, area: Area, actor_id: int, now: datetime) -> None:
    session.flush()
    log.record(session, action=action, subject=f"area:{area.id}", actor_id=actor_id, now=now)
