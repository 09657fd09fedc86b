"""Calendars to subscribe to: one's own, and that of an area for those who look after it.

Source: RFC 5545 (iCalendar), its sections named beside what they ask for. The event of a session
is the one of `app.sessions.calendar`, under the same UID, so that a file and a feed are one.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event

from app.sessions.calendar import Appointment, event_of

_OURS = uuid.UUID("2f1f0c0a-6a0b-4b6b-8a35-0d5a4e1c9b77")  # drawn once; names nothing
REFRESH = timedelta(hours=6)


@dataclass(frozen=True, kw_only=True, slots=True)
class AllDay:
    """Something that is due on a day, or runs out with it."""

    subject: str  # what it is, without its day: the same event moves when its day does
    on: date
    title: str
    words: str
    url: str


def calendar_of(
    name: str, appointments: Iterable[Appointment], days: Iterable[AllDay], *, now: datetime
) -> bytes:
    """Return a calendar: sessions at their times, and what is due as days."""
    found = Calendar()
    found.add("prodid", "-//Chuckkey//Reminders//EN")  # section 3.7.3
    found.add("version", "2.0")  # section 3.7.4
    found.add("name", name)  # RFC 7986, section 5.1
    found.add("refresh-interval", REFRESH, {"VALUE": "DURATION"})  # RFC 7986, section 5.7
    for appointment in appointments:
        found.add_component(event_of(appointment))
    for each in days:
        found.add_component(_day(each, now))
    written: bytes = found.to_ical()
    return written


def uid_of(subject: str) -> str:
    """Return the name that the event keeps for ever (section 3.8.4.7); no host is named by it."""
    return str(uuid.uuid5(_OURS, subject))


def _day(each: AllDay, now: datetime) -> Event:
    found = Event()
    found.add("uid", uid_of(each.subject))
    # Nothing keeps when such a day was last revised: it is as it was found (section 3.8.7.2).
    found.add("dtstamp", now.astimezone(UTC))
    found.add("dtstart", each.on)
    found.add("dtend", each.on + timedelta(days=1))  # the end is not part of it (section 3.6.1)
    found.add("summary", each.title)
    found.add("description", each.words)
    found.add("url", each.url)
    found.add("transp", "TRANSPARENT")  # it takes no time of anybody's (section 3.8.2.7)
    return found
