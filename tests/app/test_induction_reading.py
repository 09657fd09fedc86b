"""An induction as a person reads it: own language, the original beside, both ways of writing."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.inductions.models import InductionTranslation, TranslationCheck
from app.inductions.published import published
from app.inductions.translations import translations_of
from app.people.rights import Role
from tests.app.authoring import words
from tests.app.page_forms import form_to
from tests.app.walk import changed, dump


@pytest.fixture
def induction(shop):
    return shop.induction("Sawing")


@pytest.fixture
def technician(visitor, shop):
    return visitor.sign_in(shop.author)


def translate(visitor, induction, tag="ar", **parts):
    page = f"/inductions/{induction.id}/in/{tag}"
    sent = {"part-1": "كيف يقطع", "part-2": "يوقف الآلة"} | parts
    return visitor.post(page, data=form_to(visitor.get(page).text, page).sent(**sent))


def reading(visitor, induction, languages="", **query):
    return visitor.get(
        f"/inductions/{induction.id}/read",
        query_string=query,
        headers={"Accept-Language": languages},
    )


def test_a_person_reads_in_the_language_of_their_browser_and_sees_the_original(
    technician, another, shop, induction
):
    assert translate(technician, induction).status_code == 303
    another.sign_in(shop.person())
    assert "كيف" not in reading(another, induction).text
    page = reading(another, induction, "ar-EG,en;q=0.5").text
    assert 'lang="ar" dir="rtl"' in page
    assert "كيف يقطع" in page
    assert "What is told." in page
    assert 'يوقف الآلة</span> <small class="original" lang="en">Shows the stop button' in page
    assert "nobody has checked it yet" in page
    assert "Not everything is translated yet" in page
    assert "<details open>" in page


def test_what_was_picked_is_kept_in_the_browser_and_nowhere_else(
    technician, another, shop, induction, database
):
    translate(technician, induction)
    another.sign_in(shop.person())
    before = dump(database)
    assert "كيف" in reading(another, induction, language="ar").text
    assert "كيف" in reading(another, induction, "en").text
    assert "كيف" not in reading(another, induction, "ar", language="en").text
    assert reading(another, induction, language="<b>").status_code == 200
    assert changed(before, dump(database)) == set()


def test_a_translation_is_no_new_wording_and_is_checked_by_somebody_else(
    technician, another, shop, induction, database
):
    translate(technician, induction)
    translate(technician, induction, **{"part-0": "النشر"})
    with database.read() as session:
        assert published(session, induction.id).number == 1
        first, second = session.execute(select(InductionTranslation)).scalars()
    check = f"/inductions/translations/{second.id}/check"
    assert technician.post(check).status_code == 403
    other = another.sign_in(shop.person("Rana Check", roles=[Role.TECHNICIAN]))
    assert other.post(check).status_code == 303
    assert other.post(check).status_code == 409
    assert "checked by Rana Check" in words(reading(other, induction, "ar"))
    with database.read() as session:
        assert session.execute(select(TranslationCheck.translation_id)).scalars().all() == [
            second.id
        ]
    assert "checked by" in words(technician.get(f"/inductions/{induction.id}"))
    assert first.words != second.words


def test_of_an_older_wording_it_is_marked_and_the_original_stands_open(
    technician, shop, induction, database
):
    translate(technician, induction, **{"part-0": "النشر", "part-3": "يرتب"})
    with database.write() as session:
        taught = published(session, induction.id)
        assert not translations_of(session, taught)["ar"].stale
    _republish(shop, database, induction, content="What is told now.")
    page = reading(technician, induction, "ar")
    assert "This translation is of an older wording." in words(page)
    assert "<details open>" in page.text
    assert "كيف يقطع" in page.text
    assert "What is told now." in page.text
    assert "يوقف الآلة" in page.text  # the item did not change
    form = technician.get(f"/inductions/{induction.id}/in/ar")
    assert "▲ Of an older wording" in words(form)
    translate(technician, induction)
    with database.read() as session:
        assert not translations_of(session, published(session, induction.id))["ar"].stale


def _republish(shop, database, induction, **changes):
    from app.inductions.models import Induction
    from app.inductions.published import publish

    with database.write() as session:
        publish(
            session,
            session.get_one(Induction, induction.id),
            **{
                "content": "What is told.",
                "items": [("Shows the stop button", True), ("Tidies up", False)],
                "requires": [],
                "validity_months": 12,
                "validity_basis": "common practice",
                "earlier_counts": True,
                "actor_id": shop.chief.id,
                "now": shop.now,
            }
            | changes,
        )


@pytest.mark.parametrize(
    ("tag", "status"), [("xx", 404), ("en", 409), ("<script>", 404), ("AR", 404)]
)
def test_no_other_language_is_written(technician, induction, tag, status):
    assert technician.get(f"/inductions/{induction.id}/in/{tag}").status_code == status


def test_an_empty_translation_is_refused(technician, induction, database):
    page = f"/inductions/{induction.id}/in/fr"
    before = dump(database)
    answer = technician.post(page, data=form_to(technician.get(page).text, page).sent())
    assert answer.status_code == 422
    assert changed(before, dump(database)) == set()


def test_a_translation_of_a_wording_that_was_replaced_meanwhile_is_refused(
    technician, shop, induction
):
    page = f"/inductions/{induction.id}/in/fr"
    sent = form_to(technician.get(page).text, page).sent(**{"part-0": "Scier"})
    shop.republish(induction, earlier_counts=True)
    assert technician.post(page, data=sent).status_code == 409


def test_the_name_of_an_outside_translator_is_kept_apart(technician, induction, database):
    translate(technician, induction, translator="Noor Outside")
    with database.read() as session:
        row = session.execute(select(InductionTranslation)).scalar_one()
    assert row.note_digest
    assert "Noor" not in reading(technician, induction, "ar").text


def test_what_is_written_is_shown_as_it_was_written(technician, shop, induction, database):
    _republish(shop, database, induction, content="<script>alert(1)</script>\n# <b>x</b>")
    page = reading(technician, induction).text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "&lt;b&gt;x&lt;/b&gt;</h2>" in page
