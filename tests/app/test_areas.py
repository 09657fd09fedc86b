"""Areas: added, closed and opened, with hours, days off, capacity, and who may say so."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import select

from app.errors import Refused
from app.machines.models import (
    Area,
    AreaClosure,
    AreaTerms,
    ClosedDays,
    During,
    OpeningHours,
    Staffing,
)
from app.machines.opening import add_hours, calendar_of, close_days, end_hours
from app.people.rights import Role


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


def hours_of(database, area):
    with database.read() as session:
        return [
            (row.weekday, row.opens, row.closes, row.staffing, row.during)
            for row in calendar_of(session, area.id).hours
        ]


def test_a_technician_adds_an_area_and_sees_it_in_the_list(shop, visitor):
    visitor.sign_in(shop.author)
    answer = visitor.post("/areas", data={"name": "Kiln room", "place": "Yard", "help": "Hatch"})
    assert answer.status_code == 303
    assert "Kiln room" in visitor.get("/areas").text
    assert "Yard" in visitor.get(answer.location).text


def test_two_areas_cannot_share_a_name(shop, bay, visitor, database):
    visitor.sign_in(shop.author)
    answer = visitor.post("/areas", data={"name": "Metal bay"})
    assert answer.status_code == 422
    assert "There is an area called Metal bay already." in answer.text
    with database.read() as session:
        assert len(session.execute(select(Area)).scalars().all()) == 1


def test_a_closed_area_stops_its_machines_and_opens_after_named_checks(
    shop, bay, visitor, database
):
    saw = shop.machine("Panel saw", area=bay)
    shop.assess(saw)
    visitor.sign_in(shop.author)
    visitor.post(f"/areas/{bay.id}/close", data={"why": "Solvent on the floor"})
    assert "This area is closed." in visitor.get(f"/machines/{saw.id}").text
    with database.read() as session:
        closure = session.execute(select(AreaClosure)).scalar_one()
    empty = visitor.post(f"/areas/{bay.id}/closures/{closure.id}/end", data={"checks": " "})
    assert empty.status_code == 422
    assert "Name what was looked at" in empty.text
    visitor.post(f"/areas/{bay.id}/closures/{closure.id}/end", data={"checks": "Wiped, aired"})
    assert "This area is closed." not in visitor.get(f"/machines/{saw.id}").text
    again = visitor.post(f"/areas/{bay.id}/closures/{closure.id}/end", data={"checks": "Again"})
    assert again.status_code == 409


def test_a_closure_is_ended_only_by_way_of_its_own_area(shop, bay, visitor, database):
    other = shop.area()
    visitor.sign_in(shop.author)
    visitor.post(f"/areas/{bay.id}/close", data={"why": "Alarm"})
    with database.read() as session:
        closure = session.execute(select(AreaClosure)).scalar_one()
    answer = visitor.post(f"/areas/{other.id}/closures/{closure.id}/end", data={"checks": "Fine"})
    assert answer.status_code == 404


def test_hours_are_set_for_several_days_at_once_and_end_one_by_one(shop, bay, visitor, database):
    visitor.sign_in(shop.chief)
    visitor.post(
        f"/areas/{bay.id}/hours",
        data={
            "weekday": ["0", "4"],
            "opens": "09:00",
            "closes": "17:30",
            "staffing": "staffed",
            "during": "in term",
        },
    )
    assert hours_of(database, bay) == [
        (0, "09:00", "17:30", Staffing.STAFFED, During.IN_TERM),
        (4, "09:00", "17:30", Staffing.STAFFED, During.IN_TERM),
    ]
    page = visitor.get(f"/areas/{bay.id}").text
    assert "Monday" in page
    assert "09:00–17:30" in page
    with database.read() as session:
        first = calendar_of(session, bay.id).hours[0]
    visitor.post(f"/areas/{bay.id}/hours/{first.id}/end")
    assert [row[0] for row in hours_of(database, bay)] == [4]
    with database.read() as session:  # both rows, and the one that ended the first, are kept
        assert len(session.execute(select(OpeningHours)).scalars().all()) == 3


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"opens": "25:00"}, "“25:00” is not a time such as 09:00."),
        ({"opens": "9:00"}, "“9:00” is not a time such as 09:00."),
        ({"closes": "08:00"}, "Opening comes before closing."),
        ({"weekday": []}, "Choose at least one day of the week."),
        ({"weekday": ["9"]}, "Choose at least one day of the week."),
        ({"staffing": "half"}, "Choose one for “staffing”"),
    ],
)
def test_hours_that_say_nothing_clear_are_refused(shop, bay, visitor, database, change, sentence):
    form = {
        "weekday": ["1"],
        "opens": "09:00",
        "closes": "17:00",
        "staffing": "staffed",
        "during": "all year",
    }
    visitor.sign_in(shop.chief)
    answer = visitor.post(f"/areas/{bay.id}/hours", data=form | change)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert hours_of(database, bay) == []


def test_hours_that_would_say_two_things_of_one_moment_are_refused(shop, bay, database):
    def add(opens, closes, staffing=Staffing.STAFFED, during=During.ALWAYS):
        with database.write() as session:
            add_hours(
                session,
                session.get_one(Area, bay.id),
                weekdays=[2],
                opens=opens,
                closes=closes,
                staffing=staffing,
                during=during,
                actor_id=shop.chief.id,
                now=shop.now,
            )

    add("09:00", "17:00")
    add("17:00", "24:00", Staffing.UNSTAFFED)  # side by side is fine
    with pytest.raises(Refused, match="Wednesday 09:00 to 17:00 is on record already"):
        add("16:59", "18:00", Staffing.UNSTAFFED, During.IN_TERM)
    assert len(hours_of(database, bay)) == 2


def test_hours_cannot_be_ended_twice_or_by_way_of_another_area(shop, bay, visitor, database):
    other = shop.area()
    with database.write() as session:
        add_hours(
            session,
            session.get_one(Area, bay.id),
            weekdays=[0],
            opens="09:00",
            closes="17:00",
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
            actor_id=shop.chief.id,
            now=shop.now,
        )
        row = calendar_of(session, bay.id).hours[0]
    visitor.sign_in(shop.chief)
    assert visitor.post(f"/areas/{other.id}/hours/{row.id}/end").status_code == 404
    assert visitor.post(f"/areas/{bay.id}/hours/{row.id}/end").status_code == 303
    assert visitor.post(f"/areas/{bay.id}/hours/{row.id}/end").status_code == 404
    with database.write() as session, pytest.raises(Refused, match="ended already"):
        end_hours(session, row.id, actor_id=shop.chief.id, now=shop.now)


def test_days_off_of_an_area_are_its_own_and_those_of_the_site_everybodys(shop, bay, database):
    other = shop.area()
    by = {"actor_id": shop.chief.id, "now": shop.now}
    with database.write() as session:
        close_days(
            session,
            area_id=bay.id,
            name="Floor paint",
            first_on=date(2026, 4, 1),
            last_on=date(2026, 4, 2),
            **by,
        )
        close_days(
            session,
            area_id=None,
            name="Holiday",
            first_on=date(2026, 4, 3),
            last_on=date(2026, 4, 6),
            **by,
        )
    with database.read() as session:
        assert [d.name for d in calendar_of(session, bay.id).closed] == ["Floor paint", "Holiday"]
        assert [d.name for d in calendar_of(session, other.id).closed] == ["Holiday"]
    with database.write() as session, pytest.raises(Refused, match="before the first"):
        close_days(
            session,
            area_id=None,
            name="Back",
            first_on=date(2026, 4, 3),
            last_on=date(2026, 4, 2),
            **by,
        )


def test_an_area_cannot_take_back_days_off_of_the_whole_site(shop, bay, visitor, database):
    visitor.sign_in(shop.chief)
    visitor.post(
        "/site/closed-days",
        data={"name": "Holiday", "first_on": "2026-04-03", "last_on": "2026-04-06"},
    )
    with database.read() as session:
        days = session.execute(select(ClosedDays)).scalar_one()
    assert visitor.post(f"/areas/{bay.id}/closed-days/{days.id}/end").status_code == 404
    assert visitor.post(f"/site/closed-days/{days.id}/end").status_code == 303


def test_capacity_and_ratio_keep_their_history(shop, bay, visitor, database):
    visitor.sign_in(shop.chief)
    for capacity, ratio in (("12", "6"), ("8", "")):
        visitor.post(
            f"/areas/{bay.id}/terms", data={"capacity": capacity, "people_per_supervisor": ratio}
        )
    with database.read() as session:
        rows = session.execute(select(AreaTerms).order_by(AreaTerms.id)).scalars().all()
    assert [(r.capacity, r.people_per_supervisor) for r in rows] == [(12, 6), (8, None)]
    page = visitor.get(f"/areas/{bay.id}").text
    assert "At most 8 people at work." in page
    for wrong in ("0", "-1", "many", "5000"):
        assert visitor.post(f"/areas/{bay.id}/terms", data={"capacity": wrong}).status_code == 422


def test_only_those_who_set_rules_set_hours(shop, bay, visitor):
    visitor.sign_in(shop.person("Tess Tech", roles=[Role.TECHNICIAN]))
    answer = visitor.post(f"/areas/{bay.id}/hours", data={})
    assert answer.status_code == 403
    assert "You may not set hours, capacity and the rules of the house." in answer.text
