"""Why somebody cannot be erased yet, and from which day on they can."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.db import AnySelect, stands
from app.faults.models import Report
from app.hazards.models import ExaminationReport
from app.people.models import Membership, Person, RoleGrant, Visit
from app.presence.models import Booking, Loan, Start, UnattendedJob, UseFinished
from app.retention.keeps import kept
from app.retention.people import whole_person
from app.retention.schedule import kinds
from app.site import site
from app.training.models import PersonMark, Suspension
from app.transfer.models import PeopleList
from app.transfer.words import Phase


@dataclass(frozen=True, kw_only=True)
class Obstacle:
    """One reason. The day is the first on which it is over; None: when somebody ends it."""

    says: str
    until: date | None = None


@dataclass(frozen=True, kw_only=True)
class _Asked:
    session: Session
    ids: list[int]
    now: datetime
    zone: ZoneInfo
    regime: str | None

    @property
    def today(self) -> date:
        return local_date(self.now, self.zone)

    def any(self, statement: AnySelect) -> bool:
        return self.session.execute(statement.limit(1)).first() is not None


def obstacles(session: Session, person_id: int, *, now: datetime) -> list[Obstacle]:
    """Return what is in the way of erasing somebody; empty: nothing."""
    settings = site(session)
    asked = _Asked(
        session=session,
        ids=whole_person(session, person_id),
        now=now,
        zone=settings.tz,
        regime=settings.regime,
    )
    return [each for ask in _ASKED for each in ask(asked)]


def erasable_on(found: list[Obstacle]) -> date | None:
    """Return the day on which nothing is in the way any more; None: nobody knows yet."""
    days = [each.until for each in found if each.until is not None]
    return max(days) if days and len(days) == len(found) else None


def _belongs(asked: _Asked) -> Iterator[Obstacle]:
    latest = select(func.max(Membership.id)).where(Membership.person_id.in_(asked.ids))
    for row in asked.session.execute(
        select(Membership).where(Membership.id.in_(latest.group_by(Membership.person_id)))
    ).scalars():
        if row.ends_on is None:
            yield Obstacle(says="They belong here, and no end is on record: end their time first.")
        elif row.ends_on >= asked.today:
            yield Obstacle(says="They belong here.", until=row.ends_on + timedelta(days=1))
    days = asked.session.execute(
        select(func.max(Visit.day)).where(Visit.person_id.in_(asked.ids), stands(Visit))
    ).scalar_one()
    if days is not None and days >= asked.today:
        yield Obstacle(says="They are somebody’s guest.", until=days + timedelta(days=1))


def _holds_a_role(asked: _Asked) -> Iterator[Obstacle]:
    ends = or_(RoleGrant.ends_on.is_(None), RoleGrant.ends_on >= asked.today)
    if asked.any(
        select(RoleGrant.id).where(RoleGrant.person_id.in_(asked.ids), stands(RoleGrant), ends)
    ):
        yield Obstacle(says="They hold a role: end it first.")


def _is_barred(asked: _Asked) -> Iterator[Obstacle]:
    for model, says in (
        (Suspension, "They are suspended: restore them, or keep them barred by keeping the name."),
        (PersonMark, "A mark says that they speak to a technician first: end it first."),
    ):
        if asked.any(select(model.id).where(model.person_id.in_(asked.ids), stands(model))):
            yield Obstacle(says=says)


def _is_at_it(asked: _Asked) -> Iterator[Obstacle]:
    using = select(Start.id).where(
        Start.person_id.in_(asked.ids),
        Start.runs_out_at > asked.now,
        Start.id.not_in(select(UseFinished.start_id)),
    )
    lent = select(Loan.id).where(Loan.person_id.in_(asked.ids), stands(Loan))
    alone = select(UnattendedJob.id).where(
        or_(UnattendedJob.person_id.in_(asked.ids), UnattendedJob.contact_id.in_(asked.ids)),
        stands(UnattendedJob),
    )
    booked = select(Booking.id).where(
        Booking.person_id.in_(asked.ids), Booking.ends_at > asked.now, stands(Booking)
    )
    for statement, says in (
        (using, "They are at a machine: wait until they have finished."),
        (lent, "They have a tool on loan: bring it back first."),
        (alone, "A job that runs alone is theirs, or names them as its contact: end it first."),
        (booked, "They have a booking: take it back first."),
    ):
        if asked.any(statement):
            yield Obstacle(says=says)


def _is_kept(asked: _Asked) -> Iterator[Obstacle]:
    if kept(asked.session).of("person") & set(asked.ids):
        yield Obstacle(
            says="They are kept: a mark says that a claim needs it, or they were part of an "
            "incident that nobody has closed."
        )


def _law_names_them(asked: _Asked) -> Iterator[Obstacle]:
    """Tell of records that a law asks for by name, for as long as it does."""
    reported = select(func.max(Report.recorded_at)).where(Report.reporter_id.in_(asked.ids))
    examined = select(func.max(ExaminationReport.recorded_at)).where(
        or_(
            ExaminationReport.recorded_by_id.in_(asked.ids),
            *(
                ExaminationReport.examiner.icontains(name, autoescape=True)
                for name in asked.session.execute(
                    select(Person.name).where(Person.id.in_(asked.ids))
                ).scalars()
            ),
        )
    )
    for key, statement, says in (
        ("reports", reported, "They reported something, and a report names who made it"),
        ("checks", examined, "They stand under a report of a thorough examination"),
    ):
        law = kinds()[key].least(asked.regime)
        latest = asked.session.execute(statement).scalar_one()
        if law is None or latest is None:
            continue
        until = law.span.after(local_date(latest, asked.zone))
        if until > asked.today:
            yield Obstacle(says=f"{says}: {law.source} ({law.status}).", until=until)


def _is_in_a_list(asked: _Asked) -> Iterator[Obstacle]:
    if asked.any(select(PeopleList.id).where(PeopleList.phase == Phase.APPLYING)):
        yield Obstacle(says="A list of people is being applied: wait until that is done.")


_ASKED: tuple[Callable[[_Asked], Iterator[Obstacle]], ...] = (
    _belongs,
    _holds_a_role,
    _is_barred,
    _is_at_it,
    _is_kept,
    _law_names_them,
    _is_in_a_list,
)
