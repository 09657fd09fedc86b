"""Bookings: a machine, bench or room kept for somebody for a stretch of a day."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from app.errors import BadInput, Refused
from app.machines.models import Area, During, Form, Machine, Staffing
from app.machines.opening import add_hours, add_term, close_days
from app.people.rights import Role
from app.presence.models import Booking
from app.presence.wall import instant
from app.training.standing import Result
from tests.app.walk import KEY, changed, dump

LONDON = ZoneInfo("Europe/London")


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


def rows(database):
    with database.read() as session:
        return list(session.execute(select(Booking).order_by(Booking.id)).scalars())


def book(visitor, saw, *, day="2026-03-10", since="14:00", until="16:00"):
    form = {"day": day, "from": since, "to": until}
    return visitor.post(f"/machines/{saw.id}/bookings", data=form)


def test_a_stretch_is_kept_once_and_shown_on_its_day(shop, visitor, database, saw, ada):
    visitor.sign_in(ada)
    for _ in range(2):  # a double tap
        assert book(visitor, saw).status_code == 303
    (row,) = rows(database)
    assert (row.starts_at, row.ends_at) == (
        datetime(2026, 3, 10, 14, tzinfo=UTC),
        datetime(2026, 3, 10, 16, tzinfo=UTC),
    )
    page = visitor.get(f"/machines/{saw.id}/bookings").text
    assert "14:00–16:00" in page
    assert "Kept for you" in page
    next_day = visitor.get(f"/machines/{saw.id}/bookings?day=2026-03-11").text
    assert "Nothing is booked on this day." in next_day


def test_others_see_that_it_is_kept_and_not_for_whom(shop, visitor, another, saw, ada):
    book(visitor.sign_in(ada), saw)
    address = f"/machines/{saw.id}/bookings"
    page = another.sign_in(shop.person("Bob Reed")).get(address).text
    assert "Kept for somebody else" in page
    assert "Ada Quill" not in page
    technician = type(visitor)(visitor.client.application.test_client())
    technician.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    assert "Ada Quill" in technician.get(address).text


@pytest.mark.parametrize(
    ("since", "until", "status"),
    [
        ("15:00", "17:00", 409),
        ("13:00", "14:30", 409),
        ("14:30", "15:00", 409),
        ("13:00", "17:00", 409),
        ("16:00", "17:00", 303),  # from when the other ends
        ("13:00", "14:00", 303),
    ],
)
def test_two_bookings_never_overlap(shop, visitor, another, saw, ada, since, until, status):
    book(visitor.sign_in(ada), saw)
    another.sign_in(shop.person("Bob Reed"))
    assert book(another, saw, since=since, until=until).status_code == status


@pytest.mark.parametrize(
    "stretch",
    [
        {"since": "16:00", "until": "14:00"},
        {"since": "14:00", "until": "14:00"},
        {"since": "08:00", "until": "10:00"},  # it is nine o'clock
        {"day": "2026-03-09"},
        {"day": "2026-03-25"},  # more than fourteen days
        {"day": "9999-12-31"},
        {"day": "9999-12-31", "until": "24:00"},
        {"day": "0001-01-01"},
        {"day": "tomorrow"},
        {"since": "2pm"},
        {"until": "24:01"},
    ],
)
def test_what_is_no_stretch_that_can_be_booked_is_refused(visitor, database, saw, ada, stretch):
    visitor.sign_in(ada)
    before = dump(database)
    assert book(visitor, saw, **stretch).status_code == 422
    assert changed(before, dump(database)) == set()


def test_a_stretch_ends_at_midnight_where_it_says_so(visitor, database, saw, ada):
    assert book(visitor.sign_in(ada), saw, until="24:00").status_code == 303
    assert rows(database)[0].ends_at == datetime(2026, 3, 11, tzinfo=UTC)


def test_a_booking_lies_within_the_opening_hours(shop, visitor, database, saw, ada):
    by = {"actor_id": shop.chief.id, "now": shop.now}
    with database.write() as session:
        area = session.get_one(Area, saw.area_id)
        common = {"staffing": Staffing.STAFFED, "during": During.ALWAYS, **by}
        add_hours(session, area, weekdays=[1], opens="08:00", closes="12:00", **common)
        add_hours(session, area, weekdays=[1, 2], opens="13:00", closes="18:00", **common)
        day = date(2026, 3, 11)
        close_days(session, area_id=area.id, name="Move", first_on=day, last_on=day, **by)
        add_term(session, name="Spring", first_on=day, last_on=day, **by)
    visitor.sign_in(ada)
    assert book(visitor, saw, since="14:00", until="18:00").status_code == 303
    for since, until in (("11:00", "13:30"), ("12:00", "13:00"), ("17:00", "18:30")):
        assert book(visitor, saw, since=since, until=until).status_code == 409
    assert book(visitor, saw, day="2026-03-11").status_code == 409
    page = visitor.get(f"/machines/{saw.id}/bookings").text
    assert "08:00–12:00" in page
    assert "13:00–18:00" in page
    closed = visitor.get(f"/machines/{saw.id}/bookings?day=2026-03-11").text
    assert "The area is closed on this day." in closed


def test_a_loan_tool_is_not_booked(visitor, database, saw, ada):
    with database.write() as session:
        session.get_one(Machine, saw.id).form = Form.LOAN_TOOL
    visitor.sign_in(ada)
    assert book(visitor, saw).status_code == 409
    assert "Book it" not in visitor.get(f"/machines/{saw.id}/bookings").text


def test_a_booking_is_given_up_once_and_only_by_its_own_person_or_a_technician(
    shop, visitor, another, database, saw, ada
):
    book(visitor.sign_in(ada), saw)
    address = f"/machines/{saw.id}/bookings/{rows(database)[0].id}/give-up"
    another.sign_in(shop.person("Bob Reed"))
    assert another.post(address).status_code == 403
    other_machine = shop.machine()
    wrong = address.replace(f"/machines/{saw.id}/", f"/machines/{other_machine.id}/")
    assert visitor.post(wrong).status_code == 404
    for _ in range(2):
        assert visitor.post(address).status_code == 303
    assert len(rows(database)) == 2
    assert book(another, saw).status_code == 303


def test_a_technician_gives_a_booking_to_exactly_one_other_person(
    shop, visitor, another, database, saw, ada
):
    bob = shop.person("Bob Reed")
    shop.person("Bob Rowe")
    book(visitor.sign_in(ada), saw)
    booking = rows(database)[0]
    address = f"/machines/{saw.id}/bookings/{booking.id}/reassign"
    another.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    before = dump(database)
    for words in ("Bob", "Nobody", ""):
        assert another.post(address, data={"person": words}).status_code == 422
    assert changed(before, dump(database)) == set()
    assert another.post(address, data={"person": "Bob Reed"}).status_code == 303
    assert another.post(address, data={"person": "Bob Reed"}).status_code == 409
    ended, kept = rows(database)[1:]
    assert (ended.ends_id, kept.ends_id, kept.person_id) == (booking.id, None, bob.id)


def test_while_it_is_kept_for_somebody_else_nobody_else_starts(
    shop, visitor, another, clock, saw, ada
):
    basics = shop.induction()
    revision = shop.assess(saw, inductions=[basics])
    bob = shop.person("Bob Reed")
    for person in (ada, bob):
        shop.hold(person, basics, Result.ALONE)
        shop.acknowledge(person, revision)
    book(visitor.sign_in(ada), saw, since="09:30", until="10:30")
    another.sign_in(bob)
    clock.at += timedelta(minutes=45)
    address = f"/m/{shop.code(saw)}"
    assert "This is booked for somebody else until 10:30." in another.get(address).text
    assert '<span class="word">Cleared</span>' in visitor.get(address).text
    form = {"person_id": bob.id, "key": KEY, "material": "none"}
    assert another.post(f"{address}/start", data=form).status_code == 403
    clock.at += timedelta(minutes=45)
    assert another.post(f"{address}/start", data=form).status_code == 303


# --- the wall clock ------------------------------------------------------------------------
# The United Kingdom's clocks of 2026: forward on 29 March at 01:00 UTC, back on 25 October at
# 01:00 UTC (Summer Time Act 1972 as amended in 2002, section 1: the last Sundays of the months).


def test_a_time_that_is_left_out_is_refused():
    with pytest.raises(Refused, match="clocks go forward"):
        instant(date(2026, 3, 29), "01:30", LONDON)
    after = instant(date(2026, 3, 29), "02:00", LONDON)
    assert after == datetime(2026, 3, 29, 1, tzinfo=UTC)


def test_of_an_hour_that_comes_twice_a_start_is_the_first_and_an_end_the_second():
    day = date(2026, 10, 25)
    assert instant(day, "01:30", LONDON) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert instant(day, "01:30", LONDON, end=True) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


@pytest.mark.parametrize("written", ["", "9", "24:00", "25:00", "09:60", "nine", "09:00x"])
def test_what_is_no_time_of_day_is_refused(written):
    with pytest.raises(BadInput):
        instant(date(2026, 3, 10), written, LONDON)
