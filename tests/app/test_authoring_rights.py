"""Who may write on a draft, what hostile words do there, and what cannot be removed."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.calculations.attached import attach
from app.hazards.models import Check, Hazard
from app.people.rights import Role
from assessments.calculate import calculate
from tests.app.authoring import LEFT_OUT, Author, words
from tests.app.walk import changed, dump


@pytest.fixture
def author(visitor, shop):
    return Author(visitor, shop)


@pytest.fixture
def original(shop, database):
    """A draft with a number beside its line."""
    draft = shop.draft(shop.machine("Old saw"), checks=[shop.check()])
    with database.write() as session:
        hazard = session.execute(select(Hazard)).scalar_one()
        found = calculate("noise.daily", {"tasks": [[95, 1]]})
        attach(session, hazard, found, actor_id=shop.author.id, now=shop.now)
    return draft


@pytest.mark.parametrize("role", [None, Role.APPROVER, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_write_reaches_no_part_of_a_draft(author, shop, another, database, role):
    author.begin()
    line, suggested = author.lines()[0], author.suggestions()[0]
    another.sign_in(shop.person(roles=[role] if role else []))
    pages = ("edit", "words", "conditions", "lines/new", f"lines/{line.id}")
    before = dump(database)
    for page in pages:
        assert another.get(f"{author.at}/{page}").status_code == 403
    for form in ("words", "conditions", f"lines/{line.id}", f"suggestions/{suggested.id}"):
        assert another.post(f"{author.at}/{form}", data={"act": "save"}).status_code == 403
    assert changed(before, dump(database)) == set()


def test_a_technician_of_another_area_writes_on_no_draft_of_this_one(
    author, shop, another, database
):
    author.begin()
    line = author.lines()[0]
    page = f"{author.at}/lines/{line.id}"
    sent = author.form(page).sent(act="confirm")
    another.sign_in(shop.person(roles=[Role.TECHNICIAN], area=shop.area("Elsewhere")))
    before = dump(database)
    assert another.get(page).status_code == 403
    assert another.post(page, data=sent).status_code == 403
    assert changed(before, dump(database)) == set()


def test_words_that_look_like_a_page_are_shown_as_words(author):
    author.begin()
    hostile = '<script>alert("x")</script></textarea><img src=x onerror=y>'
    line = author.lines()[0]
    page = f"{author.at}/lines/{line.id}"
    author.save(page, kind=hostile[:100], how=hostile, who=hostile)
    author.decide(author.suggestions()[0], proved=LEFT_OUT, words=hostile)
    author.save(f"{author.at}/words", scope=hostile, emergency=hostile)
    for each in (page, f"{author.at}/words", f"{author.at}/edit"):
        shown = author.visitor.get(each).text
        assert "<script>alert" not in shown
        assert "<img src=x" not in shown
    assert author.form(page).fields["how"] == [hostile]


def test_a_line_with_a_number_beside_it_stays(author, original, shop):
    author.draft_id = original.id
    (line,) = author.lines()
    answer = author.visitor.post(f"{author.at}/lines/{line.id}/remove")
    assert answer.status_code == 409
    assert "A number was kept beside this line" in words(answer)


def test_a_removed_line_takes_its_open_suggestions_along(author, database):
    author.begin()
    line = author.lines()[0]
    assert author.visitor.post(f"{author.at}/lines/{line.id}/remove").status_code == 303
    assert line.id not in [each.id for each in author.lines()]
    assert all(line.id not in each.hazards for each in author.suggestions())
    author.confirm_all()
    assert author.submit().status_code == 303
    with database.read() as session:
        assert session.execute(select(Check.id)).first()
