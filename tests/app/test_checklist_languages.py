"""Checklists in the reader's language beside the original: what is signed stays the original."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.training.models import SignOff, SignOffItem
from tests.app.group import Together
from tests.app.page_forms import form_to
from tests.factories import PASSWORD

SAID = "يوقف الآلة"
ARABIC = {"Accept-Language": "ar-EG,en;q=0.5"}


@pytest.fixture
def together(visitor, shop):
    together = Together(shop)
    author = visitor.sign_in(shop.author)
    page = f"/inductions/{together.basics.id}/in/ar"
    author.post(page, data=form_to(author.get(page).text, page).sent(**{"part-2": SAID}))
    return together


@pytest.fixture
def phone(another, together):
    return another.sign_in(together.technician)


@pytest.fixture
def pages(together):
    return [together.address, checklist(together)]


def checklist(together):
    return f"/people/{together.people[0].id}/inductions/{together.basics.id}"


def test_who_chose_no_language_sees_the_original_alone(phone, pages):
    for page in pages:
        text = phone.get(page).text
        assert "Shows the stop button" in text
        assert SAID not in text
        assert "What is signed is the original" not in text


def test_the_translation_stands_beside_the_original_and_is_marked(phone, pages, shop):
    for page in pages:
        text = " ".join(phone.get(page, headers=ARABIC).text.split())
        assert (
            '<span lang="en" dir="ltr">Shows the stop button</span>'
            f'<span class="said" lang="ar" dir="rtl">{SAID}</span>' in text
        )
        assert f"Translated by {shop.author.name}; <b>nobody has checked it yet</b>" in text
        assert "What is signed is the original in English." in text


def test_what_is_picked_on_the_checklist_holds_on_the_phone(phone, pages):
    group, one = pages
    assert SAID in phone.get(group, query_string={"language": "ar"}).text
    assert SAID in phone.get(one).text
    assert SAID in phone.get(group).text
    assert SAID not in phone.get(one, query_string={"language": "en"}).text


def test_what_is_recorded_are_the_items_of_the_original(phone, together, database):
    page = checklist(together)
    text = phone.get(page, headers=ARABIC).text
    sent = form_to(text, "").sent(item=[str(together.essential)], result="on their own")
    answer = phone.post(page, data={**sent, "password": PASSWORD}, headers=ARABIC)
    assert answer.status_code == 303
    with database.read() as session:
        row = session.execute(select(SignOff)).scalar_one()
        seen = select(SignOffItem.item_id).where(SignOffItem.sign_off_id == row.id)
        assert row.induction_revision_id == together.revision
        assert set(session.execute(seen).scalars()) == {together.essential, together.other}


def test_a_refused_form_comes_back_in_both_languages(phone, together):
    text = phone.post(together.address, data=together.form(here=None), headers=ARABIC).text
    assert "Set aside whoever was not here" in text
    assert SAID in text
