"""At the door: whoever shows a fresh code is recorded as here, booked or walking in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.people.codes import GOOD_FOR_SECONDS, code_for
from app.people.rights import Role
from tests.app.held import LATER, Held
from tests.app.term import words


@pytest.fixture
def held(shop, visitor, clock):
    """A session of two places that begins in ten minutes; one is taken."""
    found = Held(shop, visitor)
    clock.at += LATER - timedelta(minutes=10)
    return found


@pytest.fixture
def code(app, clock):
    def of(person):
        return code_for(person.id, secret=app.config["SECRET_KEY"], now=clock.at)

    return of


def test_a_scanned_code_shows_the_person_with_the_session_they_came_for(held, code):
    page = held.visitor.get(f"/c/{code(held.ada)}").text
    assert "<h1>Ada Quill</h1>" in page
    assert "They are here" in page
    answer = held.send("arrivals", code=code(held.ada))
    assert answer.status_code == 303
    assert "Ada Quill is here." in held.page
    assert held.words() == {held.ada.id: "attended"}


def test_the_address_that_the_code_opens_is_read_as_well(held, code):
    held.send("arrivals", code=f"https://workshop.example/c/{code(held.ada)} ")
    assert held.words() == {held.ada.id: "attended"}


def test_shown_twice_it_is_said_once(held, code):
    held.send("arrivals", code=code(held.ada))
    said = len(words(held.shop))
    held.send("arrivals", code=code(held.ada))
    assert len(words(held.shop)) == said
    assert "that was recorded already" in held.page


def test_whoever_walks_in_has_a_seat_that_is_free(held, code, database):
    assert "Let them in, if there is room" in held.visitor.get(f"/c/{code(held.bo)}").text
    held.send("arrivals", code=code(held.bo))
    assert "They had no place, and there was room." in held.page
    full = held.send("arrivals", code=code(held.cy))
    assert full.status_code == 409
    assert "It is full: 2 of 2." in full.text
    held.send("attendance", **{f"came_{held.ada.id}": "absent"})
    assert held.send("arrivals", code=code(held.cy)).status_code == 303
    late = held.send("arrivals", code=code(held.ada))
    assert late.status_code == 409, "her seat is gone"
    with database.read() as session:
        booked = [
            row["booked"]
            for row in session.execute(
                select(AuditEntry.detail)
                .where(AuditEntry.action == "sessions:place:arrive")
                .order_by(AuditEntry.sequence)
            ).scalars()
        ]
    assert booked == [False, False]


def test_whoever_lacks_what_comes_first_is_not_let_in(held, shop, code):
    laser = shop.induction("Laser", requires=[held.basics])
    now = held.give(laser, timedelta(minutes=20))
    refused = held.send("arrivals", now, code=code(held.bo))
    assert refused.status_code == 422
    assert "Bo Quill has not had “Basics” by then" in refused.text


def test_a_photograph_of_the_code_is_worth_nothing(held, code, clock):
    old = code(held.ada)
    clock.at += timedelta(seconds=GOOD_FOR_SECONDS + 1)
    answer = held.send("arrivals", code=old)
    assert answer.status_code == 422
    assert "That code has run out. Ask the person to show a new one." in answer.text
    assert held.send("arrivals", code="made-up").status_code == 422
    assert held.words() == {held.ada.id: "booked"}


def test_the_door_opens_an_hour_before_and_on_the_day(held, code, clock):
    clock.at -= timedelta(minutes=50)
    assert "At the door" in held.page
    clock.at -= timedelta(minutes=1)
    assert "At the door" not in held.page
    assert (
        held.visitor.get(f"/c/{code(held.ada)}")
        .headers["Location"]
        .endswith(f"/people/{held.ada.id}")
    )
    clock.at -= timedelta(days=1)
    assert held.send("arrivals", code=code(held.ada)).status_code == 409


def test_after_it_was_called_off_nobody_comes(held, code):
    held.send("call-off", why="Smoke")
    assert held.send("arrivals", code=code(held.ada)).status_code == 409


def test_a_technician_of_another_area_stands_at_another_door(held, shop, another, code):
    another.sign_in(shop.person(roles=[Role.TECHNICIAN], area=shop.area("Elsewhere")))
    assert another.get(f"/c/{code(held.ada)}").status_code == 303
    answer = another.post(f"/sessions/{held.id}/arrivals", data={"code": code(held.ada)})
    assert answer.status_code == 403
    assert held.words() == {held.ada.id: "booked"}


def test_to_be_here_signs_nobody_off(held, shop, code):
    saw = shop.machine()
    shop.assess(saw, inductions=[held.basics])
    held.send("arrivals", code=code(held.ada))
    assert "induction-missing" in shop.codes(held.ada, saw)
