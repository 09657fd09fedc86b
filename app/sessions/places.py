"""Places in a session: given, waited for, given up, and what came of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import Refused
from app.planning.plan import Span
from app.sessions.asked import Asked, Taught, Who
from app.sessions.given import (
    Place,
    insist_it_stands,
    places_in,
    say,
    seated,
)
from app.sessions.ground import ground
from app.sessions.models import InductionSession, PlaceWord
from app.sessions.rules import wanting
from app.sessions.wall import minute_at

HAS_ONE = frozenset({PlaceWord.BOOKED, PlaceWord.WAITING, PlaceWord.ATTENDED})
CAME_OF_IT = frozenset({PlaceWord.ATTENDED, PlaceWord.ABSENT})
KEPT = frozenset({PlaceWord.BOOKED, *CAME_OF_IT})


def add_person(
    session: Session,
    given: InductionSession,
    person_id: int,
    *,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
) -> PlaceWord:
    """Give somebody a place, or let them wait where the session is full; return which.

    Raises:
        Refused: it is over or called off, they have a place, or cannot come to it.
    """
    insist_it_stands(session, given)
    if given.ends_at <= now:
        raise Refused("That session is over.", code="over")
    places = places_in(session, [given.id])[given.id]
    if any(place.person_id == person_id and place.word in HAS_ONE for place in places):
        raise Refused("They have a place here already, or wait for one.", code="has-place")
    why = list(cannot_come(session, given, person_id, now=now, zone=zone))
    if why:
        raise Refused(" ".join(why), code="cannot-come", status=422)
    full = len(seated(places)) >= given.places
    word = PlaceWord.WAITING if full else PlaceWord.BOOKED
    say(session, given, person_id, word, actor_id=actor_id, now=now)
    _log(session, "add", given, actor_id, now, person=person_id, word=word.value)
    return word


def withdraw(
    session: Session,
    given: InductionSession,
    person_id: int,
    *,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
) -> int | None:
    """Give up somebody's place; return who has it now, of those who waited.

    The first who waits and still can come. Nobody, once the session has begun.
    """
    insist_it_stands(session, given)
    places = places_in(session, [given.id])[given.id]
    own = next((place for place in places if place.person_id == person_id), None)
    if own is None or own.word not in (PlaceWord.BOOKED, PlaceWord.WAITING):
        raise Refused("They have no place here to give up.", code="no-place")
    say(session, given, person_id, PlaceWord.WITHDRAWN, actor_id=actor_id, now=now)
    _log(session, "withdraw", given, actor_id, now, person=person_id)
    free = len(seated(places)) - (own.word is PlaceWord.BOOKED) < given.places
    if own.word is not PlaceWord.BOOKED or not free or given.starts_at <= now:
        return None
    return _let_in(session, given, places, actor_id=actor_id, now=now, zone=zone)


def _let_in(
    session: Session,
    given: InductionSession,
    places: list[Place],
    *,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
) -> int | None:
    for place in waiting(places):
        if not any(cannot_come(session, given, place.person_id, now=now, zone=zone)):
            say(session, given, place.person_id, PlaceWord.BOOKED, actor_id=actor_id, now=now)
            _log(session, "let-in", given, actor_id, now, person=place.person_id)
            return place.person_id
    return None


def waiting(places: list[Place]) -> list[Place]:
    """Return who waits, whoever came first before the others."""
    return sorted(
        (place for place in places if place.word is PlaceWord.WAITING),
        key=lambda place: place.order,
    )


def take_attendance(
    session: Session,
    given: InductionSession,
    said: Mapping[int, PlaceWord],
    *,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
) -> int:
    """Record who attended and who was absent; return of how many that is news.

    It can be put right later: the latest word counts. It signs nobody off.
    """
    insist_it_stands(session, given)
    if local_date(now, zone) < local_date(given.starts_at, zone):
        raise Refused("Attendance is taken on the day.", code="too-early")
    own = {place.person_id: place.word for place in places_in(session, [given.id])[given.id]}
    news = {person: word for person, word in said.items() if own.get(person) is not word}
    for person, word in news.items():
        if word not in CAME_OF_IT or own.get(person) not in KEPT:
            raise Refused("Somebody there has no place in this session.", code="no-place")
        say(session, given, person, word, actor_id=actor_id, now=now)
    after = {**own, **news}
    if sum(word in (PlaceWord.BOOKED, PlaceWord.ATTENDED) for word in after.values()) > (
        given.places
    ):
        raise Refused(
            f"More people than the {given.places} places: a late one has the seat of somebody "
            "absent. Nothing was recorded.",
            code="full",
        )
    if news:
        _log(session, "attendance", given, actor_id, now, people=len(news))
    return len(news)


def cannot_come(
    session: Session,
    given: InductionSession,
    person_id: int,
    *,
    now: datetime,
    zone: ZoneInfo,
) -> Iterator[str]:
    """Yield why somebody cannot come to a session."""
    day = local_date(given.starts_at, zone)
    asked = Asked(
        courses=(Taught(induction=given.induction_id, minutes=1, group_most=1),),
        who=Who.LACKING,
        cohort=None,
        by=None,
        rooms=(),
    )
    on = ground(session, asked, day, day, [person_id], now=now, zone=zone)
    who, name = on.people.get(person_id), on.name(person_id)
    if who is None or not who.belongs_on(day):
        yield f"{name} does not belong here on {day.day} {day:%b}."
        return
    if person_id == given.technician_id:
        yield f"{name} cannot give it and learn it."
    over: set[int] = set()
    span = Span(minute_at(day, given.starts_at, zone), minute_at(day, given.ends_at, zone))
    for other in on.taken:
        if person_id not in other.people or other.id == given.id:
            continue
        title = on.title(other.induction)
        if other.induction == given.induction_id:
            yield f"{name} has a place in another “{title}”: that is given up first."
        elif other.span.meets(span):
            yield f"{name} is in “{title}” at the same time."
        elif other.span.end <= span.start:
            over.add(other.induction)
    yield from wanting(on, given.induction_id, person_id, day, over)


def _log(
    session: Session,
    what: str,
    given: InductionSession,
    actor_id: int,
    now: datetime,
    **detail: int | str,
) -> None:
    log.record(
        session,
        action=f"sessions:place:{what}",
        subject=f"induction_session:{given.id}",
        actor_id=actor_id,
        now=now,
        detail=detail,
    )
