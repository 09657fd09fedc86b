"""What is in a calendar, and who may read it: its address is asked anew at each look."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.db import stands
from app.errors import NotFound
from app.inductions.catalogue import catalogue_now
from app.machines.models import Area
from app.people.identity import identities
from app.people.rights import Act, may
from app.reminders.calendars import AllDay, calendar_of
from app.reminders.gather import known
from app.reminders.known import Duty, Known
from app.reminders.models import CalendarFeed
from app.sessions.appointments import appointments
from app.sessions.calendar import Appointment
from app.sessions.models import InductionSession
from app.site import Site

LOOKS_BACK = timedelta(days=30)
LOOKS_AHEAD = timedelta(days=400)


def open_feed(
    session: Session, *, person_id: int, area_id: int | None, now: datetime
) -> CalendarFeed:
    """Give somebody an address for a calendar; the one they had for it is worth nothing then."""
    for row in feeds_of(session, person_id):
        if row.area_id == area_id:
            close_feed(session, row, now=now)
    row = CalendarFeed(person_id=person_id, area_id=area_id, recorded_at=now)
    session.add(row)
    session.flush()
    _log(session, "open", row, now)
    return row


def close_feed(session: Session, row: CalendarFeed, *, now: datetime) -> None:
    """End an address for good."""
    session.add(
        CalendarFeed(person_id=row.person_id, area_id=row.area_id, ends_id=row.id, recorded_at=now)
    )
    session.flush()
    _log(session, "close", row, now)


def feeds_of(session: Session, person_id: int) -> list[CalendarFeed]:
    """Return the addresses that somebody has."""
    return list(
        session.execute(
            select(CalendarFeed)
            .where(CalendarFeed.person_id == person_id, stands(CalendarFeed))
            .order_by(CalendarFeed.id)
        ).scalars()
    )


def feed_or_404(session: Session, feed_id: int, *, now: datetime, site: Site) -> CalendarFeed:
    """Return what an address names, while it stands and its owner may see what is in it.

    Their right is asked anew each time: who leaves, or no longer looks after the area, reads
    nothing more of it.
    """
    row = session.execute(
        select(CalendarFeed).where(CalendarFeed.id == feed_id, stands(CalendarFeed))
    ).scalar_one_or_none()
    if row is not None:
        today = local_date(now, site.tz)
        who = identities(session, [row.person_id], today).get(row.person_id)
        if who is not None and who.belongs_on(today):
            looks_after = not who.suspended and may(who.grants, Act.CHECK, area_id=row.area_id)
            if row.area_id is None or looks_after:
                return row
    raise NotFound("There is no such calendar, or it was ended.")


def written(
    session: Session, feed: CalendarFeed, *, now: datetime, site: Site, public_url: str
) -> bytes:
    """Return the calendar behind an address."""
    if feed.area_id is None:
        return _own(session, feed.person_id, now=now, site=site, public_url=public_url)
    return _of_area(session, feed.area_id, now=now, site=site, public_url=public_url)


def _own(session: Session, person_id: int, *, now: datetime, site: Site, public_url: str) -> bytes:
    """Their sessions, what runs out for them, and what is theirs to do."""
    all_of_it = known(session, now=now, site=site, only=person_id)
    days = [
        AllDay(
            subject=f"{person_id} induction {induction_id}",
            on=until,
            title=f"{all_of_it.inductions[induction_id]} runs out",
            words="It counts through this day. Ask for the refresher before then.",
            url=f"{public_url}/me",
        )
        for who, induction_id, until in all_of_it.runs_out
        if who == person_id and until <= local_date(now, site.tz) + LOOKS_AHEAD
    ]
    mine = [duty for duty in all_of_it.duties if person_id in _theirs(duty)]
    sittings = appointments(session, person_id, public_url=public_url, after=now - LOOKS_BACK)
    return calendar_of(site.name, sittings, [*days, *_duties(mine, public_url)], now=now)


def _theirs(duty: Duty) -> frozenset[int]:
    return duty.told.owners or duty.told.technicians or duty.told.approvers


def _of_area(
    session: Session, area_id: int, *, now: datetime, site: Site, public_url: str
) -> bytes:
    """Checks, examinations, reviews and actions of an area, and the sessions in it. No names."""
    area = session.get_one(Area, area_id)
    all_of_it: Known = known(session, now=now, site=site)
    there = [duty for duty in all_of_it.duties if area_id in duty.areas]
    return calendar_of(
        f"{area.name}, {site.name}",
        _sessions_in(session, area_id, after=now - LOOKS_BACK, public_url=public_url),
        _duties(there, public_url),
        now=now,
    )


def _duties(duties: list[Duty], public_url: str) -> list[AllDay]:
    """Return duties as days. A check that was done is the same event, on its next day."""
    return [
        AllDay(
            subject=":".join(duty.subject.split(":")[:3]),
            on=duty.due_on,
            title=duty.title,
            words=duty.words,
            url=f"{public_url}{duty.path}",
        )
        for duty in duties
    ]


def _sessions_in(
    session: Session, area_id: int, *, after: datetime, public_url: str
) -> list[Appointment]:
    rows = list(
        session.execute(
            select(InductionSession)
            .where(InductionSession.area_id == area_id, InductionSession.ends_at > after)
            .order_by(InductionSession.starts_at, InductionSession.id)
        ).scalars()
    )
    off = {row.ends_id: row.recorded_at for row in rows if row.ends_id is not None}
    taught = catalogue_now(session)
    return [
        Appointment(
            session_id=row.id,
            made_at=row.recorded_at,
            changed_at=off.get(row.id, row.recorded_at),
            changes=int(row.id in off),
            title=taught[row.induction_id].title,
            place=row.place,
            words=f"{row.places} places.",
            url=f"{public_url}/sessions/{row.id}",
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            called_off=row.id in off,
        )
        for row in rows
        if row.ends_id is None
    ]


def _log(session: Session, what: str, row: CalendarFeed, now: datetime) -> None:
    log.record(
        session,
        action=f"reminders:calendar:{what}",
        subject=f"calendar_feed:{row.id}",
        actor_id=row.person_id,
        now=now,
        detail={"area": row.area_id or 0},
    )
