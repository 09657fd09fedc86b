"""The page of an acknowledgement shows what is new to this person since they last knew it."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.hazards.models import Hazard
from app.people.models import Role
from app.risk_assessments.models import RiskAssessment


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def draft(shop, basics):
    return shop.draft(shop.machine("Panel saw"), inductions=[basics])


def reworded(shop, draft, how):
    with shop.database.write() as session:
        hazard = session.execute(
            select(Hazard).where(Hazard.assessment_id == draft.id)
        ).scalar_one()
        hazard.how = how
    return shop.approve(draft)


def test_somebody_who_acknowledged_an_earlier_revision_sees_what_changed_since(
    shop, visitor, basics, draft
):
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics)
    shop.acknowledge(ada, shop.approve(draft))
    reworded(shop, draft, "A hand meets the spinning blade.")
    newest = reworded(shop, draft, "A hand meets the quick blade.")
    page = visitor.sign_in(ada).get(f"/acknowledge/{newest}").text
    assert "Different from revision 1, which you acknowledged" in page
    assert "A hand meets the <ins>quick </ins>blade." in page
    assert "spinning" not in page  # of a revision that she never knew


def test_somebody_who_was_briefed_at_the_sign_off_sees_it_too(shop, visitor, basics, draft):
    shop.approve(draft)
    ada = shop.person("Ada Quill")
    shop.sign_off(shop.technician(basics), ada, basics)
    newest = reworded(shop, draft, "A hand meets the quick blade.")
    page = visitor.sign_in(ada).get(f"/acknowledge/{newest}").text
    assert "Different from revision 1, which you were briefed on" in page


def test_somebody_new_reads_the_whole_of_it(shop, visitor, basics, draft):
    shop.approve(draft)
    newest = reworded(shop, draft, "A hand meets the quick blade.")
    page = visitor.sign_in(shop.person("New Here")).get(f"/acknowledge/{newest}").text
    assert "Different from revision" not in page
    assert "A hand meets the quick blade." in page


def test_a_witness_is_shown_what_is_new_to_the_other_person(shop, visitor, basics, draft):
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics)
    shop.acknowledge(ada, shop.approve(draft))
    newest = reworded(shop, draft, "A hand meets the quick blade.")
    tess = shop.person("Tess Turner", roles=[Role.TECHNICIAN])
    page = visitor.sign_in(tess).get(f"/acknowledge/{newest}?for={ada.id}").text
    assert "Different from revision 1, which Ada Quill acknowledged" in page
    assert "Different from" not in visitor.get(f"/acknowledge/{newest}").text


def test_words_that_look_like_a_page_stay_words(shop, visitor, basics, draft):
    ada = shop.person("Ada Quill")
    shop.hold(ada, basics)
    shop.acknowledge(ada, shop.approve(draft))
    with shop.database.write() as session:
        session.get_one(RiskAssessment, draft.id).prose = draft.prose | {
            "scope": "<script>alert(1)</script>"
        }
    newest = shop.approve(draft)
    page = visitor.sign_in(ada).get(f"/acknowledge/{newest}").text
    assert "<script>" not in page
    assert "<ins>&lt;script&gt;" in page
