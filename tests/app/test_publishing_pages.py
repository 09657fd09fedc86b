"""The pages around a revision: the list, the approver's question, differences, its reviews."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.hazards.models import Hazard, SuggestedControl
from app.people.models import Role
from app.risk_assessments.freeze import submit
from app.risk_assessments.models import Review, Revision, RevisionFate, RiskAssessment, Trigger
from app.risk_assessments.reviews import open_review, open_reviews
from tests.app.walk import changed, dump
from tests.factories import SITE


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def saw(shop):
    return shop.machine("Long Tom", area=shop.area("Wood bay"))


@pytest.fixture
def draft(shop, saw, basics):
    found = shop.draft(saw, inductions=[basics], checks=[shop.check()])
    shop.approve(found)
    return found


def submitted(shop, draft, *, material=False, how="A hand meets the new blade."):
    with shop.database.write() as session:
        line = session.execute(select(Hazard).where(Hazard.assessment_id == draft.id)).scalar_one()
        line.how = how
        return submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=shop.author,
            site=SITE,
            material=material,
            change_note="A new blade.",
            now=shop.now,
        )


def decide(visitor, draft, number, **form):
    return visitor.post(f"/assessments/{draft.reference}/{number}/decide", data=form)


# --- the approver's question -------------------------------------------------------------


def test_the_approver_sees_whom_each_answer_asks_and_what_differs(
    shop, visitor, draft, basics, saw
):
    ada = shop.person("Ada Quill")
    shop.sign_off(shop.technician(basics), ada, basics)
    with shop.database.read() as session:
        shop.acknowledge(ada, session.execute(select(Revision.id)).scalar_one())
    submitted(shop, draft)
    visitor.sign_in(shop.chief)
    page = visitor.get(f"/assessments/{draft.reference}/2").text
    assert "The author says no." in page
    assert "2 people acknowledge</b> it anew before they start again: Wood bay 2" in page
    assert "<ins>new </ins>" in page
    people = visitor.get(f"/assessments/{draft.reference}/2/affected?material=yes").text
    assert "Ada Quill" in people
    assert "Long Tom" in people
    assert (
        "Ada Quill"
        not in visitor.get(f"/assessments/{draft.reference}/2/affected?material=no").text
    )


def test_a_change_that_is_material_by_itself_leaves_no_other_answer(shop, visitor, saw):
    fresh = shop.draft(saw)
    submitted(shop, fresh)
    page = visitor.sign_in(shop.chief).get(f"/assessments/{fresh.reference}/1").text
    assert "It is, whoever decides: no revision was approved before." in page
    assert 'value="no"' not in page


def test_without_an_answer_nothing_is_approved(shop, visitor, database, draft):
    submitted(shop, draft)
    visitor.sign_in(shop.chief)
    for answer in ({}, {"material": ""}, {"material": "perhaps"}):
        before = dump(database)
        sent = decide(visitor, draft, 2, act="approve", note="Fine", **answer)
        assert sent.status_code == 422
        assert "Say whether the change is material" in sent.text
        assert changed(before, dump(database)) == set()


def test_another_answer_than_the_authors_leads_to_the_revision_that_holds_it(shop, visitor, draft):
    submitted(shop, draft)
    visitor.sign_in(shop.chief)
    answer = decide(visitor, draft, 2, act="approve", material="yes")
    assert answer.headers["Location"].endswith(f"/assessments/{draft.reference}/3")
    page = visitor.get(answer.headers["Location"]).text
    assert "Material: everybody acknowledges it anew." in page
    assert "the same wording is revision 3" in page
    assert "Returned" in visitor.get(f"/assessments/{draft.reference}/2").text


def test_a_change_that_asks_nobody_is_refused_without_its_reason(shop, visitor, draft, database):
    submitted(shop, draft)
    visitor.sign_in(shop.chief)
    refused = decide(visitor, draft, 2, act="approve", material="no", note=" ")
    assert refused.status_code == 422
    assert "Write why nobody needs a new briefing" in refused.text
    decide(visitor, draft, 2, act="approve", material="no", note="A spelling.")
    with database.read() as session:
        notes = session.execute(select(RevisionFate.note).order_by(RevisionFate.id)).scalars().all()
    assert notes[-1] == "A spelling."


def test_the_author_is_told_that_somebody_else_approves(shop, visitor, draft):
    both = shop.person("Writes And Approves", roles=[Role.TECHNICIAN, Role.APPROVER])
    with shop.database.write() as session:
        submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=both,
            site=SITE,
            material=True,
            change_note="Changed.",
            now=shop.now,
        )
    page = visitor.sign_in(both).get(f"/assessments/{draft.reference}/2").text
    assert "You wrote this revision: somebody else approves it." in page
    assert "Approve: in force at once" not in page


def test_who_is_affected_is_no_question_once_it_was_decided(shop, visitor, draft):
    answer = visitor.sign_in(shop.chief).get(f"/assessments/{draft.reference}/1/affected")
    assert answer.status_code == 303
    assert visitor.get(f"/assessments/{draft.reference}/9/affected").status_code == 404


# --- reviews -----------------------------------------------------------------------------


def test_an_approval_closes_the_reviews_that_it_answers_and_no_other(
    shop, visitor, draft, database
):
    with database.write() as session:
        first, second = (
            open_review(
                session,
                draft.id,
                trigger=Trigger.ASKED,
                why=why,
                due_on=shop.now.date(),
                key=None,
                actor_id=shop.chief.id,
                now=shop.now,
            ).id
            for why in ("The blade", "The floor")
        )
    submitted(shop, draft)
    visitor.sign_in(shop.chief)
    assert "The blade" in visitor.get(f"/assessments/{draft.reference}/2").text
    decide(
        visitor,
        draft,
        2,
        act="approve",
        material="no",
        note="Nobody works otherwise.",
        answers=[first, "x", 9999],
    )
    with database.read() as session:
        assert [each.id for each in open_reviews(session, draft.id)] == [second]
        [end] = session.execute(select(Review).where(Review.ends_id == first)).scalars()
    assert end.outcome == "Revision 2."


# --- differences -------------------------------------------------------------------------


def test_any_two_revisions_are_told_apart_in_either_direction(shop, visitor, draft):
    submitted(shop, draft, how="A hand meets the new blade.")
    submitted(shop, draft, how="A hand meets the third blade.")
    visitor.sign_in(shop.person("Pat Plain"))
    page = f"/assessments/{draft.reference}/difference"
    assert "<del>new </del><ins>third </ins>" in visitor.get(page).text
    assert "<ins>third </ins>" in visitor.get(f"{page}?from=1&to=3").text
    assert "<del>third </del>" in visitor.get(f"{page}?from=3&to=1").text
    assert "They say the same" in visitor.get(f"{page}?from=2&to=2").text
    assert visitor.get(f"{page}?from=1&to=9").status_code == 404
    assert visitor.get(f"{page}?from=x").status_code == 400
    assert visitor.get("/assessments/RA-NONE/difference").status_code == 404


# --- the list ----------------------------------------------------------------------------


def listed(visitor, **asked):
    page = visitor.get("/assessments", query_string=asked)
    assert page.status_code == 200
    return page.text


def test_words_find_title_reference_machine_hazard_and_control(shop, visitor, draft):
    visitor.sign_in(shop.person("Pat Plain"))
    other = shop.draft(shop.machine("Hot Clam"))
    shop.approve(other)
    for words in (draft.reference.lower(), draft.title, "LONG tom", "cutting guard", "interlocked"):
        found = draft.title in listed(visitor, q=words)
        assert found == (words != "interlocked"), words  # the details of a control are not asked
    assert other.title not in listed(visitor, q="long")
    assert "Nothing like that is here." in listed(visitor, q="long clam")


def test_words_with_marks_in_them_find_nothing_by_accident(shop, visitor, draft):
    visitor.sign_in(shop.person("Pat Plain"))
    for words in ("%", "_", "\x00%", "'; --", "<script>"):
        page = listed(visitor, q=words)
        assert draft.title not in page
        assert "<script>" not in page


def test_the_list_is_narrowed_by_area_state_and_kind(shop, visitor, draft, saw):
    visitor.sign_in(shop.person("Pat Plain"))
    elsewhere = shop.area("Empty bay")
    assert draft.title in listed(visitor, area=saw.area_id)
    assert draft.title not in listed(visitor, area=elsewhere.id)
    assert draft.title in listed(visitor, state="in force", kind="Panel saw")
    assert draft.title not in listed(visitor, kind="Lathe")
    assert draft.title not in listed(visitor, state="withdrawn")
    assert visitor.get("/assessments?state=resting").status_code == 422
    assert visitor.get("/assessments?area=x").status_code == 400


def test_a_replaced_revision_is_found_by_its_state_alone(shop, visitor, draft):
    shop.approve(draft)
    visitor.sign_in(shop.person("Pat Plain"))
    assert "revision 1:" not in listed(visitor)
    assert "revision 1:" in listed(visitor, state="superseded")


def test_a_review_that_is_overdue_is_found_and_is_still_in_force(shop, visitor, draft, clock):
    clock.at = clock.at.replace(year=clock.at.year + 2)
    visitor.sign_in(shop.person("Pat Plain"))
    assert "review overdue" in listed(visitor, state="review overdue")
    assert draft.title in listed(visitor, state="in force")


def test_a_draft_is_listed_with_what_nobody_has_confirmed(shop, visitor, another, saw, database):
    fresh = shop.draft(saw)
    with database.write() as session:
        line = session.execute(select(Hazard).where(Hazard.assessment_id == fresh.id)).scalar_one()
        line.to_confirm = True
        session.add(
            SuggestedControl(
                assessment_id=fresh.id,
                key="hood",
                hazards=[line.id],
                title="A hood",
                level=3,
                details="",
                shared=False,
                source="",
                checks=[],
                left_out_because="",
            )
        )
    page = listed(visitor.sign_in(shop.author), state="draft", q="cutting")
    assert "2 things are not confirmed yet" in page
    # What is being written is for those who write, approve or audit.
    assert fresh.title not in listed(another.sign_in(shop.person("Pat Plain")))


def test_a_draft_that_says_nothing_new_is_not_listed(shop, visitor, draft):
    visitor.sign_in(shop.author)
    assert "<strong>draft</strong>" not in listed(visitor)
