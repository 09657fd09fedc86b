"""A person's sessions as events of their calendar: those they come to, and those they give."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.inductions.catalogue import catalogue_now
from app.people.models import Person
from app.sessions.calendar import Appointment
from app.sessions.models import InductionSession, PlaceWord, SessionPlace

# Beside the last word of somebody about a session: how many there were.
Said = tuple[PlaceWord, int, datetime]


def appointments(
    session: Session,
    person_id: int,
    *,
    public_url: str,
    after: datetime | None = None,
    only: int | None = None,
) -> list[Appointment]:
    """Return the sessions that end after a moment, or one of them, in order of time.

    What was called off or given back stays in as cancelled, so that a calendar learns of it.
    Four statements.
    """
    said = _said(session, person_id)
    asked = select(InductionSession).where(
        InductionSession.ends_id.is_(None),
        or_(InductionSession.technician_id == person_id, InductionSession.id.in_(list(said))),
    )
    if after is not None:
        asked = asked.where(InductionSession.ends_at > after)
    if only is not None:
        asked = asked.where(InductionSession.id == only)
    rows = list(
        session.execute(asked.order_by(InductionSession.starts_at, InductionSession.id)).scalars()
    )
    off = _called_off(session, [row.id for row in rows])
    names = _names(session, {row.technician_id for row in rows})
    taught = catalogue_now(session)
    return [
        _appointment(
            row,
            said.get(row.id),
            off.get(row.id),
            title=taught[row.induction_id].title,
            technician=names[row.technician_id],
            public_url=public_url,
        )
        for row in rows
    ]


def _said(session: Session, person_id: int) -> dict[int, Said]:
    """Return a person's last word about each session, how many words there were, and when."""
    count: dict[int, int] = {}
    last: dict[int, tuple[PlaceWord, datetime]] = {}
    for session_id, word, recorded_at in session.execute(
        select(SessionPlace.session_id, SessionPlace.word, SessionPlace.recorded_at)
        .where(SessionPlace.person_id == person_id)
        .order_by(SessionPlace.id)
    ):
        count[session_id] = count.get(session_id, 0) + 1
        last[session_id] = (word, recorded_at)
    return {each: (word, count[each], at) for each, (word, at) in last.items()}


def _called_off(session: Session, ids: Iterable[int]) -> dict[int, datetime]:
    return {
        row.ends_id: row.recorded_at
        for row in session.execute(
            select(InductionSession.ends_id, InductionSession.recorded_at).where(
                InductionSession.ends_id.in_(list(ids))
            )
        )
        if row.ends_id is not None
    }


def _names(session: Session, people: Iterable[int]) -> dict[int, str]:
    rows = session.execute(select(Person.id, Person.name).where(Person.id.in_(list(people))))
    return {row.id: row.name for row in rows}


def _appointment(
    row: InductionSession,
    said: Said | None,
    called_off_at: datetime | None,
    *,
    title: str,
    technician: str,
    public_url: str,
) -> Appointment:
    word, count, at = said if said is not None else (None, 1, row.recorded_at)
    off = called_off_at is not None or word is PlaceWord.WITHDRAWN
    words = f"Given by {technician}." if word is not None else "You give it."
    if word is PlaceWord.WAITING:
        words += " You wait for a place."
    return Appointment(
        session_id=row.id,
        made_at=row.recorded_at,
        changed_at=max(at, called_off_at or at),
        changes=count - 1 + (called_off_at is not None),
        title=title,
        place=row.place,
        words=words,
        url=f"{public_url}/sessions/{row.id}",
        starts_at=row.starts_at,
        ends_at=row.ends_at,
        sure=word is not PlaceWord.WAITING,
        called_off=off,
    )
