"""The fate of an assessment: approved by somebody else, returned, or withdrawn."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.jobs.models import Job
from app.people.models import Role
from app.risk_assessments.approval import withdraw
from app.risk_assessments.freeze import submit
from app.risk_assessments.models import Fate, Revision, RevisionFate, RiskAssessment
from app.site import SiteSetting
from tests.app.walk import changed, dump
from tests.factories import PASSWORD, SITE


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def draft(shop, saw):
    return shop.draft(saw)


def submitted(shop, draft, author=None):
    """Freeze the draft as its next revision; return its number."""
    with shop.database.write() as session:
        return submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=author or shop.author,
            site=SITE,
            material=True,
            change_note="Changed.",
            now=shop.now,
        ).number


def decide(visitor, draft, number, act, **form):
    return visitor.post(
        f"/assessments/{draft.reference}/{number}/decide",
        data={"act": act, "material": "yes", **form},
    )


def in_force(shop, machine):
    return "no-assessment-in-force" not in shop.codes(shop.chief, machine)


def fates(database):
    with database.read() as session:
        return list(session.execute(select(RevisionFate.fate).order_by(RevisionFate.id)).scalars())


def test_a_submitted_assessment_is_in_force_once_somebody_else_approves_it(
    shop, visitor, database, draft, saw
):
    number = submitted(shop, draft)
    assert not in_force(shop, saw)
    visitor.sign_in(shop.chief)
    assert (
        "Approve: in force at once" in visitor.get(f"/assessments/{draft.reference}/{number}").text
    )
    assert decide(visitor, draft, number, "approve").status_code == 303
    assert in_force(shop, saw)
    with database.read() as session:
        jobs = session.execute(select(Job.payload)).scalars().all()
        revision = session.execute(select(Revision.id)).scalar_one()
    assert jobs == [{"revision": revision}]


def test_the_author_cannot_approve_their_own(shop, visitor, database, draft, saw):
    both = shop.person("Writes And Approves", roles=[Role.TECHNICIAN, Role.APPROVER])
    number = submitted(shop, draft, author=both)
    visitor.sign_in(both)
    page = visitor.get(f"/assessments/{draft.reference}/{number}").text
    assert "Approve: in force at once" not in page
    before = dump(database)
    answer = decide(visitor, draft, number, "approve")
    assert answer.status_code == 403
    assert "The one who wrote an assessment cannot approve it." in answer.text
    assert changed(before, dump(database)) == set()
    assert not in_force(shop, saw)


def test_a_site_of_one_person_may_allow_it(shop, visitor, database, draft):
    with database.write() as session:
        session.add(SiteSetting(name="one_person_may_approve", value=True, recorded_at=shop.now))
    number = submitted(shop, draft, author=shop.chief)
    visitor.sign_in(shop.chief)
    assert decide(visitor, draft, number, "approve").status_code == 303


def test_nobody_without_the_role_decides(shop, visitor, database, draft):
    number = submitted(shop, draft)
    for role in ([Role.TECHNICIAN], [Role.ADMINISTRATOR], [Role.AUDITOR], []):
        visitor.sign_in(shop.person(roles=role))
        before = dump(database)
        for act in ("approve", "return", "withdraw"):
            assert decide(visitor, draft, number, act, note="x").status_code == 403
        assert changed(before, dump(database)) == set()


def test_a_revision_is_decided_on_once(shop, visitor, database, draft):
    number = submitted(shop, draft)
    visitor.sign_in(shop.chief)
    decide(visitor, draft, number, "approve")
    before = dump(database)
    for act in ("approve", "return"):
        answer = decide(visitor, draft, number, act, note="Again")
        assert answer.status_code == 409
        assert "decided on already" in answer.text
    assert changed(before, dump(database)) == set()


def test_a_withdrawn_assessment_is_in_force_no_more_nor_is_the_one_before(
    shop, visitor, database, draft, saw
):
    shop.approve(draft)
    shop.approve(draft)
    visitor.sign_in(shop.chief)
    assert decide(visitor, draft, 2, "withdraw", note=" ").status_code == 422
    assert decide(visitor, draft, 2, "withdraw", note="The blade was changed").status_code == 303
    assert not in_force(shop, saw)
    assert shop.ask(shop.chief, saw).verdict.words == "out of use"
    assert decide(visitor, draft, 2, "withdraw", note="Again").status_code == 409
    assert fates(database) == [Fate.APPROVED, Fate.APPROVED, Fate.WITHDRAWN]


def test_a_revision_is_returned_with_what_is_missing(shop, visitor, database, draft, saw):
    number = submitted(shop, draft)
    visitor.sign_in(shop.chief)
    assert decide(visitor, draft, number, "return", note="").status_code == 422
    assert decide(visitor, draft, number, "return", note="Name the blade").status_code == 303
    assert "Name the blade" in visitor.get(f"/assessments/{draft.reference}/{number}").text
    assert decide(visitor, draft, number, "withdraw", note="x").status_code == 409
    assert decide(visitor, draft, number, "approve").status_code == 409
    assert not in_force(shop, saw)


def test_an_older_revision_is_not_approved_after_a_newer_one(shop, visitor, draft):
    older, newer = submitted(shop, draft), submitted(shop, draft)
    visitor.sign_in(shop.chief)
    assert decide(visitor, draft, newer, "approve").status_code == 303
    answer = decide(visitor, draft, older, "approve")
    assert answer.status_code == 409
    assert "was approved after this one" in answer.text


def test_an_act_that_does_not_exist_decides_nothing(shop, visitor, database, draft):
    number = submitted(shop, draft)
    visitor.sign_in(shop.chief)
    for act in ("", "delete", "APPROVE", "approved"):
        assert decide(visitor, draft, number, act).status_code == 404
    assert decide(visitor, draft, 99, "approve").status_code == 404
    assert fates(database) == []


def test_the_approver_signs_with_the_password(shop, visitor, database, draft, clock):
    number = submitted(shop, draft)
    visitor.sign_in(shop.chief)
    clock.at += timedelta(minutes=6)
    assert decide(visitor, draft, number, "approve").status_code == 403
    assert decide(visitor, draft, number, "approve", password="a guess").status_code == 403
    assert fates(database) == []
    assert decide(visitor, draft, number, "approve", password=PASSWORD).status_code == 303


def test_what_was_approved_is_what_the_scan_enforces_whatever_the_draft_says(
    shop, draft, saw, database
):
    shop.approve(draft)
    with database.write() as session:
        row = session.get_one(RiskAssessment, draft.id)
        row.title = "Changed in the draft only"
    with database.read() as session:
        content = session.execute(select(Revision.content)).scalar_one()
    assert "Changed in the draft only" not in content
    assert in_force(shop, saw)


def test_withdrawing_one_of_two_assessments_stops_the_machine(shop):
    saw = shop.machine("Panel saw")
    first = shop.assess(saw)
    shop.assess(saw)
    assert shop.codes(None, saw) == ["not-signed-in"]
    with shop.database.write() as session:
        withdraw(
            session,
            session.get_one(Revision, first),
            actor_id=shop.chief.id,
            note="The blade guard is another one now.",
            now=shop.now,
        )
    assert shop.codes(None, saw) == ["no-assessment-in-force", "not-signed-in"]


def test_an_approver_decides_only_where_every_machine_is_theirs(
    shop, visitor, another, database, saw
):
    wood = shop.area("Wood bay")
    draft = shop.draft(saw, shop.machine("Band saw", area=wood))
    number = submitted(shop, draft)
    page = f"/assessments/{draft.reference}/{number}"
    visitor.sign_in(shop.person(roles=[Role.APPROVER], area=wood))
    assert "Approve: in force at once" not in visitor.get(page).text
    before = dump(database)
    for act in ("approve", "return", "withdraw"):
        answer = decide(visitor, draft, number, act, note="x")
        assert answer.status_code == 403
        assert "in this area" in answer.text
    assert changed(before, dump(database)) == set()
    only = shop.draft(shop.machine("Planer", area=wood))
    assert decide(visitor, only, submitted(shop, only), "approve").status_code == 303
    another.sign_in(shop.chief)
    assert decide(another, draft, number, "approve").status_code == 303
