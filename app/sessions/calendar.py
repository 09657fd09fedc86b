"""Sessions as events of a calendar: a file or a feed that any calendar program reads. Pure.

Source: RFC 5545 (iCalendar, 2009), its sections named beside what they ask for.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from icalendar import Calendar, Event

MEDIA_TYPE = "text/calendar; charset=utf-8"  # section 8.1
_OURS = uuid.UUID("5b0c7c0e-2f0f-4d0c-9d51-1f9a3b1d7c62")  # drawn once; names nothing


@dataclass(frozen=True, kw_only=True, slots=True)
class Appointment:
    """One session, as it stands in one person's calendar."""

    session_id: int
    made_at: datetime  # when the session was published
    changed_at: datetime  # when what this says last changed
    changes: int  # how often that was; never fewer later on
    title: str
    place: str
    words: str
    url: str
    starts_at: datetime
    ends_at: datetime
    sure: bool = True  # False: they wait for a place
    called_off: bool = False  # or their place given up


def uid_of(session_id: int, made_at: datetime) -> str:
    """Return the name that the event keeps for ever, wherever the site moves (section 3.8.4.7).

    A UUID and not a host's name, as RFC 7986, section 5.3 asks.
    """
    return str(uuid.uuid5(_OURS, f"{session_id} {made_at.astimezone(UTC).isoformat()}"))


def calendar_of(name: str, appointments: Iterable[Appointment]) -> bytes:
    """Return a calendar with these events, its lines ended and folded as section 3.1 asks.

    The same appointments give the same bytes. It carries no METHOD: nobody is invited by it.
    """
    found = Calendar()
    found.add("prodid", "-//Chuckkey//Sessions//EN")  # section 3.7.3
    found.add("version", "2.0")  # section 3.7.4
    found.add("name", name)  # RFC 7986, section 5.1
    for appointment in appointments:
        found.add_component(event_of(appointment))
    written: bytes = found.to_ical()
    return written


def event_of(it: Appointment) -> Event:
    """Return the event. Its times are in UTC (section 3.3.5, form 2), so that it needs no zone."""
    found = Event()
    found.add("uid", uid_of(it.session_id, it.made_at))
    # Without a METHOD it is when this was last revised (section 3.8.7.2).
    found.add("dtstamp", it.changed_at.astimezone(UTC))
    found.add("last-modified", it.changed_at.astimezone(UTC))
    found.add("sequence", it.changes)  # section 3.8.7.4: a later wording replaces an earlier one
    found.add("dtstart", it.starts_at.astimezone(UTC))
    found.add("dtend", it.ends_at.astimezone(UTC))
    found.add("summary", it.title)
    found.add("location", it.place)
    found.add("description", it.words)
    found.add("url", it.url)
    found.add("status", _status(it))  # section 3.8.1.11
    # Whoever waits is not busy then (section 3.8.2.7).
    found.add("transp", "OPAQUE" if it.sure and not it.called_off else "TRANSPARENT")
    return found


def _status(it: Appointment) -> str:
    if it.called_off:
        return "CANCELLED"
    return "CONFIRMED" if it.sure else "TENTATIVE"
