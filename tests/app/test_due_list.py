"""What is due: by what it does to people, filtered by area."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from app.actions.actions import open_action
from app.hazards.checks import latest_result
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Outcome
from app.people.models import Role
from app.presence.models import Loan
from app.site import SiteSetting
from tests.app.walk import changed, dump
from tests.factories import NOW


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def due(visitor, shop):
    visitor.sign_in(shop.author)

    def show(area=None):
        page = visitor.get("/due" + (f"?area={area.id}" if area else "")).text
        parts = re.split(r"<h2>", page[page.index("<main") :])[1:]
        return {
            part[: part.index(" <small>")]: re.findall(r'class="grow"><b>(.*?)</b>', part)
            for part in parts
        }

    return show


def test_nothing_due_is_said_so(visitor, due, bay):
    assert due() == {}
    assert "Nothing is due." in visitor.get("/due").text
    assert "Nothing is due in this area." in visitor.get(f"/due?area={bay.id}").text


def test_what_stops_people_comes_first(shop, due, bay, database):
    saw = shop.machine("Panel saw", area=bay)
    failed, missed, weekly = shop.check(), shop.check(), shop.check(unit=IntervalUnit.WEEK)
    late = shop.check(basis=Basis.STATUTORY, every=14, unit=IntervalUnit.MONTH)
    soon = shop.check(basis=Basis.STATUTORY, every=1, unit=IntervalUnit.MONTH)
    shop.assess(saw, checks=[failed, missed, weekly, late, soon])
    shop.do(weekly, saw, at=NOW - timedelta(days=5))
    shop.do(soon, saw)
    shop.do(failed, saw, Outcome.FAILED)
    borrower = shop.person("Ada Quill")
    with database.write() as session:
        result = latest_result(session, failed, saw.id)
        for what, days in (("Mend the belt", -1), ("Paint the line", 9)):
            open_action(
                session,
                about=f"check_result:{result.id}",
                what=what,
                owner="Bay",
                due_on=NOW.date() + timedelta(days=days),
                actor_id=shop.author.id,
                now=shop.now,
            )
        session.add(
            Loan(
                machine_id=saw.id,
                person_id=borrower.id,
                vibration="",
                due_at=NOW - timedelta(hours=1),
                recorded_by_id=shop.author.id,
                occurred_at=NOW - timedelta(days=1),
                recorded_at=NOW - timedelta(days=1),
            )
        )
    assert due() == {
        "Out of use for everybody": [late.title, failed.title],
        "Nobody starts until it is done": [missed.title],
        "Late, and stops nothing by itself": ["Mend the belt", "Panel saw is not back"],
        "Coming": [weekly.title, "Paint the line", soon.title],
    }
    assert due(bay) == due()
    assert due(shop.area("Wood bay")) == {}


def test_a_check_that_is_done_leaves_the_list(shop, due, bay):
    saw, guard = shop.machine(area=bay), shop.check()
    shop.assess(saw, checks=[guard])
    assert due() == {"Nobody starts until it is done": [guard.title]}
    shop.do(guard, saw)
    assert due() == {}


def test_a_check_before_each_use_is_due_by_no_date(shop, due, bay):
    saw, guard = shop.machine(area=bay), shop.check(unit=IntervalUnit.USE)
    shop.assess(saw, checks=[guard])
    assert due() == {}


def test_a_review_date_is_listed_once_and_stops_only_past_the_sites_grace(
    shop, visitor, due, bay, database, app
):
    shop.assess(shop.machine(area=bay))
    shop.clock.at = NOW + timedelta(days=330)
    visitor.sign_in(shop.author)
    assert due() == {}
    shop.clock.at = NOW + timedelta(days=340)
    visitor.sign_in(shop.author)
    (title,) = due()["Coming"]
    assert title.startswith("Review of RA-")
    shop.clock.at = NOW + timedelta(days=370)
    visitor.sign_in(shop.author)
    assert due() == {"Late, and stops nothing by itself": [title]}
    with database.write() as session:
        session.add(
            SiteSetting(
                name="review_grace_days",
                value=3,
                recorded_by_id=shop.chief.id,
                recorded_at=shop.now,
            )
        )
    app.extensions["chuckkey"]._site = None  # settings are read again every few seconds
    assert due() == {"Nobody starts until it is done": [title]}


def test_looking_at_what_is_due_changes_nothing(shop, due, bay, database):
    shop.assess(shop.machine(area=bay), checks=[shop.check()])
    before = dump(database)
    due()
    assert changed(before, dump(database)) == set()


def test_who_may_not_see_people_sees_no_list(shop, visitor):
    assert visitor.sign_in(shop.person()).get("/due").status_code == 403
    assert visitor.sign_in(shop.person(roles=[Role.AUDITOR])).get("/due").status_code == 200


@pytest.mark.parametrize(("area", "status"), [("999", 404), ("x", 400), ("9" * 30, 400)])
def test_an_area_that_is_none_is_refused(shop, visitor, area, status):
    assert visitor.sign_in(shop.author).get(f"/due?area={area}").status_code == status
