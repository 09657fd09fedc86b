"""A change that is material whatever its author says."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import pytest
from sqlalchemy import delete, select

from app.hazards.models import HazardControl
from app.risk_assessments.approval import give_back
from app.risk_assessments.freeze import submit
from app.risk_assessments.material import Enforced, reasons
from app.risk_assessments.models import (
    AssessmentInduction,
    AssessmentMachine,
    Revision,
    RiskAssessment,
)
from app.risk_assessments.run_mode import RunMode
from tests.factories import SITE

OTHER_MACHINES = "it covers other machines"
RUN_MODE = "the run mode differs"
INDUCTION = "an induction is no longer required"
CHECK = "a check is no longer required"
SINCE = "a material revision before it was not approved"
FIRST = "no revision was approved before"

BEFORE = Enforced(
    machines=frozenset({1, 2}),
    run_mode=RunMode.OPEN,
    inductions=frozenset({3, 4}),
    checks=frozenset({5, 6}),
)
OTHER_MODE = next(mode for mode in RunMode if mode is not RunMode.OPEN)


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({}, []),
        ({"machines": frozenset({1})}, [OTHER_MACHINES]),
        ({"machines": frozenset({1, 2, 9})}, [OTHER_MACHINES]),
        ({"run_mode": OTHER_MODE}, [RUN_MODE]),
        ({"inductions": frozenset({3})}, [INDUCTION]),
        ({"inductions": frozenset({3, 9})}, [INDUCTION]),
        ({"inductions": frozenset({3, 4, 9})}, []),
        ({"checks": frozenset({5})}, [CHECK]),
        ({"checks": frozenset({5, 6, 9})}, []),
        ({"run_mode": OTHER_MODE, "checks": frozenset()}, [RUN_MODE, CHECK]),
    ],
)
def test_what_is_enforced_differently_is_material(change, found):
    assert reasons(BEFORE, replace(BEFORE, **change), material_since=False) == found


def test_a_material_change_that_was_not_approved_is_still_in_the_draft():
    assert reasons(BEFORE, BEFORE, material_since=True) == [SINCE]


def test_what_nobody_has_approved_before_is_material():
    assert reasons(None, BEFORE, material_since=False) == [FIRST]


# --- over the rows --------------------------------------------------------------------------


@pytest.fixture
def draft(shop):
    return shop.draft(
        shop.machine("Panel saw"), inductions=[shop.induction("Basics")], checks=[shop.check()]
    )


def submitted(shop, draft, *, material=False):
    with shop.database.write() as session:
        return submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=shop.author,
            site=SITE,
            material=material,
            change_note="Changed.",
            now=shop.now,
        )


def test_a_first_revision_is_material(shop, draft):
    assert submitted(shop, draft).material


def test_a_change_of_words_alone_is_what_its_author_says(shop, draft):
    shop.approve(draft)
    assert not submitted(shop, draft).material
    assert submitted(shop, draft, material=True).material


def without_its_induction(session, draft):
    session.execute(
        delete(AssessmentInduction).where(AssessmentInduction.assessment_id == draft.id)
    )


def with_another_machine(session, draft, machine):
    session.add(AssessmentMachine(assessment_id=draft.id, machine_id=machine.id, differences=""))


def in_another_run_mode(session, draft):
    session.get_one(RiskAssessment, draft.id).run_mode = OTHER_MODE


@pytest.mark.parametrize("change", [without_its_induction, in_another_run_mode])
def test_a_draft_that_enforces_less_or_otherwise_is_material(shop, draft, database, change):
    shop.approve(draft)
    with database.write() as session:
        change(session, draft)
    assert submitted(shop, draft).material


def test_a_draft_for_another_machine_is_material(shop, draft, database):
    shop.approve(draft)
    twin = shop.machine("Twin")
    with database.write() as session:
        with_another_machine(session, draft, twin)
    assert submitted(shop, draft).material


def test_a_draft_without_a_check_it_had_is_material(shop, database):
    kept, dropped = shop.check(), shop.check()
    draft = shop.draft(shop.machine(), checks=[kept, dropped])
    shop.approve(draft)
    with database.write() as session:
        session.execute(delete(HazardControl).where(HazardControl.control_id == dropped.control_id))
    assert submitted(shop, draft).material


def test_what_was_returned_as_material_is_not_submitted_again_as_a_small_change(shop, draft):
    shop.approve(draft)
    returned = submitted(shop, draft, material=True)
    with shop.database.write() as session:
        row = session.get_one(Revision, returned.id)
        give_back(session, row, actor_id=shop.chief.id, note="Name the blade", now=shop.now)
    assert submitted(shop, draft).material
    shop.approve(draft, material=False)
    assert not submitted(shop, draft).material, "everybody is briefed on the approved one"


def test_the_author_is_told_why_it_counts_as_material(shop, visitor, draft, database):
    shop.approve(draft)
    with database.write() as session:
        in_another_run_mode(session, draft)
        without_its_induction(session, draft)
    visitor.sign_in(shop.author)
    address = f"/assessments/{draft.reference}/draft"
    answer = visitor.post(address, data={"note": "Opened up.", "material": "no"})
    page = re.sub(r"\s+", " ", unescape(visitor.get(answer.headers["Location"]).text))
    assert (
        "The change is counted as material because the run mode differs, "
        "and an induction is no longer required."
    ) in page
    with database.read() as session:
        kept = session.execute(select(Revision.material).order_by(Revision.number)).scalars()
        assert list(kept) == [True, True]


def test_an_author_who_says_so_themself_is_not_told(shop, visitor, draft):
    visitor.sign_in(shop.author)
    address = f"/assessments/{draft.reference}/draft"
    answer = visitor.post(address, data={"note": "Begun.", "material": "yes"})
    assert "counted as material" not in visitor.get(answer.headers["Location"]).text
