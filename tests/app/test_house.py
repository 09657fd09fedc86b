"""The rules of the house: set by those who may, checked, kept with their history."""

from __future__ import annotations

from dataclasses import fields

import pytest
from sqlalchemy import select

from app.house.rules import RULES
from app.people.rights import Role
from app.site import Site, SiteSetting, site

# Set on pages of their own: whose limits hold, and the scale of ratings.
ELSEWHERE = {"regime", "scale"}


def now_holds(database):
    with database.read() as session:
        return site(session)


def test_every_setting_of_the_site_has_its_rule_in_the_page_or_a_page_of_its_own():
    assert set(RULES) | ELSEWHERE == {field.name for field in fields(Site)}


def test_a_rule_holds_from_now_on_and_what_held_before_is_kept(shop, visitor, database):
    visitor.sign_in(shop.chief)
    for value in ("14", "7"):
        assert visitor.post("/site/grace_days", data={"value": value}).status_code == 303
    assert now_holds(database).grace_days == 7
    page = visitor.get("/site/grace_days").text
    assert page.index("<b>7</b>") < page.index("<b>14</b>")
    assert "set by Chief Approver" in page


@pytest.mark.parametrize(
    ("name", "typed", "kept"),
    [
        ("name", "Yard workshop", "Yard workshop"),
        ("zone", "Europe/Lisbon", "Europe/Lisbon"),
        ("disuse_months", "", None),
        ("disuse_months", "12", 12),
        ("presence_minutes", "90", 90),
        ("one_person_may_approve", "yes", True),
        ("action_value_stops", "no", False),
        ("first_aid_induction", "", None),
        ("local_document_confirmed_on", "2026-02-01", "2026-02-01"),
        ("review_grace_days", "60", 60),
        ("red_list", "", ()),
        ("remind_days", "7, 28;0", (28, 7, 0)),
        ("remind_check_days", "", ()),
        ("quiet_from", "21:30", "21:30"),
        ("quiet_weekdays", "sunday, Friday", (4, 6)),
        ("quiet_weekdays", "", ()),
    ],
)
def test_what_is_typed_is_what_holds(shop, visitor, database, name, typed, kept):
    visitor.sign_in(shop.chief)
    assert visitor.post(f"/site/{name}", data={"value": typed}).status_code == 303
    assert getattr(now_holds(database), name) == kept


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("grace_days", "-1", "is not a whole number from 0 to 60"),
        ("grace_days", "61", "is not a whole number from 0 to 60"),
        ("presence_minutes", "", "is not a whole number from 15 to 480"),
        ("zone", "Mars/Base", "is no time zone"),
        ("zone", "../../etc/passwd", "is no time zone"),
        ("name", "", "This cannot be empty."),
        ("name", "x" * 201, "At most 200 characters."),
        ("one_person_may_approve", "perhaps", "Say yes or no."),
        ("local_document_confirmed_on", "1 May", "is no date"),
        ("red_list", "No such saw", "There is no machine called “No such saw”."),
        ("remind_days", "soon", "Write up to six numbers of days"),
        ("remind_days", "367", "Write up to six numbers of days"),
        ("quiet_until", "8 o’clock", "is not a time such as 18:00"),
        ("quiet_weekdays", "Caturday", "“Caturday” is no day of the week"),
        (
            "quiet_weekdays",
            "Monday Tuesday Wednesday Thursday Friday Saturday Sunday",
            "Leave one day on which mails go out.",
        ),
        ("technicians_after_days", "0", "is not a whole number from 1 to 366"),
        ("first_aid_induction", "Magic", "There is no induction called “Magic”."),
    ],
)
def test_what_cannot_hold_is_refused_and_changes_nothing(
    shop, visitor, database, name, typed, sentence
):
    before = now_holds(database)
    visitor.sign_in(shop.chief)
    answer = visitor.post(f"/site/{name}", data={"value": typed})
    assert answer.status_code == 422
    assert sentence in answer.text
    assert now_holds(database) == before


def test_machines_and_inductions_are_named_in_words_and_kept_by_number(shop, visitor, database):
    saw, basics = shop.machine("Panel saw"), shop.induction("First aid at work")
    visitor.sign_in(shop.chief)
    visitor.post("/site/red_list", data={"value": "Panel saw\n\n"})
    visitor.post("/site/first_aid_induction", data={"value": "First aid at work"})
    holds = now_holds(database)
    assert holds.red_list == (saw.id,)
    assert holds.first_aid_induction == basics.id
    page = visitor.get("/site").text
    assert "Panel saw" in page
    assert "First aid at work" in page


def test_there_is_no_rule_beside_those_in_the_page(shop, visitor, database):
    visitor.sign_in(shop.chief)
    assert visitor.post("/site/regime", data={"value": "gb"}).status_code == 404
    assert visitor.get("/site/secret").status_code == 404
    with database.read() as session:
        assert session.execute(select(SiteSetting)).first() is None


def test_terms_and_days_off_of_the_site_are_added_and_taken_back(shop, visitor):
    visitor.sign_in(shop.chief)
    visitor.post(
        "/site/terms", data={"name": "Spring", "first_on": "2026-01-12", "last_on": "2026-03-27"}
    )
    page = visitor.get("/site").text
    assert "Spring" in page
    assert "12 Jan 2026 to 27 Mar 2026" in page
    assert visitor.post("/site/terms/1/end").status_code == 303
    assert visitor.post("/site/terms/1/end").status_code == 409
    assert "Spring" not in visitor.get("/site").text


def test_a_technician_reads_the_rules_and_sets_none(shop, visitor):
    visitor.sign_in(shop.person("Tess Tech", roles=[Role.TECHNICIAN]))
    assert visitor.get("/site").status_code == 200
    assert visitor.post("/site/grace_days", data={"value": "3"}).status_code == 403
