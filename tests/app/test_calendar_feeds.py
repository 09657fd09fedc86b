"""Calendars to subscribe to, read back by icalendar; RFC 5545 by section."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from app.hazards.due import IntervalUnit
from app.people.models import Person
from app.people.register import belongs
from app.people.rights import Role
from app.reminders.calendars import AllDay, calendar_of
from app.reminders.models import CalendarFeed
from app.sessions.calendar import uid_of
from app.sessions.given import call_off, give
from app.sessions.models import InductionSession
from tests.app.reminding import days, rows

ADDRESS = re.compile(r'href="[^"]*(/calendar/[^"]+\.ics)"')
NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
LONG = "Säge, Band; schräg\\quer\nund länger als eine Zeile von fünfundsiebzig Oktetten es hält"


@pytest.fixture
def bay(shop):
    return shop.area("Wood bay")


@pytest.fixture
def basics(shop, bay):
    found = shop.induction("Basics; for all, first", months=12)
    shop.assess(shop.machine("Panel saw", area=bay), inductions=[found])
    return found


@pytest.fixture
def ada(shop, basics):
    person = shop.person("Ada Quill")
    shop.hold(person, basics, at=shop.now - days(340))
    return person


@pytest.fixture
def tess(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


@pytest.fixture
def given(shop, bay, basics, ada, tess):
    with shop.database.write() as session:
        return give(
            session,
            induction_id=basics.id,
            area=bay,
            technician_id=tess.id,
            starts_at=shop.now + days(3),
            ends_at=shop.now + days(3) + timedelta(hours=1),
            places=8,
            people=[ada.id],
            actor_id=tess.id,
            now=shop.now,
        )


def subscribe(visitor, person, area=None):
    """Make an address on one's page and return it."""
    visitor.sign_in(person)
    form = {"area_id": area.id} if area else {}
    assert visitor.post("/me/calendars", data=form).status_code == 303
    return ADDRESS.findall(visitor.get("/me/reminders").text)[-1]


def events(another, address):
    answer = another.get(address)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    return {str(event["UID"]): event for event in Calendar.from_ical(answer.data).walk("VEVENT")}


def test_ones_own_calendar_holds_sessions_and_what_runs_out_without_a_sign_in(
    shop, visitor, another, ada, given
):
    found = events(another, subscribe(visitor, ada))
    session = found.pop(uid_of(given.id, given.recorded_at))
    assert session["DTSTART"].dt == given.starts_at
    assert session["STATUS"] == "CONFIRMED"
    (runs_out,) = found.values()
    assert runs_out["DTSTART"].dt == date(2026, 4, 4)
    assert runs_out["DTEND"].dt == date(2026, 4, 5), "section 3.6.1: the end is not part of it"
    assert str(runs_out["SUMMARY"]) == "Basics; for all, first runs out"


def test_the_same_thing_keeps_its_uid_when_its_day_moves(
    shop, visitor, another, clock, ada, basics
):
    """Section 3.8.4.7: the identifier is persistent, and globally unique."""
    address = subscribe(visitor, ada)
    (before,) = events(another, address)
    shop.hold(ada, basics)
    clock.at += days(1)
    ((uid, after),) = events(another, address).items()
    assert uid == before
    assert after["DTSTART"].dt == date(2027, 3, 10)


def test_what_is_called_off_stays_in_as_cancelled(shop, visitor, another, clock, ada, tess, given):
    """Sections 3.8.1.11 and 3.8.7.4: the status says so, and the sequence rises."""
    address = subscribe(visitor, ada)
    uid = uid_of(given.id, given.recorded_at)
    sequence = events(another, address)[uid]["SEQUENCE"]
    clock.at += timedelta(hours=1)
    with shop.database.write() as session:
        row = session.get_one(InductionSession, given.id)
        call_off(session, row, why="No power", actor_id=tess.id, now=shop.now)
    after = events(another, address)[uid]
    assert after["STATUS"] == "CANCELLED"
    assert after["SEQUENCE"] > sequence
    assert "No power" not in str(after), "why is for those entitled, after a sign-in"


def test_an_areas_calendar_holds_its_checks_and_sessions_and_nobodys_name(
    shop, visitor, another, bay, tess, ada, given
):
    check = shop.check(every=1, unit=IntervalUnit.WEEK)
    machine = shop.machine("Band saw", area=bay)
    shop.assess(machine, checks=[check])
    shop.do(check, machine)
    elsewhere = shop.check(every=1, unit=IntervalUnit.WEEK)
    other = shop.machine("Lathe", area=shop.area("Metal bay"))
    shop.assess(other, checks=[elsewhere])
    shop.do(elsewhere, other)
    address = subscribe(visitor, tess, bay)
    found = events(another, address)
    titles = {str(event["SUMMARY"]) for event in found.values()}
    assert titles == {check.title, "Basics; for all, first"}
    days_due = {event["DTSTART"].dt for event in found.values() if event["SUMMARY"] == check.title}
    assert days_due == {date(2026, 3, 17)}
    text = another.get(address).text.replace("\r\n ", "")
    assert ada.name not in text
    assert tess.name not in text


def test_an_address_ends_when_its_owner_says_so_or_has_it_made_anew(shop, visitor, another, ada):
    first = subscribe(visitor, ada)
    second = subscribe(visitor, ada)
    assert another.get(first).status_code == 404
    assert another.get(second).status_code == 200
    row = rows(shop, CalendarFeed)[-1]
    assert visitor.post(f"/me/calendars/{row.id}/end").status_code == 303
    assert another.get(second).status_code == 404


def test_nobody_ends_or_makes_up_the_address_of_somebody_else(shop, visitor, another, ada, bay):
    address = subscribe(visitor, ada)
    bob = another.sign_in(shop.person("Bob Reed"))
    row = rows(shop, CalendarFeed)[-1]
    assert bob.post(f"/me/calendars/{row.id}/end").status_code == 404
    assert bob.post("/me/calendars", data={"area_id": bay.id}).status_code == 403
    head, _, signature = address.removesuffix(".ics").rpartition(".")
    for wrong in (f"{head}.x.ics", f"/calendar/{row.id}.ics", f"{head}x.{signature}.ics"):
        assert bob.get(wrong).status_code == 404, wrong


def test_who_leaves_or_no_longer_looks_after_the_area_reads_nothing_more(
    shop, visitor, another, tess, bay
):
    address = subscribe(visitor, tess, bay)
    assert another.get(address).status_code == 200
    with shop.database.write() as session:
        belongs(
            session,
            session.get_one(Person, tess.id),
            starts_on=date(2025, 1, 1),
            ends_on=shop.now.date() - days(1),
            actor_id=shop.chief.id,
            now=shop.now,
        )
    assert another.get(address).status_code == 404


def made(title=LONG):
    day = AllDay(
        subject="check:3:4",
        on=date(2026, 3, 17),
        title=title,
        words=title,
        url="http://127.0.0.1:8000/machines/4/checks/3",
    )
    return calendar_of("Yard", [], [day], now=NOW)


def test_lines_end_and_fold_as_section_3_1_asks():
    """CRLF, and no line of more than 75 octets; a folded line begins with a blank."""
    text = made()
    assert text.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    lines = text.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")  # no letter is torn in two


def test_texts_are_escaped_as_section_3_3_11_asks():
    unfolded = made().replace(b"\r\n ", b"").decode("utf-8")
    escaped = LONG.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,")
    assert f"SUMMARY:{escaped}".replace("\n", "\\n") in unfolded
    (event,) = Calendar.from_ical(made()).walk("VEVENT")
    assert str(event["SUMMARY"]) == LONG


def test_each_calendar_and_event_has_what_it_must():
    """Sections 3.6, 3.6.1, 3.7.3, 3.7.4, 3.8.7.2: in UTC, whatever the site's zone."""
    calendar = Calendar.from_ical(made())
    assert str(calendar["VERSION"]) == "2.0"
    assert calendar["PRODID"]
    assert "METHOD" not in calendar
    (event,) = calendar.walk("VEVENT")
    assert event["DTSTAMP"].dt == NOW
    assert b"DTSTAMP:20260310T090000Z" in made()
    assert b"DTSTART;VALUE=DATE:20260317" in made()
    assert event["UID"] == Calendar.from_ical(made("Other")).walk("VEVENT")[0]["UID"]
