"""A session in somebody's calendar, read back by an independent reader.

The sections are those of RFC 5545, Internet Calendaring and Scheduling Core Object
Specification (iCalendar), 2009.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from icalendar import Calendar

from app.sessions.calendar import Appointment, calendar_of

MADE = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
BASICS = Appointment(
    session_id=7,
    made_at=MADE,
    changed_at=MADE,
    changes=0,
    title="Basics, by hand; and more",
    place="Bay, Ground floor",
    words="Bring closed shoes.\nAsk at the hatch.",
    url="https://workshop.example/sessions/7",
    starts_at=datetime(2026, 3, 28, 10, 0, tzinfo=ZoneInfo("Europe/London")),
    ends_at=datetime(2026, 3, 28, 11, 0, tzinfo=ZoneInfo("Europe/London")),
)


def event(*appointments):
    (found,) = Calendar.from_ical(calendar_of("Sessions", appointments)).walk("VEVENT")
    return found


def test_the_event_says_what_when_and_where():
    found = event(BASICS)
    assert found["SUMMARY"] == BASICS.title, "section 3.3.11: commas and semicolons escaped"
    assert found["DESCRIPTION"] == BASICS.words, "section 3.3.11: so are the ends of lines"
    assert found["LOCATION"] == BASICS.place
    assert found["DTSTART"].dt == BASICS.starts_at
    assert found["DTEND"].dt == BASICS.ends_at


def test_times_are_in_utc_so_that_no_zone_is_needed():
    # Section 3.3.5, form 2; the summer time of the site begins a day later.
    late = replace(
        BASICS,
        starts_at=datetime(2026, 3, 30, 10, 0, tzinfo=ZoneInfo("Europe/London")),
        ends_at=datetime(2026, 3, 30, 11, 0, tzinfo=ZoneInfo("Europe/London")),
    )
    assert b"DTSTART:20260328T100000Z\r\n" in calendar_of("x", [BASICS])
    assert b"DTSTART:20260330T090000Z\r\n" in calendar_of("x", [late])
    assert b"VTIMEZONE" not in calendar_of("x", [late])


def test_a_calendar_has_what_section_3_6_requires_and_each_event_once():
    found = Calendar.from_ical(calendar_of("x", [BASICS, replace(BASICS, session_id=8)]))
    assert found["VERSION"] == "2.0"
    assert found["PRODID"]
    uids = [each["UID"] for each in found.walk("VEVENT")]
    assert len(set(uids)) == 2, "section 3.8.4.7"
    for each in found.walk("VEVENT"):
        assert each["DTSTAMP"].dt.tzinfo is not None, "section 3.8.7.2: in UTC"


def test_lines_are_folded_at_75_octets_and_end_with_both_signs():
    # Section 3.1: longer lines SHOULD be folded; a character may not be torn apart.
    long = replace(BASICS, title="Säge und Drechselbank " * 12)
    written = calendar_of("x", [long])
    assert all(len(line) <= 75 for line in written.split(b"\r\n"))
    assert b"\n" not in written.replace(b"\r\n", b"")
    assert event(long)["SUMMARY"] == long.title


@pytest.mark.parametrize("years", [0, 3])
def test_the_name_of_an_event_outlives_every_change_of_it(years):
    later = replace(
        BASICS,
        changed_at=MADE + timedelta(days=365 * years),
        changes=4,
        title="Renamed",
        url="https://elsewhere.example/sessions/7",
        called_off=True,
    )
    assert event(later)["UID"] == event(BASICS)["UID"], "section 3.8.4.7: persistent"


def test_a_session_called_off_is_cancelled_under_a_higher_sequence():
    off = replace(BASICS, called_off=True, changes=1, changed_at=MADE + timedelta(days=1))
    assert event(off)["STATUS"] == "CANCELLED", "section 3.8.1.11"
    assert event(off)["SEQUENCE"] > event(BASICS)["SEQUENCE"], "section 3.8.7.4"
    assert event(off)["DTSTAMP"].dt > event(BASICS)["DTSTAMP"].dt, "section 3.8.7.2"


def test_whoever_waits_is_tentative_and_not_busy():
    waits = event(replace(BASICS, sure=False))
    assert (waits["STATUS"], waits["TRANSP"]) == ("TENTATIVE", "TRANSPARENT")
    sure = event(BASICS)
    assert (sure["STATUS"], sure["TRANSP"]) == ("CONFIRMED", "OPAQUE")


def test_the_same_appointments_are_the_same_bytes():
    assert calendar_of("x", [BASICS]) == calendar_of("x", [BASICS])
