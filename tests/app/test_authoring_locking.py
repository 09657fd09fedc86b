"""Two people at one draft: nothing is overwritten unseen, and nothing that was written is lost."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.people.rights import Role
from app.risk_assessments.models import RiskAssessment
from tests.app.authoring import Author, words
from tests.app.page_forms import form_to
from tests.app.walk import changed, dump

JSON = {"Accept": "application/json"}


@pytest.fixture
def author(visitor, shop):
    found = Author(visitor, shop)
    found.begin()
    return found


@pytest.fixture
def colleague(another, shop, author):
    found = Author(another, shop, shop.person("Hesper Other", roles=[Role.TECHNICIAN]))
    found.draft_id = author.draft_id
    return found


@pytest.fixture
def page(author):
    return f"{author.at}/lines/{author.lines()[0].id}"


def test_a_save_that_came_too_late_changes_nothing_and_shows_both_texts(
    author, colleague, page, database
):
    mine, theirs = author.form(page), colleague.form(page)
    first = colleague.visitor.post(page, data=theirs.sent(act="save", how="Theirs, in words."))
    assert first.status_code == 303
    before = dump(database)
    answer = author.visitor.post(page, data=mine.sent(act="confirm", how="Mine, in words."))
    assert answer.status_code == 409
    said = words(answer)
    assert "Hesper Other saved this part at 09:00." in said
    assert "Theirs, in words." in said
    assert "Mine, in words." in said
    assert changed(before, dump(database)) == set()


def test_only_what_differs_is_shown_side_by_side(author, colleague, page):
    mine, theirs = author.form(page), colleague.form(page)
    colleague.visitor.post(page, data=theirs.sent(act="save", residual="Theirs."))
    said = words(author.visitor.post(page, data=mine.sent(act="save", residual="Mine.")))
    assert "What is left" in said
    assert "Who may be harmed" not in said


def test_whoever_came_late_may_put_theirs_in_place_after_reading_both(author, colleague, page):
    mine, theirs = author.form(page), colleague.form(page)
    colleague.visitor.post(page, data=theirs.sent(act="save", how="Theirs."))
    both = author.visitor.post(page, data=mine.sent(act="save", how="Mine.", who="A"))
    again = form_to(both.text, page)
    assert author.visitor.post(page, data=again.sent(act="save")).status_code == 303
    line = author.lines()[0]
    assert (line.how, line.who) == ("Mine.", ["A"])
    assert "alone" in line.states


def test_two_people_at_two_lines_do_not_stop_each_other(author, colleague, page):
    mine = author.form(page)
    elsewhere = f"{author.at}/lines/{author.lines()[1].id}"
    assert colleague.save(elsewhere, how="Another line.").status_code == 303
    assert author.visitor.post(page, data=mine.sent(act="save", how="Mine.")).status_code == 303
    assert [line.how for line in author.lines()[:2]] == ["Mine.", "Another line."]


def test_the_same_words_twice_are_no_quarrel(author, colleague, page):
    mine, theirs = author.form(page), colleague.form(page)
    for who, form in ((colleague, theirs), (author, mine)):
        answer = who.visitor.post(page, data=form.sent(act="save", how="Agreed."))
        assert answer.status_code == 303


@pytest.mark.parametrize("part", ["words", "conditions"])
def test_the_other_pages_are_kept_from_late_saves_too(author, colleague, part, database):
    there = f"{author.at}/{part}"
    change = {"words": {"scope": "Mine."}, "conditions": {"equipment": "Mine."}}[part]
    other = dict.fromkeys(change, "Theirs.")
    mine, theirs = author.form(there), colleague.form(there)
    assert colleague.visitor.post(there, data=theirs.sent(act="save", **other)).status_code == 303
    before = dump(database)
    answer = author.visitor.post(there, data=mine.sent(act="save", **change))
    assert answer.status_code == 409
    assert "Theirs." in words(answer)
    assert changed(before, dump(database)) == set()


def test_one_is_told_that_somebody_else_has_the_draft_open(author, colleague, page, clock):
    colleague.save(page, how="Theirs.")
    clock.at += timedelta(minutes=4)
    for there in (page, f"{author.at}/edit", f"{author.at}/words", f"{author.at}/conditions"):
        assert "Hesper Other also has this draft open: last saved Tue 10 Mar 2026, 09:00" in words(
            author.visitor.get(there)
        )
    assert "also has this draft open" not in words(colleague.visitor.get(page))
    clock.at += timedelta(minutes=30)
    assert "also has this draft open" not in words(author.visitor.get(page))


def test_what_saves_by_itself_is_told_the_next_version(author, page):
    form = author.form(page)
    version = author.draft().version
    for n in (1, 2):
        answer = author.visitor.post(page, data=form.sent(act="save", how=f"{n}."), headers=JSON)
        assert answer.status_code == 200
        assert answer.json["words"] == "Saved 09:00."
        assert answer.json["version"] == version + n
        form.fields |= {"version": [str(answer.json["version"])], "seen": [answer.json["seen"]]}
    assert author.lines()[0].how == "2."
    assert author.lines()[0].to_confirm


def test_what_saves_by_itself_is_told_when_it_came_too_late(author, colleague, page):
    form = author.form(page)
    colleague.save(page, how="Theirs.")
    answer = author.visitor.post(page, data=form.sent(act="save", how="Mine."), headers=JSON)
    assert answer.status_code == 409
    assert answer.json["error"]["code"] == "overtaken"
    assert "Hesper Other saved this part" in answer.json["error"]["message"]
    assert author.lines()[0].how == "Theirs."


def test_a_version_from_the_future_is_no_version(author, page, database):
    sent = author.form(page).sent(act="save", version="999", how="Mine.")
    before = dump(database)
    assert author.visitor.post(page, data=sent).status_code == 400
    assert changed(before, dump(database)) == set()


def test_a_line_that_somebody_removed_is_not_saved(author, colleague, page, database):
    form = author.form(page)
    colleague.visitor.post(f"{page}/remove")
    answer = author.visitor.post(page, data=form.sent(act="save", how="Mine."))
    assert answer.status_code == 404
    assert "somebody may have removed it" in words(answer)


def test_a_control_is_decided_on_once(author, colleague):
    suggested = author.suggestions()[0]
    there = f"{author.at}/suggestions/{suggested.id}"
    mine = author.form(there)
    assert colleague.decide(suggested).status_code == 303
    answer = author.visitor.post(there, data=mine.sent())
    assert answer.status_code == 409
    assert "was decided on already, and nothing was changed" in words(answer)


def test_the_version_tells_of_every_change(author, database):
    versions = [author.draft().version]
    line = author.lines()[0]
    for step in (
        lambda: author.save(f"{author.at}/lines/{line.id}"),
        lambda: author.save(f"{author.at}/words"),
        lambda: author.save(f"{author.at}/conditions"),
        lambda: author.decide(author.suggestions()[0]),
        lambda: author.visitor.post(f"{author.at}/inductions", data={}),
        lambda: author.visitor.post(f"{author.at}/lines/{line.id}/remove"),
    ):
        assert step().status_code == 303
        versions.append(author.draft().version)
    assert versions == list(range(versions[0], versions[0] + 7))
    with database.read() as session:
        row = session.get_one(RiskAssessment, author.draft_id)
    assert row.edited_by_id == author.shop.author.id
