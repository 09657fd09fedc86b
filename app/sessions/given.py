"""Sessions that are published: read, given, called off, and who stands how to them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.jobs import outbox
from app.machines.models import Area
from app.sessions.models import InductionSession, PlaceWord, SessionPlace

NEWS_JOB = "session-news"  # somebody who counted on a session is told what became of it
TAKES_A_SEAT = frozenset({PlaceWord.BOOKED, PlaceWord.ATTENDED})


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """How a person stands to a session: the latest word, and the order in which it was said."""

    person_id: int
    word: PlaceWord
    order: int


def session_or_404(session: Session, session_id: int) -> InductionSession:
    found = session.get(InductionSession, session_id)
    if found is None or found.ends_id is not None:
        raise NotFound("There is no such session.")
    return found


def ending_of(session: Session, given: InductionSession) -> InductionSession | None:
    """Return the row that called the session off, if one did."""
    return session.execute(
        select(InductionSession).where(InductionSession.ends_id == given.id)
    ).scalar_one_or_none()


def insist_it_stands(session: Session, given: InductionSession) -> None:
    if ending_of(session, given) is not None:
        raise Refused("That session was called off.", code="called-off")


def sessions_after(session: Session, at: datetime) -> list[InductionSession]:
    """Return the sessions that stand and are not over by then, in order of time."""
    return list(
        session.execute(
            select(InductionSession)
            .where(InductionSession.ends_at > at, stands(InductionSession))
            .order_by(InductionSession.starts_at, InductionSession.id)
        ).scalars()
    )


def places_in(session: Session, session_ids: Iterable[int]) -> Mapping[int, list[Place]]:
    """Return how people stand to these sessions, the first who was told so first. One statement."""
    latest = aliased(SessionPlace)
    newest = (
        select(func.max(latest.id))
        .where(latest.session_id.in_(list(session_ids)))
        .group_by(latest.session_id, latest.person_id)
    )
    found: dict[int, list[Place]] = defaultdict(list)
    for row in session.execute(
        select(SessionPlace).where(SessionPlace.id.in_(newest)).order_by(SessionPlace.id)
    ).scalars():
        found[row.session_id].append(Place(person_id=row.person_id, word=row.word, order=row.id))
    return found


def seated(places: Iterable[Place]) -> list[int]:
    """Return who takes a seat."""
    return [place.person_id for place in places if place.word in TAKES_A_SEAT]


def give(
    session: Session,
    *,
    induction_id: int,
    area: Area,
    technician_id: int,
    starts_at: datetime,
    ends_at: datetime,
    places: int,
    people: Iterable[int],
    actor_id: int,
    now: datetime,
) -> InductionSession:
    """Publish one session with its people. Whoever calls this has asked whether it can be."""
    row = InductionSession(
        induction_id=induction_id,
        area_id=area.id,
        place=", ".join(filter(None, (area.name, area.place))),
        technician_id=technician_id,
        starts_at=starts_at,
        ends_at=ends_at,
        places=places,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    people = list(people)
    for person_id in people:
        say(session, row, person_id, PlaceWord.BOOKED, actor_id=actor_id, now=now)
    log.record(
        session,
        action="sessions:session:give",
        subject=f"induction_session:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"induction": induction_id, "people": len(people)},
    )
    return row


def ask_for_news(session: Session, given: InductionSession, *, now: datetime) -> None:
    """Ask that those whom a change concerns are told, in the transaction that makes it."""
    key = f"{NEWS_JOB}:{given.id}:{now.isoformat()}"
    outbox.ask(session, NEWS_JOB, key=key, payload={}, now=now)


def say(
    session: Session,
    given: InductionSession,
    person_id: int,
    word: PlaceWord,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Add a word about a person's place. The entry in the log is the caller's."""
    session.add(
        SessionPlace(
            session_id=given.id,
            person_id=person_id,
            word=word,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    session.flush()  # the order of the rows is the order of the waiting


def call_off(
    session: Session, given: InductionSession, *, why: str, actor_id: int, now: datetime
) -> None:
    """Call a session off. Those who had places see why.

    The words may name somebody, so they are a private note. The row that ends the session
    takes no place, and keeps the digest of the note where a session keeps its place.
    """
    if not why.strip():
        raise Refused("Say why: those who had places read it.", code="reason-missing", status=422)
    insist_it_stands(session, given)
    words = {place.word for place in places_in(session, [given.id])[given.id]}
    if words & {PlaceWord.ATTENDED, PlaceWord.ABSENT} or given.ends_at <= now:
        raise Refused("That session was held: it cannot be called off.", code="held")
    session.add(
        InductionSession(
            induction_id=given.induction_id,
            area_id=given.area_id,
            place=log.keep_note(session, why, now=now) or "",
            technician_id=given.technician_id,
            starts_at=given.starts_at,
            ends_at=given.ends_at,
            places=given.places,
            ends_id=given.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="sessions:session:call-off",
        subject=f"induction_session:{given.id}",
        actor_id=actor_id,
        now=now,
    )
    ask_for_news(session, given, now=now)
