"""A term to be planned: newcomers, a room, technicians with hours, and what is done with them."""

from __future__ import annotations

from datetime import date, timedelta

from sqlalchemy import select

from app.clock import FixedClock
from app.db import Database
from app.inductions.models import Induction
from app.jobs.worker import work_once
from app.machines.areas import set_terms
from app.machines.models import Area
from app.people.models import Cohort, CohortMember, Person
from app.sessions.asked import Asked, Taught, Who
from app.sessions.models import InductionSession, SessionPlace, TermPlan
from app.sessions.proposal import Planned, Proposal, read_proposal
from app.sessions.propose import handlers
from app.sessions.teaching import give_hours
from app.sessions.term_plan import begin
from tests.factories import NOW, Workshop

MONDAY = date(2026, 3, 16)  # after the fixed now of the tests, a Tuesday
WORK = 3.0  # of the solver's own units: enough for what is asked here


def room(shop: Workshop, name: str = "Teaching bay", seats: int = 8) -> Area:
    area = shop.area(name)
    with shop.database.write() as session:
        set_terms(
            session,
            area,
            capacity=seats,
            people_per_supervisor=None,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    return area


def hours(
    shop: Workshop,
    technician: Person,
    opens: str = "09:00",
    closes: str = "12:00",
    *,
    first_on: date = MONDAY,
    days: int = 1,
) -> None:
    with shop.database.write() as session:
        give_hours(
            session,
            person_id=technician.id,
            first_on=first_on,
            last_on=first_on + timedelta(days=days - 1),
            weekdays=frozenset(),
            opens=opens,
            closes=closes,
            now=shop.now,
            today=NOW.date(),
        )


def cohort(shop: Workshop, *people: Person, name: str = "Newcomers") -> Cohort:
    with shop.database.write() as session:
        found = Cohort(name=name, starts_on=MONDAY)
        session.add(found)
        session.flush()
        session.add_all(CohortMember(cohort_id=found.id, person_id=it.id) for it in people)
    return found


def asked(
    of: Cohort | None,
    rooms: list[Area],
    *inductions: Induction,
    minutes: int = 60,
    most: int = 8,
    least: int = 1,
    who: Who | None = None,
    by: date | None = None,
) -> Asked:
    return Asked(
        courses=tuple(
            Taught(induction=it.id, minutes=minutes, group_most=most, group_least=least)
            for it in inductions
        ),
        who=who or (Who.COHORT if of else Who.LACKING),
        cohort=of.id if of else None,
        by=by,
        rooms=tuple(area.id for area in rooms),
    )


def begun(shop: Workshop, wanted: Asked, *, days: int = 5) -> int:
    with shop.database.write() as session:
        return begin(
            session,
            name="Spring term",
            first_on=MONDAY,
            last_on=MONDAY + timedelta(days=days - 1),
            asked=wanted,
            actor_id=shop.author.id,
            now=shop.now,
        ).id


def proposed(shop: Workshop, wanted: Asked, *, days: int = 5) -> int:
    """Begin a plan and let the worker propose it, by the solver."""
    plan_id = begun(shop, wanted, days=days)
    worked(shop.database, shop.clock)
    return plan_id


def worked(database: Database, clock: FixedClock) -> None:
    while work_once(database, clock, _all(database, clock)):
        pass


class task_of:  # noqa: N801
    """What a handler is given, outside any worker: it may tell what it likes."""

    def __init__(self, payload: dict[str, int]) -> None:
        self.payload = payload

    def tell(self, *_: object) -> None:
        pass


def _all(database: Database, clock: FixedClock):
    made = {"risk-assessment-print": lambda _payload: None, "machine-label": lambda _payload: None}
    return made | handlers(database, clock, work=WORK)


def by_hand(shop: Workshop, plan_id: int, proposal: Proposal) -> None:
    """Keep a proposal as the worker would, without the solver."""
    with shop.database.write() as session:
        plan = session.get_one(TermPlan, plan_id)
        plan.proposed = proposal.as_json()
        plan.version += 1


def plan_of(shop: Workshop, plan_id: int) -> TermPlan:
    with shop.database.read() as session:
        return session.get_one(TermPlan, plan_id)


def proposal(shop: Workshop, plan_id: int) -> Proposal:
    return read_proposal(plan_of(shop, plan_id).proposed or {})


def only_session(shop: Workshop, plan_id: int) -> Planned:
    (it,) = proposal(shop, plan_id).sessions
    return it


def published(shop: Workshop) -> list[InductionSession]:
    with shop.database.read() as session:
        return list(
            session.execute(
                select(InductionSession)
                .where(InductionSession.ends_id.is_(None))
                .order_by(InductionSession.starts_at, InductionSession.id)
            ).scalars()
        )


def words(shop: Workshop) -> list[tuple[int, int, str]]:
    """Return every word about a place: session, person, word; in the order they were said."""
    with shop.database.read() as session:
        rows = session.execute(select(SessionPlace).order_by(SessionPlace.id)).scalars()
        return [(row.session_id, row.person_id, row.word.value) for row in rows]
