"""The site's own scale: set with history, its departures shown, and what is rated outside it."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.people.rights import Role
from app.risk_assessments.models import Revision
from app.site import SiteSetting, site
from assessments.document.frozen import thaw
from assessments.rating import FIVE_BY_FIVE, scale_from
from tests.app.authoring import Author, words
from tests.app.page_forms import forms_of
from tests.app.walk import changed, dump

THREE = {
    "severity": "slight\r\nsevere\r\ndeadly",
    "likelihood": "rare\r\nnow and then\r\noften",
    "steps-0-name": "Low",
    "steps-0-low": "1",
    "steps-0-meaning": "Keep.",
    "steps-1-name": "Middle",
    "steps-1-low": "4",
    "steps-1-meaning": "Think.",
    "steps-2-name": "High",
    "steps-2-low": "9",
    "steps-2-meaning": "Stop.",
}


@pytest.fixture
def chief(visitor, shop):
    return visitor.sign_in(shop.chief)


def scale_now(database):
    with database.read() as session:
        value = site(session).scale
    return None if value is None else scale_from(value)


def test_a_site_sets_its_own_scale_and_what_held_before_is_kept(chief, database, app):
    assert chief.post("/site/scale", data=THREE).status_code == 303
    assert scale_now(database).severity == ("slight", "severe", "deadly")
    app.extensions["chuckkey"]._site = None
    page = words(chief.get("/site/scale"))
    assert "This site’s own." in page
    # Cox's theorem: of three by three there is one way to keep all axioms, and this is it.
    assert "It keeps Cox’s axioms for such scales." in page
    assert chief.post("/site/scale", data={"act": "five-by-five"}).status_code == 303
    app.extensions["chuckkey"]._site = None
    page = words(chief.get("/site/scale"))
    assert "Consistent colouring is not kept" in page
    assert "3 by 3 : Low, Middle, High" in page
    with database.read() as session:
        rows = session.execute(select(SiteSetting).where(SiteSetting.name == "scale")).scalars()
        assert [row.value is None for row in rows] == [False, True]


def test_the_form_of_the_scale_sent_as_it_is_shown_is_the_scale_that_holds(chief, database):
    (form,) = (f for f in forms_of(chief.get("/site/scale").text) if "severity" in f.fields)
    assert chief.post("/site/scale", data=form.sent()).status_code == 303
    assert scale_now(database) == FIVE_BY_FIVE


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"severity": "one\r\ntwo"}, "severity has 3 to 6 words"),
        ({"steps-1-low": "x"}, "begins at a whole number"),
        ({"steps-1-low": "99"}, "higher score"),
        ({"steps-0-low": "2"}, "begins at 1"),
        ({"steps-2-meaning": ""}, "1 to 200 characters"),
        ({"likelihood": "a\r\nb\r\nA"}, "A word stands twice"),
    ],
)
def test_what_is_no_scale_is_not_set(chief, database, change, sentence):
    before = dump(database)
    answer = chief.post("/site/scale", data=THREE | change)
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert changed(before, dump(database)) == set()


def test_lines_rated_outside_the_scale_are_named_and_not_submitted(
    visitor, another, shop, database, app
):
    author = Author(visitor, shop)
    author.draft_id = shop.draft(shop.machine(), checks=[shop.check()]).id
    another.sign_in(shop.chief).post("/site/scale", data=THREE)
    app.extensions["chuckkey"]._site = None
    assert "1 line is rated outside the scale" in words(another.get("/site/scale"))
    assert "outside the site’s scale" in words(visitor.get(f"{author.at}/edit"))
    (line,) = author.lines()
    page = f"{author.at}/lines/{line.id}"
    assert "4, outside the site’s scale" in words(visitor.get(page))
    assert author.submit().status_code == 422
    ranks = {"severity_before": "3", "severity_after": "3", "likelihood_before": "3"}
    assert author.save(page, "confirm", **ranks, likelihood_after="2").status_code == 303
    assert author.submit().status_code == 303
    with database.read() as session:
        content = thaw(session.execute(select(Revision.content)).scalar_one())
    assert content.scale.likelihood == ("rare", "now and then", "often")
    assert content.scale_departs == ()


@pytest.mark.parametrize("role", [None, Role.TECHNICIAN, Role.AUDITOR])
def test_who_may_not_set_rules_sets_no_scale(visitor, shop, database, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert visitor.post("/site/scale", data=THREE).status_code == 403
    assert changed(before, dump(database)) == set()
