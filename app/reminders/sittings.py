"""Sessions that have not begun: who has a place, who was let in, who counted on one that is off."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.inductions.catalogue import Catalogue
from app.reminders.known import Sitting
from app.sessions.models import InductionSession, PlaceWord, SessionPlace

COUNTED_ON = frozenset({PlaceWord.BOOKED, PlaceWord.WAITING})
NEAR = timedelta(days=90)  # nobody is reminded of what is farther off; the news of it is told then


def sittings(session: Session, taught: Catalogue, *, at: datetime) -> list[Sitting]:
    """Return the sessions of the next weeks that have not begun. Two statements."""
    rows = list(
        session.execute(
            select(InductionSession)
            .where(InductionSession.starts_at > at, InductionSession.starts_at <= at + NEAR)
            .order_by(InductionSession.starts_at, InductionSession.id)
        ).scalars()
    )
    off = {row.ends_id for row in rows if row.ends_id is not None}
    words = _words(session, [row.id for row in rows if row.ends_id is None])
    found = []
    for row in rows:
        if row.ends_id is not None:
            continue
        own = words.get(row.id, {})
        called_off = row.id in off
        keeps = COUNTED_ON if called_off else {PlaceWord.BOOKED}
        found.append(
            Sitting(
                id=row.id,
                title=taught[row.induction_id].title,
                place=row.place,
                starts_at=row.starts_at,
                technician_id=row.technician_id,
                booked=frozenset(person for person, said in own.items() if said[-1].word in keeps),
                moved_up=frozenset(_moved_up(own)),
                called_off=called_off,
            )
        )
    return found


def _words(
    session: Session, session_ids: Iterable[int]
) -> Mapping[int, dict[int, list[SessionPlace]]]:
    """Return what was said of each person's place in each session, in order."""
    found: dict[int, dict[int, list[SessionPlace]]] = defaultdict(lambda: defaultdict(list))
    for row in session.execute(
        select(SessionPlace)
        .where(SessionPlace.session_id.in_(list(session_ids)))
        .order_by(SessionPlace.id)
    ).scalars():
        found[row.session_id][row.person_id].append(row)
    return found


def _moved_up(own: Mapping[int, list[SessionPlace]]) -> Iterable[tuple[int, int]]:
    """Give who has a place that they waited for, with the row that gave it.

    Whoever was let in by their own hand knows it; the word of a technician counts as news.
    """
    for person_id, said in own.items():
        if [row.word for row in said[-2:]] == [PlaceWord.WAITING, PlaceWord.BOOKED] and (
            said[-1].recorded_by_id != person_id
        ):
            yield person_id, said[-1].id
