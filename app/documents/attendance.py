"""The attendance sheet of one session, to be signed before it and to be kept after it."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.db import by_then
from app.documents.asked import Asked, head_of, site_then
from app.documents.standing_then import Moment, authority_words
from app.errors import NotFound
from app.inductions.catalogue import catalogue_now
from app.machines.models import Area
from app.people.models import Person
from app.sessions.models import InductionSession, PlaceWord, SessionPlace
from app.training.models import Ground, TrainingRecord
from assessments.document.attendance_sheet import AttendanceSheet, Attendant

SPARE = 4  # lines for those who come without a place


def attendance_sheet(session: Session, asked: Asked) -> AttendanceSheet:
    """Return a session with those who have a place in it, or had."""
    row = session.execute(
        select(InductionSession).where(
            InductionSession.id == asked.subject,
            InductionSession.ends_id.is_(None),
            *by_then(InductionSession, asked.at, asked.known),
        )
    ).scalar_one_or_none()
    if row is None:
        raise NotFound("There is no such session, or there was none at that moment.")
    place = site_then(session, asked)
    now = Moment(at=asked.at, known=asked.known, zone=place.tz)
    called_off = session.execute(
        select(InductionSession.id).where(
            InductionSession.ends_id == row.id, *by_then(InductionSession, now.at, now.known)
        )
    ).first()
    entry = catalogue_now(session)[row.induction_id]
    published = entry.published_by(row.starts_at)
    to_sign = row.ends_at > asked.at and called_off is None
    people = _people(session, row, now)
    area = session.get_one(Area, row.area_id).name
    return AttendanceSheet(
        head=head_of(place, asked, reference=f"Session {row.id}", title=entry.title),
        induction=entry.title,
        revision=published[-1].number if published else entry.publications[-1].number,
        starts_at=row.starts_at.astimezone(place.tz),
        ends_at=row.ends_at.astimezone(place.tz),
        area=area,
        place="" if row.place == area else row.place,
        given_by=session.get_one(Person, row.technician_id).name,
        authority=authority_words(session, row.technician_id, row.induction_id, now),
        places=row.places,
        called_off=called_off is not None,
        to_sign=to_sign,
        attendants=tuple(
            each for word, each in people if word not in (PlaceWord.WAITING, PlaceWord.WITHDRAWN)
        ),
        waiting=tuple(each for word, each in people if word is PlaceWord.WAITING),
        spare_lines=SPARE if to_sign else 0,
    )


def _people(
    session: Session, row: InductionSession, now: Moment
) -> list[tuple[PlaceWord, Attendant]]:
    """Return everybody of the session by name; those who wait in the order of their turn."""
    latest: dict[int, SessionPlace] = {}
    for each in session.execute(
        select(SessionPlace)
        .where(SessionPlace.session_id == row.id, *by_then(SessionPlace, now.at, now.known))
        .order_by(SessionPlace.id)
    ).scalars():
        latest[each.person_id] = each
    names = {
        person.id: person.name
        for person in session.execute(
            select(Person.id, Person.name).where(Person.id.in_(list(latest)))
        )
    }
    results = _results(session, row, list(latest), now)
    in_order = sorted(
        latest.values(),
        key=lambda each: (
            (1, each.id, "")
            if each.word is PlaceWord.WAITING
            else (0, 0, names[each.person_id].casefold())
        ),
    )
    return [
        (
            each.word,
            Attendant(
                name=names[each.person_id],
                number=each.person_id,
                word=each.word.value,
                result=results.get(each.person_id, ""),
            ),
        )
        for each in in_order
    ]


def _results(
    session: Session, row: InductionSession, people: list[int], now: Moment
) -> dict[int, str]:
    """Return what sign-offs of that day in that induction came to."""
    day = local_date(row.starts_at, now.zone)
    rows = session.execute(
        select(TrainingRecord)
        .where(
            TrainingRecord.induction_id == row.induction_id,
            TrainingRecord.person_id.in_(people),
            TrainingRecord.ground == Ground.SIGN_OFF,
            *by_then(TrainingRecord, now.at, now.known),
        )
        .order_by(TrainingRecord.occurred_at, TrainingRecord.id)
    ).scalars()
    return {
        each.person_id: each.result.value
        for each in rows
        if local_date(each.occurred_at, now.zone) == day
    }
