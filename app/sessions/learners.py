"""The sessions to come and the people who would come, read for the rules of `coming`."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import day_begins, local_date
from app.db import stands
from app.inductions.catalogue import Catalogue, catalogue_now
from app.people.identity import identities
from app.sessions.coming import Learner, Offered
from app.sessions.given import TAKES_A_SEAT, Place, places_in, seated, sessions_after
from app.sessions.ground import current_in
from app.sessions.models import InductionSession, PlaceWord
from app.training.models import Suspension


@dataclass(frozen=True, kw_only=True)
class Coming:
    """The sessions that stand, from today on, and some people with what decides about them."""

    taught: Catalogue
    offered: Mapping[int, Offered]  # in order of time
    places: Mapping[int, list[Place]]
    learners: Mapping[int, Learner]


def coming(
    session: Session,
    people: Iterable[int],
    *,
    now: datetime,
    zone: ZoneInfo,
    also: InductionSession | None = None,  # asked about, though its day be past
) -> Coming:
    """Read what decides whether these people can come to a session. Six statements."""
    asked, today, taught = sorted(set(people)), local_date(now, zone), catalogue_now(session)
    rows = sessions_after(session, day_begins(today, zone))
    if also is not None and also.id not in {row.id for row in rows}:
        rows = [also, *rows]
    places = places_in(session, [row.id for row in rows])
    offered = {row.id: _offered(row, places.get(row.id, []), zone) for row in rows}
    known = identities(session, asked, today)
    held: dict[int, dict[int, date | None]] = defaultdict(dict)
    for (person, induction), until in current_in(
        session, asked, taught, taught, now=now, today=today
    ).items():
        held[person][induction] = until
    areas: dict[int, set[int]] = defaultdict(set)
    for person, area in session.execute(
        select(Suspension.person_id, Suspension.area_id).where(
            Suspension.person_id.in_(asked), stands(Suspension)
        )
    ):
        if area is not None:
            areas[person].add(area)
    words: dict[int, dict[int, PlaceWord]] = defaultdict(dict)
    for session_id, those in places.items():
        for place in those:
            words[place.person_id][session_id] = place.word
    return Coming(
        taught=taught,
        offered=offered,
        places=places,
        learners={
            person: Learner(
                who=known[person],
                held=held[person],
                words=words[person],
                places=tuple(
                    it for it in offered.values() if words[person].get(it.id) in TAKES_A_SEAT
                ),
                gives=tuple(it for it in offered.values() if it.technician == person),
                suspended_in=frozenset(areas[person]),
            )
            for person in asked
            if person in known
        },
    )


def _offered(row: InductionSession, places: list[Place], zone: ZoneInfo) -> Offered:
    return Offered(
        id=row.id,
        induction=row.induction_id,
        area=row.area_id,
        technician=row.technician_id,
        starts_at=row.starts_at,
        ends_at=row.ends_at,
        day=local_date(row.starts_at, zone),
        places=row.places,
        taken=len(seated(places)),
        waiting=sum(place.word is PlaceWord.WAITING for place in places),
    )
