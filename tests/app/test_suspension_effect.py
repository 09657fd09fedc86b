"""What was set about a person reaches the decision: marks, equipment, age, a visit."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.people.models import Person
from app.risk_assessments.models import RiskAssessment
from tests.factories import PASSWORD

CONDITIONS = {
    "lone": "allowed",
    "companions": 0,
    "unstaffed": True,
    "first_aider": False,
    "minimum_age": 16,
    "supervised_under": 18,
    "equipment": ["Half mask, fitted"],
}


@pytest.fixture
def lathe(shop):
    return shop.machine("Lathe", area=shop.area("Metal bay"))


@pytest.fixture
def plain(shop, lathe):
    """The lathe under an assessment that asks for no induction."""
    return shop.assess(lathe)


@pytest.fixture
def strict(shop, lathe):
    """The lathe under an assessment that asks for an age and for equipment."""
    draft = shop.draft(lathe)
    with shop.database.write() as session:
        row = session.get_one(RiskAssessment, draft.id)
        row.prose = {**row.prose, "conditions": CONDITIONS}
    return shop.approve(draft)


@pytest.fixture
def phone(shop, visitor):
    return visitor.sign_in(shop.technician())


def verdict(shop, person, machine):
    shop.clock.at += timedelta(seconds=1)
    return shop.ask(person, machine).verdict.words, set(shop.codes(person, machine))


def test_a_mark_stops_the_start_where_it_was_set_and_the_scan_gives_no_ground(
    shop, phone, another, lathe, plain
):
    ada = shop.person("Ada Quill")
    shop.acknowledge(ada, plain)
    assert verdict(shop, ada, lathe) == ("cleared", set())
    phone.post(f"/people/{ada.id}/marks", data={"where": f"area {lathe.area_id}"})
    assert verdict(shop, ada, lathe) == ("not cleared", {"speak-to-technician"})
    assert "technician" in another.sign_in(ada).get(f"/m/{shop.code(lathe)}").text
    phone.post(f"/people/{ada.id}/marks/1/end")
    assert verdict(shop, ada, lathe) == ("cleared", set())


def test_equipment_and_age_that_an_assessment_asks_for_are_put_on_record(
    shop, phone, another, lathe, strict
):
    ada = shop.person("Ada Quill")
    shop.acknowledge(ada, strict)
    assert verdict(shop, ada, lathe) == ("not cleared", {"age-not-known", "equipment-missing"})
    page = phone.get(f"/people/{ada.id}").text
    assert '<option value="Half mask, fitted">' in page
    assert "Age not on record." in page
    another.sign_in(shop.chief)
    born = {"age": "born on", "born_on": "2009-03-11"}
    assert another.post(f"/people/{ada.id}/age", data=born).status_code == 303
    fitted = {"equipment": "half mask, Fitted", "expires_on": "2026-03-10"}
    assert phone.post(f"/people/{ada.id}/equipment", data=fitted).status_code == 303
    assert verdict(shop, ada, lathe) == ("supervised", {"young-person"})
    shop.clock.at += timedelta(days=1)
    assert verdict(shop, ada, lathe) == ("not cleared", {"young-person", "equipment-missing"})


def test_an_age_is_shown_to_technicians_and_only_where_a_rule_asks(
    shop, visitor, another, lathe, plain
):
    ada = shop.person("Ada Quill")
    another.sign_in(shop.chief)
    another.post(f"/people/{ada.id}/age", data={"age": "born on", "born_on": "2009-08-14"})
    visitor.sign_in(shop.technician())
    words = "Turns 18 on 14 Aug 2027."
    assert words not in visitor.get(f"/people/{ada.id}").text
    shop.clock.at += timedelta(seconds=1)
    draft = shop.draft(shop.machine())
    with shop.database.write() as session:
        row = session.get_one(RiskAssessment, draft.id)
        row.prose = {**row.prose, "conditions": CONDITIONS}
    shop.approve(draft)
    assert words in visitor.get(f"/people/{ada.id}").text
    assert words not in another.get(f"/people/{ada.id}").text  # an approver is no technician
    assert words not in another.get(f"/people/{shop.author.id}").text


def test_a_guest_is_supervised_only_and_gone_tonight(shop, phone, lathe, plain):
    answer = phone.post("/visitors/new", data={"name": "Vera Loom", "kind": "one-day course"})
    assert answer.status_code == 303
    with shop.database.read() as session:
        vera = session.execute(select(Person).where(Person.name == "Vera Loom")).scalar_one()
    shop.acknowledge(vera, plain)
    assert verdict(shop, vera, lathe) == ("supervised", {"visitor"})
    night = shop.ask(vera, lathe).holds_until
    assert night == shop.clock.at.replace(hour=0, minute=0, second=0) + timedelta(days=1)
    shop.clock.at = night
    assert shop.codes(vera, lathe) == ["account-ended"]


def test_a_guest_who_has_left_is_stopped_at_once(shop, phone, lathe, plain):
    phone.post("/visitors/new", data={"name": "Vera Loom", "kind": "cleaner"})
    with shop.database.read() as session:
        vera = session.execute(select(Person).where(Person.name == "Vera Loom")).scalar_one()
    shop.clock.at += timedelta(seconds=1)
    phone.post("/visitors/1/end", data={"password": PASSWORD})
    assert verdict(shop, vera, lathe)[0] == "not cleared"
