"""People take places themselves: what is open to them, what is not and why, and giving back."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from icalendar import Calendar
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.documents.asked import Asked
from app.documents.attendance import attendance_sheet
from app.house.rules import set_rule
from app.sessions.given import give, places_in, session_or_404
from app.sessions.places import add_person, waiting
from app.training.suspension import suspend
from tests.app.held import LATER, Held
from tests.app.term import room
from tests.factories import ZONE, Workshop


@pytest.fixture
def held(shop, visitor):
    return Held(shop, visitor)


@pytest.fixture
def bo(held, another):
    return another.sign_in(held.bo)


def book(visitor, session_id):
    return visitor.post(f"/sessions/{session_id}/book")


def back(visitor, session_id):
    return visitor.post(f"/sessions/{session_id}/give-back")


def test_somebody_whose_path_is_open_finds_a_session_and_takes_a_place(held, bo):
    page = bo.get("/sessions/open").text
    assert "Basics" in page
    assert "1 free" in page
    assert "Take a place" in bo.get(f"/sessions/{held.id}").text
    assert book(bo, held.id).status_code == 303
    assert held.words()[held.bo.id] == "booked"
    assert "You have a place." in bo.get(f"/sessions/{held.id}").text
    assert "Basics" in bo.get("/sessions").text


def test_a_place_taken_is_in_the_log_as_theirs(held, bo, database):
    book(bo, held.id)
    back(bo, held.id)
    with database.read() as session:
        said = session.execute(
            select(AuditEntry.action, AuditEntry.actor_id, AuditEntry.subject)
            .where(AuditEntry.action.like("sessions:place:%"))
            .order_by(AuditEntry.sequence)
        ).all()
    about = f"induction_session:{held.id}"
    assert [tuple(row) for row in said] == [
        ("sessions:place:book", held.bo.id, about),
        ("sessions:place:give-back", held.bo.id, about),
    ]


def test_a_full_session_is_waited_for_in_order_and_a_place_given_back_moves_it_up(
    held, bo, visitor
):
    book(bo, held.id)
    queue = []
    for person in (held.cy, held.di):
        queue.append(type(bo)(visitor.client.application.test_client()).sign_in(person))
        assert "Wait for a place" in queue[-1].get(f"/sessions/{held.id}").text
        book(queue[-1], held.id)
    assert "the first in line" in queue[0].get(f"/sessions/{held.id}").text
    assert "1 before you" in queue[1].get(f"/sessions/{held.id}").text
    page = back(bo, held.id)
    assert page.status_code == 303
    assert held.words()[held.cy.id] == "booked"
    assert held.words()[held.di.id] == "waiting"
    assert "Cy Quill" not in bo.get(f"/sessions/{held.id}").text, "who has it now is not theirs"


def test_who_waits_no_longer_frees_nothing(held, bo, visitor):
    held.add(held.cy)
    book(bo, held.id)
    assert held.words()[held.bo.id] == "waiting"
    assert back(bo, held.id).status_code == 303
    assert held.words()[held.bo.id] == "withdrawn"
    assert "Wait for a place" in bo.get(f"/sessions/{held.id}").text


def test_sent_twice_a_place_is_taken_once(held, bo):
    book(bo, held.id)
    again = book(bo, held.id)
    assert again.status_code == 409
    assert "You have a place here already" in again.text
    back(bo, held.id)
    twice = back(bo, held.id)
    assert twice.status_code == 409
    assert "You have no place here to give up." in twice.text


# --- what is not open, and why ---------------------------------------------------------------


def refused(visitor, session_id, sentence):
    page = visitor.get(f"/sessions/{session_id}").text
    assert sentence in page
    assert "Take a place" not in page
    answer = book(visitor, session_id)
    assert answer.status_code == 422
    assert sentence in answer.text


def test_what_comes_first_is_shown_in_order_with_what_is_missing(held, shop, bo):
    laser = shop.induction("Laser", requires=[held.basics])
    fibre = shop.induction("Fibre laser", requires=[laser])
    late = held.give(fibre, LATER + timedelta(days=7))
    refused(bo, late, "You have not had “Laser” by then; it comes before “Fibre laser”.")
    page = bo.get("/sessions/open").text
    assert page.index("Not open to you yet") < page.index("<b>Basics</b>")
    assert page.index("<b>Basics</b>") < page.index("<b>Laser</b>")
    assert page.count("✗ missing") == 2
    book(bo, held.id)
    assert "✓ you have a place on 16 Mar 2026" in bo.get(f"/sessions/{late}").text
    shop.hold(held.bo, laser)
    assert book(bo, late).status_code == 303, "Basics is had by then, and Laser is held"


def test_what_runs_out_before_the_day_is_not_held_by_then(held, shop, bo, clock):
    laser = shop.induction("Laser", requires=[held.basics])
    shop.hold(held.bo, held.basics, at=shop.now - timedelta(days=360))
    soon = held.give(laser, timedelta(days=2))
    late = held.give(laser, timedelta(days=20))
    refused(bo, late, "You have not had “Basics” by then")
    assert "runs out on 15 Mar 2026, before it" in bo.get(f"/sessions/{late}").text
    assert book(bo, soon).status_code == 303


def test_what_is_held_is_not_booked_again_until_two_months_before_it_runs_out(held, shop, bo):
    shop.hold(held.bo, held.basics, at=shop.now)
    refused(bo, held.id, "You hold it already, through 10 Mar 2027.")
    shop.hold(held.cy, held.basics, at=shop.now - timedelta(days=310))
    cy = type(bo)(bo.client.application.test_client()).sign_in(held.cy)
    assert "Yours runs out on 4 May 2026." in cy.get("/sessions/open").text
    assert book(cy, held.id).status_code == 303


def test_nobody_books_two_at_once_or_one_induction_twice(held, shop, bo):
    other = held.give(shop.induction("Other"), LATER + timedelta(minutes=30))
    book(bo, held.id)
    refused(bo, other, "You are in “Basics” at the same time.")
    third = held.give(held.basics, LATER + timedelta(days=1))
    refused(bo, third, "You have a place in another “Basics”, on 16 Mar: that is given up first.")


def test_a_technician_is_not_taught_while_they_teach(held, shop, visitor):
    more = shop.induction("More")
    somebody, loft = shop.technician(more), room(shop, "Loft")
    with shop.database.write() as session:
        at_once = give(
            session,
            induction_id=more.id,
            area=loft,
            technician_id=somebody.id,
            starts_at=shop.now + LATER,
            ends_at=shop.now + LATER + timedelta(hours=1),
            places=2,
            people=[],
            actor_id=shop.chief.id,
            now=shop.now,
        ).id
    answer = book(visitor, at_once)
    assert answer.status_code == 422
    assert "You give “Basics” at the same time." in answer.text


def test_whoever_is_suspended_everywhere_or_there_takes_no_place_and_is_passed_over(
    held, shop, bo, visitor
):
    for person in (held.bo, held.cy, held.di):
        held.add(person)
    with shop.database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.chief),
            person_id=held.cy.id,
            area_id=held.bay.id,
            reason="x",
            now=shop.now,
        )
    cy = type(bo)(bo.client.application.test_client()).sign_in(held.cy)
    back(cy, held.id)
    answer = book(cy, held.id)
    assert answer.status_code == 422
    assert "You are suspended: speak to a technician." in answer.text
    held.add(held.cy)
    back(bo, held.id)
    assert held.words()[held.di.id] == "booked"
    assert held.words()[held.cy.id] == "waiting"


def test_a_session_that_has_begun_is_entered_at_the_door_only(held, bo, clock):
    book(bo, held.id)
    clock.at += LATER + timedelta(minutes=1)
    late = back(bo, held.id)
    assert late.status_code == 409
    assert "It has begun: tell the technician there." in late.text
    cy = type(bo)(bo.client.application.test_client()).sign_in(held.cy)
    answer = book(cy, held.id)
    assert answer.status_code == 422
    assert "It has begun: the technician there adds you" in answer.text
    clock.at += timedelta(hours=2)
    assert book(cy, held.id).status_code == 409


def test_a_session_called_off_is_not_booked(held, bo):
    held.send("call-off", why="Rain")
    assert book(bo, held.id).status_code == 409
    assert "Basics" not in bo.get("/sessions/open").text


def test_whoever_leaves_before_cannot_book(held, shop, visitor, another):
    gone = shop.person("Gone", ends_on=(shop.now + LATER - timedelta(days=1)).date())
    refused(another.sign_in(gone), held.id, "You do not belong here on 16 Mar.")


def test_a_house_where_technicians_give_the_places_says_so(held, shop, bo, app):
    with shop.database.write() as session:
        set_rule(session, "self_booking", "no", actor_id=shop.chief.id, now=shop.now)
    app.extensions["chuckkey"].forget_site()
    assert "a technician gives each place" in bo.get("/sessions/open").text
    answer = book(bo, held.id)
    assert answer.status_code == 409
    assert "Here a technician gives each place: ask one." in answer.text
    assert held.bo.id not in held.words()


def test_the_queue_on_paper_is_the_queue_that_is_served(held, database):
    for person in (held.bo, held.cy, held.di):
        held.add(person)
    held.withdraw(held.cy)
    held.add(held.cy)  # behind the others now
    with database.read() as session:
        asked = Asked(subject=held.id, at=held.shop.now, known=held.shop.now)
        printed = [each.number for each in attendance_sheet(session, asked).waiting]
        served = [each.person_id for each in waiting(places_in(session, [held.id])[held.id])]
    assert printed == served == [held.di.id, held.cy.id]


# --- at once -------------------------------------------------------------------------------


def two_take_the_last_place(shop):
    basics = shop.induction("Basics")
    technician, bay = shop.technician(basics), room(shop, "Bay")
    people = [shop.person() for _ in range(2)]
    with shop.database.write() as session:
        session_id = give(
            session,
            induction_id=basics.id,
            area=bay,
            technician_id=technician.id,
            starts_at=shop.now + LATER,
            ends_at=shop.now + LATER + timedelta(hours=1),
            places=1,
            people=[],
            actor_id=shop.chief.id,
            now=shop.now,
        ).id
    ready = threading.Barrier(2)

    def take(person):
        ready.wait(timeout=30)
        with shop.database.write() as session:
            row = session_or_404(session, session_id)
            return add_person(
                session, row, person.id, actor_id=person.id, now=shop.now, zone=ZONE
            ).value

    with ThreadPoolExecutor(2) as pool:
        said = sorted(pool.map(take, people))
    assert said == ["booked", "waiting"]
    with shop.database.read() as session:
        kept = sorted(place.word.value for place in places_in(session, [session_id])[session_id])
    assert kept == said


def test_of_two_who_take_the_last_place_at_once_one_has_it_and_the_other_waits(shop):
    two_take_the_last_place(shop)


@pytest.mark.postgresql
def test_the_same_holds_on_postgresql(register: Workshop):
    two_take_the_last_place(register)


# --- the calendar file ------------------------------------------------------------------------


def event(visitor, session_id):
    answer = visitor.get(f"/sessions/{session_id}.ics")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8", "RFC 5545, 8.1"
    (found,) = Calendar.from_ical(answer.data).walk("VEVENT")
    return found


def test_a_booked_session_goes_into_a_calendar_and_learns_of_every_change(held, bo, clock):
    book(bo, held.id)
    booked = event(bo, held.id)
    assert booked["STATUS"] == "CONFIRMED"
    assert booked["DTSTART"].dt == held.shop.now + LATER
    assert booked["LOCATION"] == "Bay, Ground floor"
    clock.at += timedelta(minutes=1)
    back(bo, held.id)
    given_back = event(bo, held.id)
    clock.at += timedelta(minutes=1)
    held.add(held.cy)
    book(bo, held.id)
    waits = event(bo, held.id)
    clock.at += timedelta(minutes=1)
    held.send("call-off", why="Cy has a cold")
    off = event(bo, held.id)
    states = [booked, given_back, waits, off]
    assert [each["STATUS"] for each in states] == [
        "CONFIRMED",
        "CANCELLED",
        "TENTATIVE",
        "CANCELLED",
    ]
    # RFC 5545, sections 3.8.4.7 and 3.8.7.4: one UID, and a sequence that only rises.
    assert len({each["UID"] for each in states}) == 1
    assert [each["SEQUENCE"] for each in states] == [0, 1, 2, 3]
    assert b"cold" not in bo.get(f"/sessions/{held.id}.ics").data, "words about a person"


def test_whoever_gives_it_has_it_in_their_calendar_too(held, visitor):
    assert event(visitor, held.id)["DESCRIPTION"] == "You give it."


def test_nobody_has_a_file_of_a_session_that_is_not_theirs(held, bo):
    assert bo.get(f"/sessions/{held.id}.ics").status_code == 404
