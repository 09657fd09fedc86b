"""The hours that technicians put in for inductions, and take back."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.sessions.given import give
from app.sessions.teaching import hours_between
from tests.app.term import MONDAY, hours, room


def on_record(shop, person):
    with shop.database.read() as session:
        rows = hours_between(session, [person.id], MONDAY - timedelta(days=30), date(2026, 12, 31))
        return [(row.day, row.opens, row.closes) for row in rows]


def form(first_on=MONDAY, last_on=None, opens="09:00", closes="12:00", weekdays=()):
    return {
        "first_on": first_on.isoformat(),
        "last_on": last_on.isoformat() if last_on else "",
        "opens": opens,
        "closes": closes,
        "weekday": list(weekdays),
    }


def test_hours_are_put_in_for_one_day(shop, visitor):
    visitor.sign_in(shop.author)
    assert visitor.post("/hours", data=form()).status_code == 303
    assert on_record(shop, shop.author) == [(MONDAY, "09:00", "12:00")]
    page = visitor.get("/hours").text
    assert "Week of 16 Mar 2026" in page
    assert "3 h to come" in page


def test_a_weekly_pattern_is_a_row_for_each_of_its_days(shop, visitor):
    visitor.sign_in(shop.author)
    sent = form(last_on=MONDAY + timedelta(days=13), weekdays=["0", "2"])
    assert visitor.post("/hours", data=sent).status_code == 303
    days = [day for day, _, _ in on_record(shop, shop.author)]
    # 16 March 2026 is a Monday (ISO 8601 weekday 1), the 18th a Wednesday (3).
    assert days == [date(2026, 3, 16), date(2026, 3, 18), date(2026, 3, 23), date(2026, 3, 25)]
    assert {day.isoweekday() for day in days} == {1, 3}


@pytest.mark.parametrize(
    ("sent", "told"),
    [
        (form(opens="12:00", closes="09:00"), "The end comes after the beginning."),
        (form(opens="9 o'c"), "is not a time such as 09:00"),
        (form(last_on=MONDAY - timedelta(days=1)), "The last day comes before the first."),
        (form(first_on=MONDAY - timedelta(days=30)), "Hours are put in for days to come."),
        (form(last_on=MONDAY + timedelta(days=400)), "At most 190 days at a time."),
        (form(weekdays=["6"]), "None of these days is such a weekday."),
    ],
)
def test_hours_that_cannot_be_are_told_and_the_form_keeps_them(shop, visitor, sent, told):
    visitor.sign_in(shop.author)
    answer = visitor.post("/hours", data=sent)
    assert answer.status_code == 422
    assert told in answer.text
    assert f'name="first_on" type="date" required min="2026-03-10" value="{sent["first_on"]}"' in (
        answer.text
    )
    assert on_record(shop, shop.author) == []


def test_hours_that_overlap_are_refused_whole(shop, visitor):
    hours(shop, shop.author, first_on=MONDAY + timedelta(days=2))
    visitor.sign_in(shop.author)
    sent = form(last_on=MONDAY + timedelta(days=4), opens="11:30", closes="13:00")
    answer = visitor.post("/hours", data=sent)
    assert answer.status_code == 422
    assert "Wed 18 Mar, 09:00 to 12:00 is on record already" in answer.text
    assert len(on_record(shop, shop.author)) == 1
    touching = form(first_on=MONDAY + timedelta(days=2), opens="12:00", closes="13:00")
    assert visitor.post("/hours", data=touching).status_code == 303


def test_hours_are_taken_back_once_and_by_nobody_else(shop, visitor, another):
    hours(shop, shop.author)
    with shop.database.read() as session:
        (row,) = hours_between(session, [shop.author.id], MONDAY, MONDAY)
    stranger = shop.technician()
    assert another.sign_in(stranger).post(f"/hours/{row.id}/end").status_code == 404
    visitor.sign_in(shop.author)
    assert visitor.post(f"/hours/{row.id}/end").status_code == 303
    assert on_record(shop, shop.author) == []
    assert visitor.post(f"/hours/{row.id}/end").status_code == 409


def test_a_stretch_of_days_is_taken_back_at_once(shop, visitor):
    hours(shop, shop.author, days=5)
    visitor.sign_in(shop.author)
    sent = {
        "from_on": (MONDAY + timedelta(days=1)).isoformat(),
        "through_on": (MONDAY + timedelta(days=3)).isoformat(),
    }
    assert visitor.post("/hours/end", data=sent).status_code == 303
    assert [day for day, _, _ in on_record(shop, shop.author)] == [
        MONDAY,
        MONDAY + timedelta(days=4),
    ]
    assert visitor.post("/hours/end", data=sent).status_code == 422


def test_the_page_says_what_is_published_in_the_hours(shop, visitor):
    basics = shop.induction()
    technician = shop.technician(basics)
    hours(shop, technician)
    bay = room(shop)
    with shop.database.write() as session:
        at = shop.now + timedelta(days=6)  # Monday at nine
        give(
            session,
            induction_id=basics.id,
            area=bay,
            technician_id=technician.id,
            starts_at=at,
            ends_at=at + timedelta(hours=1),
            places=4,
            people=[],
            actor_id=shop.chief.id,
            now=shop.now,
        )
    page = visitor.sign_in(technician).get("/hours").text
    assert "1 session published in it" in page
