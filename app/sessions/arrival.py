"""Who is at the door: the person whose code was shown is here, booked or not."""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import Refused
from app.people.identity import Actor
from app.people.rights import Act
from app.sessions.coming import bars
from app.sessions.given import insist_it_stands, say, sessions_after
from app.sessions.learners import coming
from app.sessions.models import InductionSession, PlaceWord

# People come early: so long before it begins a session is among those that somebody came for.
DOOR_OPENS = timedelta(hours=1)


class Came(StrEnum):
    """What it was that somebody came."""

    BOOKED = "booked"  # they had a place
    BEFORE = "before"  # it was recorded already
    WALKED_IN = "walked in"  # they had none, and there was room


def arrive(
    session: Session,
    given: InductionSession,
    person_id: int,
    *,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
) -> Came:
    """Record that somebody is here. It signs nobody off.

    Whoever has no place is let in where there is room and nothing stands in the way. Whoever
    waits has no better right than they: they were not told to come.

    Raises:
        Refused: it is not today, it is full, or they cannot be taught it yet.
    """
    insist_it_stands(session, given)
    if local_date(now, zone) != local_date(given.starts_at, zone):
        raise Refused("Whoever comes is recorded on the day.", code="not-today")
    on = coming(session, [person_id], now=now, zone=zone, also=given)
    it, who = on.offered[given.id], on.learners[person_id]
    word = who.words.get(given.id)
    if word is PlaceWord.ATTENDED:
        return Came.BEFORE
    if word is not PlaceWord.BOOKED:
        if not it.free:
            raise Refused(
                f"It is full: {it.taken} of {it.places}. Record who is absent, and the seat is "
                "free.",
                code="full",
            )
        if why := " ".join(bar.sentence for bar in bars(on.taught, who, it)):
            raise Refused(why, code="cannot-come", status=422)
    say(session, given, person_id, PlaceWord.ATTENDED, actor_id=actor_id, now=now)
    log.record(
        session,
        action="sessions:place:arrive",
        subject=f"induction_session:{given.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": person_id, "booked": word is PlaceWord.BOOKED},
    )
    return Came.BOOKED if word is PlaceWord.BOOKED else Came.WALKED_IN


def opens_the_door(given: InductionSession, *, now: datetime) -> bool:
    """Say whether people come in now."""
    return given.starts_at <= now + DOOR_OPENS and given.ends_at > now


def at_the_door(
    session: Session, actor: Actor, *, now: datetime, zone: ZoneInfo
) -> list[InductionSession]:
    """Return the sessions of this hour whose attendance this technician may take, theirs first."""
    may = [
        row
        for row in sessions_after(session, now)
        if opens_the_door(row, now=now)
        and local_date(row.starts_at, zone) == local_date(now, zone)
        and actor.may(Act.PLAN_SESSIONS, area_id=row.area_id)
    ]
    return sorted(may, key=lambda row: row.technician_id != actor.id)
