"""Published sessions: who sees what, places and waiting, calling off, and attendance."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry, PrivateNote
from app.errors import Refused
from app.people.rights import Role
from app.sessions.given import places_in, seated, session_or_404
from app.sessions.models import InductionSession
from app.sessions.places import add_person
from tests.app.held import LATER, Held
from tests.app.term import room, words
from tests.factories import ZONE


@pytest.fixture
def held(shop, visitor):
    return Held(shop, visitor)


# --- who sees what -----------------------------------------------------------------------


def test_people_see_their_own_sessions_and_nobody_elses_name(held, another):
    held.add(held.bo)
    another.sign_in(held.ada)
    page = another.get("/sessions").text
    assert "Basics" in page
    assert "Mon 16 Mar 2026, 09:00" in page
    own = another.get(f"/sessions/{held.id}").text
    assert held.technician.name in own
    assert "<dt>You</dt><dd><b>booked</b></dd>" in own
    assert "Bo Quill" not in own
    assert "Withdraw" not in own


def test_somebody_without_a_place_is_told_so(held, another):
    page = another.sign_in(held.cy).get("/sessions").text
    assert "You have no place in a session to come." in page
    assert "Mon 16 Mar" not in page


def test_technicians_see_all_with_a_way_to_the_checklist(held, shop, another):
    page = another.sign_in(shop.author).get("/sessions").text
    assert "1 of 2" in page
    assert f'href="/people/{held.ada.id}/inductions/{held.basics.id}"' in held.page


def test_a_session_is_over_and_gone_from_the_list_two_days_later(held, clock):
    clock.at += LATER + timedelta(days=2)
    assert f'href="/sessions/{held.id}"' in held.visitor.get("/sessions").text
    clock.at += timedelta(hours=2)
    assert f'href="/sessions/{held.id}"' not in held.visitor.get("/sessions").text


# --- places ------------------------------------------------------------------------------


def test_whoever_comes_when_it_is_full_waits_and_the_first_has_the_next_place(held):
    for person in (held.bo, held.cy, held.di):
        assert held.add(person).status_code == 303
    assert held.words() == {
        held.ada.id: "booked",
        held.bo.id: "booked",
        held.cy.id: "waiting",
        held.di.id: "waiting",
    }
    assert "1. Cy Quill" in held.page
    assert "2. Di Quill" in held.page
    assert held.withdraw(held.ada).status_code == 303
    assert "Cy Quill has the place now." in held.page
    assert held.words()[held.cy.id] == "booked"
    assert held.words()[held.di.id] == "waiting"


def test_who_gives_up_waiting_frees_no_place(held):
    for person in (held.bo, held.cy, held.di):
        held.add(person)
    held.withdraw(held.cy)
    assert held.words()[held.di.id] == "waiting"


def test_a_place_passes_over_whoever_cannot_come_any_more(held, shop):
    for person in (held.bo, held.cy, held.di):
        held.add(person)
    held.give(shop.induction("Other"), LATER, people=[held.cy.id], area=room(shop, "Loft"))
    held.withdraw(held.ada)
    assert held.words()[held.cy.id] == "waiting"
    assert held.words()[held.di.id] == "booked"


def test_who_waits_again_waits_behind_the_others(held):
    for person in (held.bo, held.cy, held.di):
        held.add(person)
    held.withdraw(held.cy)
    held.add(held.cy)
    held.withdraw(held.bo)
    assert held.words()[held.di.id] == "booked"
    assert held.words()[held.cy.id] == "waiting"


def test_nobody_has_two_places_or_none_to_give_up(held):
    again = held.add(held.ada)
    assert again.status_code == 409
    assert "They have a place here already" in again.text
    none = held.withdraw(held.bo)
    assert none.status_code == 409
    assert "They have no place here to give up." in none.text


def test_a_prerequisite_comes_before_by_record_or_by_an_earlier_session(held, shop):
    laser = shop.induction("Laser", requires=[held.basics])
    after = held.give(laser, LATER + timedelta(hours=1))
    before = held.give(laser, LATER - timedelta(days=1))
    assert held.add(held.ada, after).status_code == 303, "Basics ends as it begins"
    refused = held.add(held.ada, before)
    assert refused.status_code == 422
    assert "Ada Quill has not had “Basics” by then; it comes before “Laser”." in refused.text
    shop.hold(held.bo, held.basics)
    assert held.add(held.bo, before).status_code == 303


def test_nobody_is_in_two_places_at_once_or_twice_in_one_induction(held, shop):
    other = held.give(shop.induction("Other"), LATER + timedelta(minutes=30))
    assert "is in “Basics” at the same time" in held.add(held.ada, other).text
    second = held.give(held.basics, LATER + timedelta(days=1))
    assert "has a place in another “Basics”" in held.add(held.ada, second).text


def test_somebody_who_leaves_before_has_no_place(held, shop):
    gone = shop.person("Gone", ends_on=(shop.now + LATER - timedelta(days=1)).date())
    answer = held.add(gone)
    assert answer.status_code == 422
    assert "Gone does not belong here on 16 Mar." in answer.text


def test_the_one_who_gives_it_does_not_take_it(held):
    answer = held.add(held.technician)
    assert answer.status_code == 422
    assert "cannot give it and learn it" in answer.text


def test_many_at_once_never_take_more_places_than_there_are(held, shop, database):
    people = [shop.person() for _ in range(6)]
    ready = threading.Barrier(len(people))

    def add(person):
        ready.wait(timeout=30)
        with database.write() as session:
            row = session_or_404(session, held.id)
            return add_person(
                session, row, person.id, actor_id=shop.author.id, now=shop.now, zone=ZONE
            ).value

    with ThreadPoolExecutor(len(people)) as pool:
        results = list(pool.map(add, people))
    assert sorted(results) == ["booked"] + ["waiting"] * 5
    with database.read() as session:
        assert len(seated(places_in(session, [held.id])[held.id])) == 2


# --- called off --------------------------------------------------------------------------


def test_a_session_called_off_is_told_to_those_who_had_places_with_the_reason(
    held, another, database
):
    why = "Idris is at a hearing"
    assert held.send("call-off", why=why).status_code == 303
    assert why in held.page
    page = another.sign_in(held.ada).get(f"/sessions/{held.id}").text
    assert why in page
    assert "Called off" in another.get("/sessions").text
    stranger = type(held.visitor)(held.visitor.client.application.test_client())
    assert why not in stranger.sign_in(held.cy).get(f"/sessions/{held.id}").text
    with database.read() as session:
        rows = session.execute(select(InductionSession)).scalars().all()
        assert why not in "".join(row.place for row in rows), "words about a person"
        assert session.execute(select(PrivateNote.words)).scalars().all() == [why]


def test_a_session_is_called_off_once_with_a_reason_and_not_after_it_was_held(held, clock):
    assert "Say why" in held.send("call-off", why=" ").text
    held.send("call-off", why="Rain")
    assert held.send("call-off", why="Rain").status_code == 409
    assert held.add(held.bo).status_code == 409
    other = held.give(held.basics, LATER + timedelta(days=1), people=[held.bo.id])
    clock.at += LATER + timedelta(days=2)
    assert held.send("call-off", other, why="Late").status_code == 409


# --- attendance --------------------------------------------------------------------------


def test_attendance_is_taken_on_the_day_and_put_right_later(held, clock, database):
    held.add(held.bo)
    both = {f"came_{held.ada.id}": "attended", f"came_{held.bo.id}": "absent"}
    early = held.send("attendance", **both)
    assert early.status_code == 409
    assert "Attendance is taken on the day." in early.text
    assert "came_" not in held.page
    clock.at += LATER
    assert f'name="came_{held.ada.id}"' in held.page
    assert held.send("attendance", **both).status_code == 303
    assert held.words() == {held.ada.id: "attended", held.bo.id: "absent"}
    said = len(words(held.shop))
    assert held.send("attendance", **both).status_code == 303
    assert len(words(held.shop)) == said, "sent twice is said once"
    held.send("attendance", **{f"came_{held.bo.id}": "attended"})
    assert held.words()[held.bo.id] == "attended"
    with database.read() as session:
        actions = session.execute(select(AuditEntry.action)).scalars().all()
    assert actions.count("sessions:place:attendance") == 2


def test_attendance_signs_nobody_off(held, shop, clock):
    clock.at += LATER
    saw = shop.machine()
    shop.assess(saw, inductions=[held.basics])
    held.send("attendance", **{f"came_{held.ada.id}": "attended"})
    assert "induction-missing" in shop.codes(held.ada, saw)


def test_somebody_late_has_the_seat_of_somebody_absent(held, clock):
    held.add(held.bo)
    clock.at += LATER + timedelta(minutes=10)
    assert held.add(held.cy).status_code == 303
    assert held.words()[held.cy.id] == "waiting", "both are still expected"
    held.withdraw(held.cy)
    held.send("attendance", **{f"came_{held.bo.id}": "absent"})
    held.add(held.cy)
    assert held.words()[held.cy.id] == "booked"
    answer = held.send("attendance", **{f"came_{held.bo.id}": "attended"})
    assert answer.status_code == 409
    assert "More people than the 2 places" in answer.text
    assert held.words()[held.bo.id] == "absent"


def test_attendance_of_somebody_without_a_place_is_refused(held, clock):
    clock.at += LATER
    answer = held.send("attendance", **{f"came_{held.cy.id}": "attended"})
    assert answer.status_code == 409
    assert held.words() == {held.ada.id: "booked"}


# --- rights ------------------------------------------------------------------------------


def test_a_technician_of_another_area_changes_no_session(held, shop, another):
    another.sign_in(shop.person(roles=[Role.TECHNICIAN], area=shop.area("Elsewhere")))
    before = words(shop)
    for what, form in {
        "people": {"person_id": held.bo.id},
        f"people/{held.ada.id}/withdraw": {},
        "call-off": {"why": "x"},
        "attendance": {f"came_{held.ada.id}": "attended"},
    }.items():
        answer = another.post(f"/sessions/{held.id}/{what}", data=form)
        assert answer.status_code == 403, what
        assert "in this area" in answer.text
    assert words(shop) == before
    with shop.database.read() as session, pytest.raises(Refused):
        session_or_404(session, 999)
