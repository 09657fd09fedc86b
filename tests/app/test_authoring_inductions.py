"""Inductions while they are written: saved, looked at, published, and who may give them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.inductions.models import Induction, InductionDraft, InductionRevision, Inductor
from app.inductions.published import published
from app.people.rights import Role
from tests.app.authoring import Author, words
from tests.app.page_forms import form_to
from tests.app.walk import changed, dump
from tests.factories import PASSWORD


@pytest.fixture
def technician(visitor, shop):
    return visitor.sign_in(shop.author)


@pytest.fixture
def approver(another, shop):
    return another.sign_in(shop.chief)


def begin(visitor, title="Sawing"):
    answer = visitor.post("/inductions/new", data={"title": title})
    assert answer.status_code == 303, answer.text
    return answer.location


def write(visitor, page, act="save", **changes):
    sent = form_to(visitor.get(page).text, page).sent(act=act, **changes)
    return visitor.post(page, data=sent)


WRITTEN = {
    "content": "How it cuts.",
    "items-0-words": "Shows the stop",
    "items-1-words": "Sets the guard",
    "validity_months": "24",
    "validity_basis": "common practice",
    "group_size": "4",
    "supervised_uses": "2",
}


def publish(visitor, page):
    preview = page.removesuffix("/edit")
    form = form_to(visitor.get(preview).text, f"{preview}/publish")
    return visitor.post(form.action, data=form.sent())


def test_an_induction_is_written_by_one_and_published_by_another(technician, approver, database):
    page = begin(technician)
    assert write(technician, page, **WRITTEN).status_code == 303
    assert technician.post(f"{page.removesuffix('/edit')}/publish").status_code == 403
    shown = words(approver.get(page.removesuffix("/edit")))
    assert "How it cuts." in shown
    assert "Shows the stop essential" in shown
    assert publish(approver, page).status_code == 303
    with database.read() as session:
        induction = session.execute(select(Induction)).scalar_one()
        taught = published(session, induction.id)
    assert (taught.title, taught.number, taught.validity_months) == ("Sawing", 1, 24)
    assert (taught.group_size, taught.supervised_uses) == (4, 2)
    assert [(item.words, item.essential) for item in taught.items] == [
        ("Shows the stop", True),
        ("Sets the guard", True),
    ]


def test_what_was_published_is_not_written_on_any_more(technician, approver, database):
    page = begin(technician)
    write(technician, page, **WRITTEN)
    form = form_to(technician.get(page).text, page)
    publish(approver, page)
    before = dump(database)
    assert technician.get(page).status_code == 409
    assert technician.post(page, data=form.sent(content="Later")).status_code == 409
    assert approver.post(
        f"{page.removesuffix('/edit')}/publish", data={"version": "9"}
    ).status_code in (409,)
    assert changed(before, dump(database)) == set()


def test_the_next_wording_begins_from_the_one_that_is_taught(technician, approver, shop, database):
    first, basics = shop.induction("Basics"), shop.induction("Sawing")
    answer = technician.post(f"/inductions/{basics.id}/next")
    page = answer.location
    assert "What is told." in technician.get(page).text
    changes = {"content": "Another way.", "requires": [str(first.id)], "earlier_counts": []}
    assert write(technician, page, **changes).status_code == 303
    assert publish(approver, page).status_code == 303
    with database.read() as session:
        taught = published(session, basics.id)
        newest = session.get_one(InductionRevision, taught.revision_id)
    assert (taught.number, taught.content, taught.requires) == (2, "Another way.", (first.id,))
    assert newest.earlier_counts is False


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"title": ""}, "has a title"),
        ({"validity_months": "0"}, "good for 1 to 120"),
        ({"validity_months": "12", "validity_basis": ""}, "Say what the months rest on"),
        ({"group_size": "900"}, "A group has"),
        ({"supervised_uses": "99"}, "At most 20 watched uses"),
        ({"requires": ["999"]}, "does not exist"),
        ({"items-0-words": "x" * 301}, "An item has 1 to 300"),
        ({"version": "x"}, "is not a number"),
    ],
)
def test_a_draft_that_cannot_be_kept_stays_as_it_was(technician, database, changes, sentence):
    page = begin(technician)
    before = dump(database)
    answer = write(technician, page, **changes)
    assert answer.status_code in (400, 422)
    assert sentence in words(answer)
    assert changed(before, dump(database)) == set()


def test_an_induction_without_an_essential_item_is_not_published(technician, approver, database):
    page = begin(technician)
    answer = publish(approver, page)
    assert answer.status_code == 422
    assert "at least one essential item" in words(answer)
    with database.read() as session:
        assert session.execute(select(Induction)).first() is None


def test_a_title_that_is_taken_is_not_published_twice(technician, approver, shop):
    shop.induction("Sawing")
    page = begin(technician)
    write(technician, page, **WRITTEN)
    answer = publish(approver, page)
    assert answer.status_code == 422
    assert "an induction called Sawing already" in words(answer)


def test_what_was_changed_since_it_was_looked_at_is_not_published(technician, approver, database):
    page = begin(technician)
    write(technician, page, **WRITTEN)
    preview = page.removesuffix("/edit")
    form = form_to(approver.get(preview).text, f"{preview}/publish")
    write(technician, page, content="Changed behind it.")
    answer = approver.post(form.action, data=form.sent())
    assert answer.status_code == 409
    assert "Look again." in words(answer)
    with database.read() as session:
        assert session.execute(select(InductionDraft.published_at)).scalar_one() is None


def test_publishing_is_signed(technician, approver, clock):
    page = begin(technician)
    write(technician, page, **WRITTEN)
    clock.at += timedelta(minutes=6)
    preview = page.removesuffix("/edit")
    form = form_to(approver.get(preview).text, f"{preview}/publish")
    assert approver.post(form.action, data=form.sent(password="a guess")).status_code == 403
    assert approver.post(form.action, data=form.sent(password=PASSWORD)).status_code == 303


def test_two_people_at_one_draft_do_not_overwrite_each_other(technician, approver, shop, another):
    page = begin(technician)
    form = form_to(technician.get(page).text, page)
    another.sign_in(shop.person("Hesper Other", roles=[Role.TECHNICIAN]))
    assert write(another, page, content="Theirs.").status_code == 303
    answer = technician.post(page, data=form.sent(content="Mine.", act="save"))
    assert answer.status_code == 409
    assert "Hesper Other saved this part" in words(answer)


def test_the_draft_that_waited_for_an_induction_asks_for_it_once_it_is_published(
    visitor, approver, shop, database
):
    author = Author(visitor, shop)
    author.begin()
    with database.read() as session:
        draft = session.execute(select(InductionDraft)).scalar_one()
    version = author.draft().version
    assert publish(approver, f"/inductions/drafts/{draft.id}/edit").status_code == 303
    with database.read() as session:
        induction = session.execute(select(Induction)).scalar_one()
    page = visitor.get(f"{author.at}/edit").text
    assert f'value="{induction.id}" checked' in page
    assert "still a draft" not in page
    assert author.draft().version == version + 1


def test_who_may_give_it_is_named_and_ended_in_writing(approver, shop, database):
    induction, ada = shop.induction("Sawing"), shop.person("Ada Quill")
    there = f"/inductions/{induction.id}/inductors"
    for _twice in range(2):
        assert approver.post(there, data={"person_id": str(ada.id)}).status_code == 303
    with database.read() as session:
        (row,) = session.execute(select(Inductor)).scalars()
    assert "Ada Quill since" in words(approver.get(f"/inductions/{induction.id}"))
    assert approver.post(f"{there}/{row.id}/end").status_code == 303
    assert "Nobody is named" in words(approver.get(f"/inductions/{induction.id}"))
    assert approver.post(f"{there}/{row.id}/end").status_code == 409
    assert approver.post(there, data={"person_id": "999"}).status_code == 404


def test_a_technician_names_nobody(technician, shop, database):
    induction = shop.induction("Sawing")
    before = dump(database)
    answer = technician.post(
        f"/inductions/{induction.id}/inductors", data={"person_id": str(shop.author.id)}
    )
    assert answer.status_code == 403
    assert changed(before, dump(database)) == set()
