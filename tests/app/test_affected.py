"""Whom and what a revision touches, told before it is in force, against what then happens."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import event, select

from app.clearance.facts import machine_files
from app.hazards.models import Hazard, HazardControl, Outcome
from app.people.models import Cohort, CohortMember, Membership, Person
from app.publishing.affected import affected
from app.publishing.coming import ground_of
from app.risk_assessments.approval import approve
from app.risk_assessments.freeze import submit
from app.risk_assessments.models import (
    AssessmentInduction,
    AssessmentMachine,
    Revision,
    RiskAssessment,
)
from app.risk_assessments.run_mode import RunMode
from tests.factories import SITE

TO_READ = {"assessment-changed", "acknowledgement-outstanding"}


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def tess(shop, basics):
    found = shop.technician(basics)
    with shop.database.write() as session:
        session.get_one(Person, found.id).name = "Tess Turner"
    return found


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw", area=shop.area("Wood bay"))


@pytest.fixture
def draft(shop, saw, basics):
    found = shop.draft(saw, inductions=[basics], checks=[shop.check()])
    shop.approve(found)
    return found


def trained(shop, tess, basics, name, *, reads=True):
    """Return somebody who was signed off, and has acknowledged what is in force."""
    person = shop.person(name)
    shop.sign_off(tess, person, basics)
    if reads:
        for revision_id in in_force_ids(shop):
            shop.acknowledge(person, revision_id)
    return person


def in_force_ids(shop):
    with shop.database.read() as session:
        newest = {
            row.assessment_id: row.id
            for row in session.execute(select(Revision).order_by(Revision.number)).scalars()
        }
    return list(newest.values())


def submitted(shop, draft, *, material=True):
    with shop.database.write() as session:
        return submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=shop.author,
            site=SITE,
            material=material,
            change_note="Changed.",
            now=shop.now,
        ).id


def asked(shop, revision_id, *, material=True):
    with shop.database.read() as session:
        ground = ground_of(session, session.get_one(Revision, revision_id), site=SITE, now=shop.now)
    return ground, affected(ground, material=material)


def publish(shop, revision_id, *, material=True):
    with shop.database.write() as session:
        approve(
            session,
            session.get_one(Revision, revision_id),
            actor_id=shop.chief.id,
            site=SITE,
            note="Nobody works otherwise by it.",
            material=material,
            now=shop.now,
        )


def names(people):
    return [each.name for each in people]


def settled(facts):
    """Return facts in one order: that of rows is nobody's promise."""
    return replace(
        facts,
        assessments=tuple(sorted(facts.assessments, key=lambda each: each.id)),
        checks=tuple(sorted(facts.checks, key=lambda each: each.id)),
    )


def holds(shop, revision_id, *, material=True):
    """Publish, and hold what was told before against what the clearance says now."""
    ground, told = asked(shop, revision_id, material=material)
    publish(shop, revision_id, material=material)
    predicted = ground.as_material if material else ground.as_not_material
    with shop.database.read() as session:
        files = machine_files(session, sorted(predicted), at=shop.now)
    for machine_id, facts in predicted.items():
        now = settled(files[machine_id].facts)
        # The same wording is one revision further where the approver answered otherwise.
        numbered = tuple(
            replace(each, number=then.number, material_number=then.material_number)
            if then.number == each.number + 1 and not material
            else each
            for each, then in zip(settled(facts).assessments, now.assessments, strict=True)
        )
        assert replace(settled(facts), assessments=numbered) == now
    return told


# --- who reads it anew -------------------------------------------------------------------


def test_a_material_change_is_read_anew_by_everybody_whose_standing_is_current(
    shop, basics, tess, draft, saw
):
    ada = trained(shop, tess, basics, "Ada Quill")
    trained(shop, tess, basics, "Ben Reed")
    shop.person("Never Trained")
    shop.hold(shop.person("Long Ago"), basics, at=shop.now - timedelta(days=800))
    told = holds(shop, submitted(shop, draft))
    # Technicians are nobody else: who may give the induction reads what it stands on.
    assert names(told.reading) == ["Ada Quill", "Ben Reed", "Tess Turner"]
    assert told.by_area == (("Wood bay", 3),)
    assert [each.reads for each in told.reading] == [(saw.id,)] * 3
    assert TO_READ & set(shop.codes(ada, saw))


def test_a_change_that_is_not_material_asks_nobody_but_those_who_owe_it_anyway(
    shop, basics, tess, draft, saw
):
    ada = trained(shop, tess, basics, "Ada Quill")
    trained(shop, tess, basics, "Cy Late", reads=False)
    told = holds(shop, submitted(shop, draft, material=False), material=False)
    assert names(told.reading) == ["Cy Late", "Tess Turner"]
    assert not TO_READ & set(shop.codes(ada, saw))


def test_whoever_is_told_to_read_it_is_stopped_by_just_that_afterwards(
    shop, basics, tess, draft, saw
):
    people = [tess, *(trained(shop, tess, basics, f"Person {letter}") for letter in "ABC")]
    revision_id = submitted(shop, draft)
    told = holds(shop, revision_id)
    assert {each.id for each in told.reading} == {
        person.id for person in people if TO_READ & set(shop.codes(person, saw))
    }
    for person in people:
        shop.acknowledge(person, revision_id)
        assert not TO_READ & set(shop.codes(person, saw))


def test_somebody_who_left_is_not_counted(shop, basics, tess, draft):
    trained(shop, tess, basics, "Ada Quill")
    gone = shop.person("Gone Away", starts_on=shop.now.date() - timedelta(days=90))
    shop.hold(gone, basics)
    with shop.database.write() as session:
        session.add(
            Membership(
                person_id=gone.id,
                starts_on=shop.now.date() - timedelta(days=90),
                ends_on=shop.now.date() - timedelta(days=1),
                recorded_at=shop.now,
            )
        )
    assert names(holds(shop, submitted(shop, draft)).reading) == ["Ada Quill", "Tess Turner"]


def test_readers_are_counted_by_the_groups_they_came_with(shop, basics, tess, draft):
    ada = trained(shop, tess, basics, "Ada Quill")
    trained(shop, tess, basics, "Ben Reed")
    today = shop.now.date()
    with shop.database.write() as session:
        for name, ends_on in (("Print course", None), ("Of last year", today - timedelta(days=1))):
            group = Cohort(name=name, starts_on=today - timedelta(days=400), ends_on=ends_on)
            session.add(group)
            session.flush()
            session.add(CohortMember(cohort_id=group.id, person_id=ada.id))
    told = holds(shop, submitted(shop, draft))
    assert told.by_cohort == (("Print course", 1),)


# --- who is stopped for another reason ---------------------------------------------------


def test_a_new_induction_stops_who_does_not_hold_it(shop, basics, tess, draft, saw):
    ada = trained(shop, tess, basics, "Ada Quill")
    dust = shop.induction("Wood dust")
    both = trained(shop, tess, basics, "Both Held")
    shop.hold(both, dust)
    with shop.database.write() as session:
        session.add(AssessmentInduction(assessment_id=draft.id, induction_id=dust.id))
    told = holds(shop, submitted(shop, draft, material=False), material=False)
    assert names(told.stopped) == ["Ada Quill"]
    assert told.stopped[0].stopped == (saw.id,)
    assert "Wood dust" in " ".join(told.stopped[0].why)
    assert "induction-missing" in shop.codes(ada, saw)
    assert "induction-missing" not in shop.codes(both, saw)


def test_a_stricter_run_mode_stops_everybody_but_technicians(shop, basics, tess, draft):
    trained(shop, tess, basics, "Ada Quill")
    with shop.database.write() as session:
        session.get_one(RiskAssessment, draft.id).run_mode = RunMode.TECHNICIAN_RUN
    told = holds(shop, submitted(shop, draft))
    assert names(told.stopped) == ["Ada Quill"]


# --- machines ----------------------------------------------------------------------------


def test_the_first_assessment_puts_its_machine_into_use(shop, basics):
    lathe = shop.machine("Lathe")
    told = holds(shop, submitted(shop, shop.draft(lathe, inductions=[basics])))
    [change] = told.machines
    assert (change.name, change.before.words, change.after.words) == (
        "Lathe",
        "out of use",
        "cleared",
    )


def test_a_machine_that_is_no_longer_covered_is_out_of_use(shop, basics, draft, saw):
    lathe = shop.machine("Lathe")
    with shop.database.write() as session:
        session.delete(session.get_one(AssessmentMachine, (draft.id, saw.id)))
        session.add(AssessmentMachine(assessment_id=draft.id, machine_id=lathe.id, differences=""))
    told = holds(shop, submitted(shop, draft))
    assert {each.name: each.after.words for each in told.machines} == {
        "Panel saw": "out of use",
        "Lathe": "not cleared",  # its guard was never tested there
    }


@pytest.mark.parametrize(
    ("outcome", "word"), [(None, "not cleared"), (Outcome.FAILED, "out of use")]
)
def test_a_check_that_is_newly_relied_on_counts_from_the_first_moment(
    shop, draft, saw, outcome, word
):
    check = shop.check()
    if outcome is not None:
        shop.do(check, saw, outcome)
    with shop.database.write() as session:
        hazard = session.execute(
            select(Hazard.id).where(Hazard.assessment_id == draft.id)
        ).scalar_one()
        session.add(
            HazardControl(hazard_id=hazard, control_id=check.control_id, proved_here="Felt")
        )
        [old] = session.execute(
            select(HazardControl).where(HazardControl.control_id != check.control_id)
        ).scalars()
        session.delete(old)
    told = holds(shop, submitted(shop, draft))
    assert [each.after.words for each in told.machines] == [word]


def test_another_assessment_of_the_same_machine_keeps_what_it_asks(shop, basics, tess, draft, saw):
    ladder = shop.induction("Ladders")
    shop.assess(saw, inductions=[ladder], checks=[shop.check()], run_mode=RunMode.SUPERVISED)
    ada = trained(shop, tess, basics, "Ada Quill")
    told = holds(shop, submitted(shop, draft))
    # Of somebody who lacks the other induction, this one is still to be read again.
    assert names(told.reading) == ["Ada Quill"]
    shop.hold(ada, ladder)
    assert TO_READ & set(shop.codes(ada, saw))


def test_the_number_of_statements_does_not_grow_with_people(shop, basics, tess, draft):
    revision_id, spent = submitted(shop, draft), []
    for batch in range(2):
        for place in range(3):
            shop.hold(shop.person(f"Person {batch} {place}"), basics)
        seen: list[str] = []

        def note(_connection, _cursor, statement, *_, seen=seen):
            seen.append(statement)

        event.listen(shop.database.reader, "before_cursor_execute", note)
        asked(shop, revision_id)
        event.remove(shop.database.reader, "before_cursor_execute", note)
        spent.append(len(seen))
    assert spent[1] <= spent[0] <= 30


def test_it_is_asked_alike_on_postgresql(register):
    basics = register.induction("Basics")
    saw = register.machine("Panel saw", area=register.area("Wood bay"))
    draft = register.draft(saw, inductions=[basics], checks=[register.check()])
    register.approve(draft)
    trained(register, register.technician(basics), basics, "Ada Quill")
    told = holds(register, submitted(register, draft))
    assert "Ada Quill" in names(told.reading)
    assert told.by_area == (("Wood bay", 2),)
