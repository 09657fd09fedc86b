"""How a review ends: nothing has to change, and why, or by a revision that was approved since."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.documents.issue import ready
from app.risk_assessments.approval import approve
from app.risk_assessments.freeze import submit
from app.risk_assessments.models import Review, Revision, RiskAssessment, Trigger
from app.risk_assessments.reviews import open_review
from app.site import SiteSetting, site
from assessments.document.frozen import thaw
from assessments.document.print import risk_assessment_html
from tests.app.walk import changed, dump

NOTHING = "no change needed"


@pytest.fixture
def draft(shop):
    found = shop.draft(shop.machine("Panel saw"))
    shop.approve(found)
    return found


@pytest.fixture
def page(shop, draft):
    """The address of an open review."""
    shop.clock.at += timedelta(minutes=1)
    with shop.database.write() as session:
        review = open_review(
            session,
            draft.id,
            trigger=Trigger.ASKED,
            why="Asked",
            due_on=shop.now.date(),
            key=None,
            actor_id=shop.author.id,
            now=shop.now,
        )
    shop.clock.at += timedelta(minutes=1)
    return f"/reviews/{review.id}"


def outcome(database):
    with database.read() as session:
        return session.execute(
            select(Review.outcome).where(Review.ends_id.is_not(None))
        ).scalar_one_or_none()


def test_nothing_has_to_change_and_the_reason_is_on_record(shop, visitor, database, page):
    visitor.sign_in(shop.author)
    silent = visitor.post(f"{page}/close", data={"came_of": NOTHING, "outcome": " "})
    assert silent.status_code == 422
    visitor.post(f"{page}/close", data={"came_of": NOTHING, "outcome": "The guard is new"})
    assert outcome(database) == "No change needed: The guard is new"


def test_a_revision_answers_a_review_only_if_it_was_approved_since(
    shop, visitor, database, draft, page
):
    visitor.sign_in(shop.author)
    assert 'value="a new revision"' not in visitor.get(page).text
    before = dump(database)
    refused = visitor.post(f"{page}/close", data={"came_of": "a new revision"})
    assert refused.status_code == 409
    assert "No revision was approved since" in refused.text
    assert changed(before, dump(database)) == set()
    shop.approve(draft)
    assert "Revision 2" in visitor.get(page).text
    visitor.post(f"{page}/close", data={"came_of": "a new revision", "outcome": "A new guard"})
    assert outcome(database) == "Revision 2. A new guard"


@pytest.mark.parametrize("answer", [{}, {"came_of": "perhaps"}])
def test_an_answer_that_is_none_closes_nothing(shop, visitor, database, page, answer):
    visitor.sign_in(shop.author)
    before = dump(database)
    assert visitor.post(f"{page}/close", data={"outcome": "Seen", **answer}).status_code == 422
    assert changed(before, dump(database)) == set()


def test_the_document_says_when_one_person_wrote_and_approved_it(shop, database, draft, settings):
    with database.write() as session:
        session.add(SiteSetting(name="one_person_may_approve", value=True, recorded_at=shop.now))
        session.flush()
        place = site(session)
        revision = submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=shop.chief,
            site=place,
            material=True,
            change_note="Changed.",
            now=shop.now,
        )
        approve(session, revision, actor_id=shop.chief.id, site=place, note="", now=shop.now)
    said = "Written and approved by the same person."
    with database.read() as session:
        for row in session.execute(select(Revision).order_by(Revision.number)).scalars():
            made = ready(session, row, settings)
            printed = risk_assessment_html(
                thaw(row.content),
                made.approval,
                made.standing,
                live_url=made.live_url,
                digest=row.digest,
            )
            assert (said in printed) == (row.number == 2)
