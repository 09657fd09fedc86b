"""Acknowledgements signed on paper: typed in with their own date; and sheets that are too old."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.audit import log
from app.house.rules import set_rule
from app.people.rights import Role
from app.training.acknowledgement import acknowledge, outstanding
from app.training.models import Acknowledgement, AcknowledgementPaper, SignOff, Way
from tests.app.on_paper import OnPaper, words_of


@pytest.fixture
def paper(shop, visitor, clock, settings):
    return OnPaper(shop, visitor, clock, settings, reading=True)


def read(person):
    return {f"read_{person.id}": "1"}


def rows(paper, model):
    with paper.shop.database.read() as session:
        return list(session.execute(select(model).order_by(model.id)).scalars())


def codes(paper, person):
    return paper.shop.codes(person, paper.saw)


# --- the acknowledgement ---------------------------------------------------------------------


def test_the_sheet_names_what_is_read_and_has_a_column_to_sign_for_it(paper):
    words = words_of(paper.pdf)
    assert "Read, and will follow it: signature" in words
    assert "they have read and will follow" in words
    assert [*paper.sheet.revisions] == [paper.revision_id]


def test_a_sheet_of_what_no_assessment_asks_for_has_no_such_column(shop, visitor, clock, settings):
    paper = OnPaper(shop, visitor, clock, settings)
    assert "will follow" not in words_of(paper.pdf)
    assert "Signed in the last column" not in visitor.get(f"/paper/{paper.sheet.reference}").text
    answer = paper.type_in(paper.line(paper.ada), **read(paper.ada))
    assert answer.status_code == 422
    assert "this sheet names nothing to be read" in answer.text
    assert paper.count(SignOff) == 0


def test_it_counts_from_when_it_was_signed_and_says_from_where_and_by_whom(
    paper, shop, clock, another, database
):
    another.sign_in(shop.author)
    clock.at += timedelta(days=3)
    answer = paper.type_in(
        paper.line(paper.ada), paper.line(paper.bo), visitor=another, **read(paper.ada)
    )
    assert answer.status_code == 303
    (row,) = rows(paper, Acknowledgement)
    assert (row.person_id, row.revision_id, row.way) == (
        paper.ada.id,
        paper.revision_id,
        Way.ON_PAPER,
    )
    assert (row.occurred_at, row.recorded_at) == (paper.seen_at, clock.at)
    assert row.witness_id == paper.technician.id
    (kept,) = rows(paper, AcknowledgementPaper)
    assert (kept.acknowledgement_id, kept.sheet) == (row.id, paper.sheet.reference)
    assert kept.typed_by_id == shop.author.id
    with database.read() as session:
        assert outstanding(session, paper.ada.id, at=clock.at) == []
        assert len(outstanding(session, paper.bo.id, at=clock.at)) == 1
        assert log.broken_at(session) is None
    assert codes(paper, paper.ada) == []
    assert codes(paper, paper.bo) == ["acknowledgement-outstanding"]


def test_the_persons_own_history_says_that_it_was_on_paper(paper, shop, another):
    paper.type_in(paper.line(paper.ada), **read(paper.ada))
    page = another.sign_in(paper.ada).get("/me/history").text
    assert f"read and acknowledged, on paper, typed in by {paper.technician.name}" in page


def test_a_word_that_was_given_otherwise_stands_as_it_was_given(paper, shop, clock):
    paper.type_in(paper.line(paper.ada))
    with shop.database.write() as session:
        acknowledge(
            session,
            actor=shop.actor(paper.bo),
            person_id=paper.bo.id,
            revision_id=paper.revision_id,
            now=clock.at,
        )
    answer = paper.type_in(paper.line(paper.bo), key="another-key-of-0001", **read(paper.bo))
    assert answer.status_code == 303
    (row,) = rows(paper, Acknowledgement)
    assert row.way is Way.OWN_PHONE
    assert rows(paper, AcknowledgementPaper) == []


def test_sent_twice_it_is_one(paper):
    for _ in range(2):
        assert paper.type_in(paper.line(paper.ada), **read(paper.ada)).status_code == 303
    assert paper.count(Acknowledgement) == paper.count(AcknowledgementPaper) == 1


def test_what_was_read_of_a_wording_that_changed_since_is_asked_for_again(paper, shop, clock):
    clock.at += timedelta(days=1)
    shop.approve(paper.assessment)
    assert paper.type_in(paper.line(paper.ada), **read(paper.ada)).status_code == 303
    assert paper.count(Acknowledgement) == 1
    assert codes(paper, paper.ada) == ["assessment-changed"]


def test_the_page_offers_it_and_keeps_it_after_a_refusal(paper):
    page = paper.visitor.get(f"/paper/{paper.sheet.reference}").text
    assert f'name="read_{paper.ada.id}"' in page
    answer = paper.type_in(
        paper.line(paper.ada), paper.line(paper.bo, item_1="1"), **read(paper.ada)
    )
    assert answer.status_code == 422
    assert f'name="read_{paper.ada.id}" value="1" checked' in answer.text
    assert paper.count(Acknowledgement) == 0


# --- a sheet that is too old -----------------------------------------------------------------


def later(paper, clock, days):
    clock.at = paper.seen_at + timedelta(days=days)


def test_a_sheet_is_believed_for_two_weeks_unless_the_site_says_otherwise(paper, clock):
    later(paper, clock, 14)
    assert paper.type_in(paper.line(paper.ada)).status_code == 303


def test_an_older_one_is_refused_in_a_clear_sentence(paper, clock):
    later(paper, clock, 15)
    answer = paper.type_in(paper.line(paper.ada), **read(paper.ada))
    assert answer.status_code == 422
    assert "seen 15 days ago, and here a sheet is typed in within 14" in answer.text
    assert "give it to an approver" in answer.text
    assert paper.count(SignOff) == paper.count(Acknowledgement) == 0


def test_an_approver_types_it_in_and_is_on_record(paper, shop, clock, another):
    later(paper, clock, 40)
    approver = shop.person("Hesper Ash", roles=[Role.APPROVER])
    another.sign_in(approver)
    assert another.get("/paper").status_code == 200
    answer = paper.type_in(paper.line(paper.ada), visitor=another, **read(paper.ada))
    assert answer.status_code == 303
    (kept,) = rows(paper, AcknowledgementPaper)
    assert kept.typed_by_id == approver.id


def test_the_site_says_how_old(paper, shop, clock, app):
    with shop.database.write() as session:
        set_rule(session, "paper_days", "3", actor_id=shop.chief.id, now=shop.now)
    app.extensions["chuckkey"]._site = None  # settings are read again every few seconds
    assert "Within 3 days" in paper.visitor.get(f"/paper/{paper.sheet.reference}").text
    later(paper, clock, 4)
    assert "is typed in within 3" in paper.type_in(paper.line(paper.ada)).text
