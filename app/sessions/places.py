"""Places in a session: given, waited for, given up, and what came of them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import Refused
from app.sessions.coming import bars, own_bars, suspended
from app.sessions.given import (
    Place,
    ask_for_news,
    insist_it_stands,
    places_in,
    say,
    seated,
)
from app.sessions.learners import coming
from app.sessions.models import InductionSession, PlaceWord

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

    Whoever gives it to themself is asked the stricter rules.

    Raises:
        Refused: it is over or called off, they have a place, or cannot come to it.
    """
    insist_it_stands(session, given)
    if given.ends_at <= now:
        raise Refused("That session is over.", code="over")
    on = coming(session, [person_id], now=now, zone=zone, also=given)
    it, who = on.offered[given.id], on.learners[person_id]
    own = actor_id == person_id
    if who.words.get(given.id) in HAS_ONE:
        they = "You have" if own else "They have"
        raise Refused(f"{they} a place here already, or wait for one.", code="has-place")
    found = own_bars(on.taught, who, it, now=now) if own else bars(on.taught, who, it)
    if why := list(found):
        raise Refused(" ".join(bar.sentence for bar in why), code=why[0].code.value, status=422)
    word = PlaceWord.BOOKED if it.free else PlaceWord.WAITING
    say(session, given, person_id, word, actor_id=actor_id, now=now)
    _log(session, "book" if own else "add", given, actor_id, now, person=person_id, word=word.value)
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
    own = actor_id == person_id
    places = places_in(session, [given.id])[given.id]
    had = next((place for place in places if place.person_id == person_id), None)
    if had is None or had.word not in (PlaceWord.BOOKED, PlaceWord.WAITING):
        they = "You have" if own else "They have"
        raise Refused(f"{they} no place here to give up.", code="no-place")
    if own and given.starts_at <= now:
        raise Refused("It has begun: tell the technician there.", code="begun")
    say(session, given, person_id, PlaceWord.WITHDRAWN, actor_id=actor_id, now=now)
    _log(session, "give-back" if own else "withdraw", given, actor_id, now, person=person_id)
    free = len(seated(places)) - (had.word is PlaceWord.BOOKED) < given.places
    if had.word is not PlaceWord.BOOKED or not free or given.starts_at <= now:
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
    """Let the first in who waits, still can come and is not suspended."""
    queue = [place.person_id for place in waiting(places)]
    on = coming(session, queue, now=now, zone=zone, also=given)
    it = on.offered[given.id]
    for person_id in queue:
        who = on.learners[person_id]
        if not suspended(who, it) and not any(bars(on.taught, who, it)):
            say(session, given, person_id, PlaceWord.BOOKED, actor_id=actor_id, now=now)
            _log(session, "let-in", given, actor_id, now, person=person_id)
            ask_for_news(session, given, now=now)
            return person_id
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
