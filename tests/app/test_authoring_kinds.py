"""Kinds as pages: read, searched, written by the site itself, given and taken as files."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from sqlalchemy import select

from app.people.rights import Role
from app.risk_assessments.models import SiteKind
from assessments.catalogue import kind, kinds
from assessments.catalogue.reading import read_kind
from assessments.catalogue.writing import write_kind
from tests.app.authoring import Author, words
from tests.app.page_forms import form_to
from tests.app.walk import changed, dump

OWN = write_kind(replace(kind("panel-saw"), key="our-saw", name="Saw of our own"))


@pytest.fixture
def technician(visitor, shop):
    return visitor.sign_in(shop.author)


def keep(visitor, text=OWN):
    return visitor.post("/kinds/new", data={"text": text})


def rows(database):
    with database.read() as session:
        return list(session.execute(select(SiteKind).order_by(SiteKind.id)).scalars())


@pytest.mark.parametrize("key", sorted(kinds()))
def test_the_page_of_a_kind_says_everything_with_its_source(technician, key):
    page, found = words(technician.get(f"/kinds/{key}")), kinds()[key]
    for said in (
        found.name,
        found.summary,
        *found.before_use,
        *(h.how for h in found.hazards),
        *(h.source for h in found.hazards),
        *(c.title for c in found.controls),
        *(c.source for c in found.controls),
        *(check.title for c in found.controls for check in c.checks),
        *(item.words for item in found.induction.items),
        *(never.material for never in found.nevers),
        *(source.title for source in found.sources),
    ):
        assert " ".join(said.split()) in page
    assert "Advice to be confirmed on site, never an assessment." in page


def test_kinds_are_found_by_words_and_by_group(technician):
    def found(question):
        page = technician.get(question).text
        return {key for key in kinds() if f'href="/kinds/{key}"' in page}

    assert found("/kinds") == set(kinds())
    assert found("/kinds?group=Clay") == {k for k, v in kinds().items() if v.group.value == "Clay"}
    assert "panel-saw" in found("/kinds?q=KICKBACK")
    assert "electric-kiln" not in found("/kinds?q=kickback")
    assert found("/kinds?q=zzz") == set()
    assert "panel-saw" in {
        key for key in kinds() if f"kind_key={key}" in technician.get("/machines/new?q=saw").text
    }


def test_a_kind_is_given_as_the_file_that_it_was_read_from(technician):
    answer = technician.get("/kinds/panel-saw.toml")
    assert answer.mimetype == "application/toml"
    assert 'filename="panel-saw.toml"' in answer.headers["Content-Disposition"]
    assert read_kind(answer.text, name="it") == kind("panel-saw")


def test_a_kind_of_the_sites_own_stands_beside_the_others_and_can_be_begun_from(
    visitor, shop, database
):
    author = Author(visitor, shop)
    assert keep(visitor).status_code == 303
    assert "this site’s own" in words(visitor.get("/kinds?q=of+our+own"))
    assert author.begin(kind_key="our-saw").status_code == 303
    assert author.draft().kind == "our-saw"
    assert author.lines()[0].source.startswith("Saw of our own (catalogue)")
    assert visitor.get("/kinds/our-saw.toml").text == OWN


def test_a_kind_that_was_changed_keeps_what_it_was(technician, database):
    keep(technician)
    page = technician.get("/kinds/our-saw/edit").text
    form = form_to(page, "/kinds/our-saw/edit")
    sent = form.sent(text=OWN.replace("Saw of our own", "Saw by the window"))
    assert technician.post("/kinds/our-saw/edit", data=sent).status_code == 303
    first, second = rows(database)
    assert "Saw of our own" in first.content
    assert "Saw by the window" in second.content
    assert "wording 2" in words(technician.get("/kinds/our-saw"))


def test_a_wording_is_not_put_over_one_that_its_author_has_not_seen(
    technician, another, shop, database
):
    keep(technician)
    form = form_to(technician.get("/kinds/our-saw/edit").text, "/kinds/our-saw/edit")
    another.sign_in(shop.person(roles=[Role.TECHNICIAN]))
    theirs = form.sent(text=OWN.replace("Saw of our own", "Theirs"))
    assert another.post("/kinds/our-saw/edit", data=theirs).status_code == 303
    answer = technician.post(
        "/kinds/our-saw/edit", data=form.sent(text=OWN.replace("Saw of our own", "Mine"))
    )
    assert answer.status_code == 409
    assert "Somebody else has changed this kind" in words(answer)
    assert "Mine" in answer.text
    assert len(rows(database)) == 2


def test_a_file_that_was_sent_counts_instead_of_the_text(technician, database):
    file = (io.BytesIO(OWN.encode()), "our-saw.toml")
    answer = technician.post(
        "/kinds/new",
        data={"text": "nothing", "file": file},
        content_type="multipart/form-data",
    )
    assert answer.status_code == 303
    assert [row.key for row in rows(database)] == ["our-saw"]


def test_everything_that_is_wrong_with_a_kind_is_said_at_once(technician, database):
    broken = OWN.replace('group = "Wood"', 'group = "Ice"').replace("severity = 5", "severity = 9")
    answer = keep(technician, broken)
    assert answer.status_code == 422
    said = words(answer)
    assert "It was not kept." in said
    assert "group" in said
    assert "severity" in said
    assert "Ice" in answer.text  # the text is still in the form
    assert rows(database) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "It was not kept."),
        ("key = [", "It was not kept."),
        (write_kind(kind("panel-saw")), "The catalogue has a kind panel-saw already"),
        ("\x00", "It was not kept."),
        ("a" * 300_000, "It was not kept."),
    ],
)
def test_what_is_no_kind_of_ones_own_is_not_kept(technician, database, text, sentence):
    before = dump(database)
    answer = keep(technician, text)
    assert answer.status_code in (413, 422)
    if answer.status_code == 422:
        assert sentence in words(answer)
    assert changed(before, dump(database)) == set()


def test_bytes_that_are_no_text_are_no_file(technician, database):
    answer = technician.post(
        "/kinds/new",
        data={"file": (io.BytesIO(b"\xff\xfe\x00"), "x.toml")},
        content_type="multipart/form-data",
    )
    assert answer.status_code == 422
    assert rows(database) == []


def test_a_kind_that_is_shipped_is_not_changed_in_place(technician):
    assert technician.get("/kinds/panel-saw/edit").status_code == 404
    assert technician.post("/kinds/panel-saw/edit", data={"text": OWN}).status_code == 404


@pytest.mark.parametrize("role", [None, Role.APPROVER, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_write_keeps_no_kind(visitor, shop, database, role):
    visitor.sign_in(shop.person(roles=[role] if role else []))
    before = dump(database)
    assert keep(visitor).status_code == 403
    assert visitor.get("/kinds/new").status_code == 403
    assert changed(before, dump(database)) == set()
    assert visitor.get("/kinds/panel-saw").status_code == (200 if role else 403)
