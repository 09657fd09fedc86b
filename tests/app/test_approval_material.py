"""The approver's own answer about what is material: what it needs, and what is then in force."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from app.errors import Refused
from app.risk_assessments.approval import approve, fates, give_back
from app.risk_assessments.freeze import submit
from app.risk_assessments.in_force import in_force
from app.risk_assessments.material import why_material_of
from app.risk_assessments.models import (
    AssessmentInduction,
    Fate,
    Revision,
    RevisionCheck,
    RevisionInduction,
    RevisionMachine,
    RiskAssessment,
)
from assessments.document.frozen import digest, thaw
from tests.factories import SITE


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw")


@pytest.fixture
def draft(shop, saw, basics):
    found = shop.draft(saw, inductions=[basics], checks=[shop.check()])
    shop.approve(found)
    return found


@pytest.fixture
def ada(shop, basics, draft):
    person = shop.person("Ada Quill")
    shop.sign_off(shop.technician(basics), person, basics)
    with shop.database.read() as session:
        revision_id = session.execute(select(Revision.id)).scalar_one()
    shop.acknowledge(person, revision_id)
    return person


def submitted(shop, draft, *, material):
    with shop.database.write() as session:
        return submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=shop.author,
            site=SITE,
            material=material,
            change_note="A word was mended.",
            now=shop.now,
        ).id


def decided(shop, revision_id, *, note="Nobody works otherwise by it.", **answer):
    with shop.database.write() as session:
        return approve(
            session,
            session.get_one(Revision, revision_id),
            actor_id=shop.chief.id,
            site=SITE,
            note=note,
            now=shop.now,
            **answer,
        ).revision_id


def only_in_force(shop):
    with shop.database.read() as session:
        return session.execute(select(Revision).where(in_force(shop.now))).scalar_one()


def asked_anew(shop, person, machine):
    return "assessment-changed" in shop.codes(person, machine)


def test_a_change_that_asks_nobody_needs_its_reason(shop, draft):
    revision_id = submitted(shop, draft, material=False)
    with pytest.raises(Refused, match="Write why nobody needs a new briefing"):
        decided(shop, revision_id, note=" ")
    decided(shop, revision_id)
    with shop.database.read() as session:
        [fate] = fates(session, revision_id)
    assert (fate.fate, fate.note) == (Fate.APPROVED, "Nobody works otherwise by it.")


def test_the_approver_may_call_material_what_its_author_did_not(shop, draft, saw, ada):
    revision_id = submitted(shop, draft, material=False)
    assert not asked_anew(shop, ada, saw)
    assert decided(shop, revision_id, material=True, note="") != revision_id
    now = only_in_force(shop)
    assert (now.number, now.material) == (3, True)
    assert asked_anew(shop, ada, saw)


def test_the_approver_may_call_not_material_what_its_author_did(shop, draft, saw, ada):
    revision_id = submitted(shop, draft, material=True)
    decided(shop, revision_id, material=False)
    now = only_in_force(shop)
    assert (now.number, now.material) == (3, False)
    assert not asked_anew(shop, ada, saw)


def test_the_wording_that_was_frozen_anew_is_the_same_but_for_the_answer(shop, draft):
    old_id = submitted(shop, draft, material=True)
    new_id = decided(shop, old_id, material=False)
    with shop.database.read() as session:
        old, new = session.get_one(Revision, old_id), session.get_one(Revision, new_id)
        for ties in (RevisionMachine, RevisionInduction, RevisionCheck):
            names = [c.key for c in ties.__table__.columns if c.key.endswith("_id")]
            held = [
                sorted(
                    tuple(getattr(row, name) for name in names if name != "revision_id")
                    for row in session.execute(
                        select(ties).where(ties.revision_id == each.id)
                    ).scalars()
                )
                for each in (old, new)
            ]
            assert held[0] == held[1] != []
        [back] = fates(session, old_id)
    assert (back.fate, back.note) == (
        Fate.RETURNED,
        "The change is not material: the same wording is revision 3.",
    )
    assert new.digest == digest(new.content)
    before, after = vars(thaw(old.content)), vars(thaw(new.content))
    differ = {name for name in before if before[name] != after[name]}
    assert differ == {"number", "material_change"}
    assert (new.prepared_by_id, new.review_due_on) == (old.prepared_by_id, old.review_due_on)


def test_what_the_program_finds_material_nobody_calls_otherwise(shop, draft, basics):
    with shop.database.write() as session:
        session.delete(session.get_one(AssessmentInduction, (draft.id, basics.id)))
    revision_id = submitted(shop, draft, material=False)
    with shop.database.read() as session:
        revision = session.get_one(Revision, revision_id)
        assert revision.material
        assert why_material_of(session, revision) == ["an induction is no longer required"]
    with pytest.raises(Refused, match="an induction is no longer required"):
        decided(shop, revision_id, material=False)


def test_the_first_revision_is_material(shop, saw):
    revision_id = submitted(shop, shop.draft(saw), material=False)
    with pytest.raises(Refused, match="no revision was approved before"):
        decided(shop, revision_id, material=False)


def test_a_material_change_that_was_given_back_stays_material_in_the_next(shop, draft):
    first = submitted(shop, draft, material=True)
    with shop.database.write() as session:
        give_back(
            session,
            session.get_one(Revision, first),
            actor_id=shop.chief.id,
            note="Name the blade",
            now=shop.now,
        )
    second = submitted(shop, draft, material=False)
    with pytest.raises(Refused, match="a material revision before it was not approved"):
        decided(shop, second, material=False)


def test_another_answer_does_not_overtake_what_was_submitted_meanwhile(shop, draft):
    first = submitted(shop, draft, material=False)
    submitted(shop, draft, material=False)
    with pytest.raises(Refused, match="Revision 3 was submitted after this one"):
        decided(shop, first, material=True)
    assert only_in_force(shop).number == 1
    assert decided(shop, first) == first
