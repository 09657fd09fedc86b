"""From a kind or a copy to a submitted draft, over HTTP and without script."""

from __future__ import annotations

import re

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.calculations.attached import attach
from app.hazards.models import Hazard, HazardControl, HazardFinding
from app.inductions.models import InductionDraft
from app.machines.models import Machine, Tag
from app.people.rights import Role
from app.risk_assessments.models import (
    AssessmentMachine,
    Lone,
    Revision,
    RevisionConditions,
    RiskAssessment,
)
from assessments.calculate import calculate
from assessments.catalogue import kind, kinds
from assessments.document.frozen import thaw
from tests.app.authoring import IN_WORDS, Author, words
from tests.app.walk import changed, dump

KIND = kind("panel-saw")


@pytest.fixture
def author(visitor, shop):
    return Author(visitor, shop)


def test_a_machine_added_from_a_kind_has_a_label_and_a_draft_to_be_confirmed(author, database):
    assert author.begin().status_code == 303
    with database.read() as session:
        machine = session.execute(select(Machine).where(Machine.name == "New machine")).scalar_one()
        assert session.execute(select(Tag.code).where(Tag.machine_id == machine.id)).scalar_one()
        covered = session.execute(select(AssessmentMachine.machine_id)).scalars().all()
        actions = set(session.execute(select(AuditEntry.action)).scalars())
    assert covered == [machine.id]
    assert {"machines:machine:register", "risk_assessments:draft:begin"} <= actions
    assert [line.kind for line in author.lines()] == [each.kind for each in KIND.hazards]
    assert all(line.to_confirm and line.source for line in author.lines())
    assert [each.title for each in author.suggestions()] == [c.title for c in KIND.controls]
    page = words(author.visitor.get(f"{author.at}/edit"))
    total = len(KIND.hazards) + len(KIND.controls) + 2
    assert f"0 of {total} confirmed" in page
    assert "machine until it was submitted and approved" in page


def test_nobody_starts_a_machine_that_only_has_a_draft(author, shop, database):
    author.begin()
    author.confirm_all()
    with database.read() as session:
        machine = session.execute(select(Machine).where(Machine.name == "New machine")).scalar_one()
    assert "no-assessment-in-force" in shop.codes(shop.chief, machine)


def test_a_draft_with_anything_unconfirmed_is_not_submitted_and_says_what(author):
    author.begin()
    answer = author.submit()
    assert answer.status_code == 409
    assert "what people have to know; the conditions of use; the line “Saw blade”" in words(answer)
    for line in author.lines():
        author.save(f"{author.at}/lines/{line.id}", "confirm")
    for page in ("words", "conditions"):
        author.save(f"{author.at}/{page}", "confirm")
    *rest, last = author.suggestions()
    for each in rest:
        author.decide(each)
    answer = author.submit()
    assert answer.status_code == 409
    assert f"Look at the control “{last.title}”." in words(answer)
    author.decide(last)
    assert author.submit().status_code == 303


def test_what_was_confirmed_is_frozen_with_its_conditions_sources_and_proofs(author, database):
    author.begin()
    author.confirm_all()
    assert author.submit().status_code == 303
    with database.read() as session:
        revision = session.execute(select(Revision)).scalar_one()
        conditions = session.execute(select(RevisionConditions)).scalar_one()
    content = thaw(revision.content)
    assert (content.schema, content.threshold) == (2, 10)
    assert (conditions.lone, conditions.companions, conditions.supervised_under) == (
        Lone.NEVER,
        KIND.use.companions,
        KIND.use.supervised_under,
    )
    assert content.conditions.lone == "never alone"
    assert content.conditions.disuse_months == KIND.use.disuse_months
    assert {each.state for each in content.abnormal} == {a.state.value for a in KIND.abnormals}
    assert content.hazards[0].source.startswith("Panel saw and circular saw bench (catalogue)")
    proofs = [p for line in content.hazards for c in line.controls for p in c.proofs]
    assert any("the reading passes to 8 mm" in proof.passes_when for proof in proofs)
    assert any(proof.interval == "before each use" for proof in proofs)
    assert content.scale_departs[0].startswith("Consistent colouring is not kept")


def test_the_draft_of_the_induction_begins_with_the_kind(author, database):
    author.begin()
    with database.read() as session:
        draft = session.execute(select(InductionDraft)).scalar_one()
    assert draft.title == KIND.induction.title
    assert [item["words"] for item in draft.items] == [i.words for i in KIND.induction.items]
    assert draft.supervised_uses == KIND.induction.supervised_uses
    assert f"“{draft.title}” is" in words(author.visitor.get(f"{author.at}/edit"))


def test_an_induction_that_is_taught_already_is_asked_for_instead(author, shop, database):
    taught = shop.induction(KIND.induction.title)
    author.begin()
    with database.read() as session:
        assert session.execute(select(InductionDraft)).first() is None
    page = author.visitor.get(f"{author.at}/edit").text
    assert re.search(rf'value="{taught.id}" checked', page)


@pytest.mark.parametrize(
    "key", ["fibre-laser-enclosed", "ladders-and-hanging", "glaze-and-slip-chemicals"]
)
def test_the_forms_of_a_draft_can_be_sent_as_they_are_shown(author, database, key):
    assert author.begin(kind_key=key).status_code == 303
    for line in author.lines():
        page = f"{author.at}/lines/{line.id}"
        assert author.visitor.get(page).status_code == 200
    author.confirm_all()
    answer = author.submit()
    assert answer.status_code == 303, words(answer)
    with database.read() as session:
        content = thaw(session.execute(select(Revision.content)).scalar_one())
    found = kinds()[key]
    assert [(h.kind, h.how, h.residual) for h in content.hazards] == [
        (h.kind, h.how, h.residual) for h in found.hazards
    ]
    assert content.before_use == found.before_use
    assert [(n.material, n.why) for n in content.never] == [
        (n.material, n.why) for n in found.nevers
    ]


def test_the_suggested_values_of_a_number_are_put_into_its_form(author):
    author.begin()
    page = f"{author.at}/lines/{author.lines()[0].id}"
    form = author.form(page, f"/calculations/wheel.speed?hazard={author.lines()[0].id}")
    answer = author.visitor.post(form.action, data=form.sent())
    assert answer.status_code == 200
    assert 'value="300"' in answer.text
    assert 'value="4000"' in answer.text


# --- from a copy --------------------------------------------------------------------------


@pytest.fixture
def original(shop, database):
    """An assessment with a control, a number, and an approved revision."""
    draft = shop.draft(
        shop.machine("Old saw"), inductions=[shop.induction()], checks=[shop.check()]
    )
    with database.write() as session:
        hazard = session.execute(select(Hazard)).scalar_one()
        found = calculate("noise.daily", {"tasks": [[95, 1]]})
        attach(session, hazard, found, actor_id=shop.author.id, now=shop.now)
    return draft


def test_a_copy_has_the_lines_and_controls_to_be_looked_at_and_not_the_numbers(
    author, original, database
):
    assert author.begin("copy", original=original.id).status_code == 303
    (line,) = author.lines()
    assert line.to_confirm
    assert line.source == f"copied from {original.reference}"
    with database.read() as session:
        row = session.execute(
            select(HazardControl).where(HazardControl.hazard_id == line.id)
        ).scalar_one()
        beside = session.execute(
            select(HazardFinding).where(HazardFinding.hazard_id == line.id)
        ).all()
    assert row.to_confirm
    assert beside == []
    page = words(author.visitor.get(f"{author.at}/edit"))
    assert "4 things were not yet looked at here." in page
    assert "1 number stands beside its lines; they belong to the other machine" in page
    assert [each["id"] for each in line.suggested] == ["noise.daily"]
    assert "Look at what people have to know; the conditions of use; the line “Cutting”; how" in (
        words(author.submit())
    )


def test_a_copied_control_is_confirmed_by_how_it_is_proved_here(author, original, database):
    author.begin("copy", original=original.id)
    (line,) = author.lines()
    author.save(f"{author.at}/lines/{line.id}", "confirm")
    author.save(f"{author.at}/words", "confirm")
    author.save(f"{author.at}/conditions", "confirm")
    assert author.submit().status_code == 409
    with database.read() as session:
        control_id = session.execute(
            select(HazardControl.control_id).where(HazardControl.hazard_id == line.id)
        ).scalar_one()
    there = f"{author.at}/lines/{line.id}/controls/{control_id}"
    assert author.visitor.post(there, data={"words": "Tried with a stick."}).status_code == 303
    assert author.submit().status_code == 303
    with database.read() as session:
        content = thaw(session.execute(select(Revision.content)).scalar_one())
    assert content.hazards[0].controls[0].proved_here == "Tried with a stick."


# --- joined and empty ---------------------------------------------------------------------


def test_a_machine_joins_an_assessment_with_what_sets_it_apart(author, original, shop, database):
    refused = author.begin("join", original=original.id)
    assert refused.status_code == 422
    assert "Say what sets this unit apart" in words(refused)
    with database.read() as session:
        assert session.execute(select(Machine).where(Machine.name == "New machine")).first() is None
    assert author.begin("join", original=original.id, differences="No brake").status_code == 303
    assert author.draft_id == original.id
    assert "Differs: No brake" in words(author.visitor.get(f"{author.at}/edit"))


def test_an_empty_draft_is_written_line_by_line(author):
    author.begin("empty")
    answer = author.visitor.post(f"{author.at}/lines/new", data=LINE)
    assert answer.status_code == 303
    (line,) = author.lines()
    assert (line.to_confirm, line.states) == (False, ["jam", "wet floor"])
    there = f"{author.at}/lines/{line.id}"
    control = {"proved": IN_WORDS, "title": "A rule", "level": "4", "words": "Asked each month"}
    assert author.visitor.post(f"{there}/controls/new", data=control).status_code == 303
    author.save(
        f"{author.at}/words", "confirm", scope="Sawing", before_use="Look", emergency="Stop"
    )
    author.save(f"{author.at}/conditions", "confirm")
    answer = author.submit()
    assert answer.status_code == 422
    assert "rests on people and protective equipment alone" in words(answer)
    author.save(there, "confirm", reason="The blade has to be open.")
    assert author.submit().status_code == 303


LINE = {
    "kind": "Blade",
    "how": "A hand meets it.",
    "who": "The sawyer\r\nHelpers",
    "states": ["jam"],
    "other_states": "wet floor",
    "severity_before": "3",
    "likelihood_before": "3",
    "severity_after": "3",
    "likelihood_after": "2",
    "residual": "A nick",
}


def test_the_register_alone_begins_no_draft(author, shop, database, visitor):
    administrator = shop.person(roles=[Role.ADMINISTRATOR])
    clerk = Author(visitor, shop, administrator)
    answer = clerk.begin("none")
    assert answer.status_code == 303
    assert answer.location.startswith("/machines/")
    assert clerk.begin("empty", name="Another").status_code == 403
    with database.read() as session:
        assert session.execute(select(RiskAssessment)).first() is None
        assert session.execute(select(Machine.name)).scalars().all() == ["New machine"]


def test_the_next_reference_counts_on_from_those_of_the_area(author, shop):
    bay = shop.area("Wood bay")
    author.begin("empty", area=bay, reference="WB-09")
    assert author.begin("empty", area=bay, name="Second", reference="").status_code == 303
    assert author.draft().reference == "WB-10"


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"name": ""}, "needs a name"),
        ({"kind": ""}, "needs a kind"),
        ({"name": "Taken"}, "called Taken already"),
        ({"reference": "../x"}, "A reference has"),
        ({"reference": "TAKEN-1"}, "assessment TAKEN-1 already"),
        ({"form": "spaceship"}, "Choose one"),
        ({"kind_key": "no-such"}, "no such kind"),
        ({"area_id": "999"}, "no such area"),
    ],
)
def test_a_form_that_cannot_be_kept_registers_nothing(author, shop, database, form, sentence):
    author.begin("empty", name="Taken", reference="TAKEN-1")
    area = shop.area()
    before = dump(database)
    answer = author.begin(area=area, **form)
    assert answer.status_code in (404, 422)
    assert sentence in words(answer)
    assert changed(before, dump(database)) == set()


def test_an_assessment_is_begun_for_a_machine_that_is_on_the_register_already(author, shop):
    saw = shop.machine("Old saw")
    page = author.visitor.get(f"/machines/{saw.id}").text
    assert f'href="/machines/new?machine={saw.id}"' in page
    assert (
        f"kind_key=panel-saw&amp;machine={saw.id}"
        in author.visitor.get(f"/machines/new?machine={saw.id}").text
    )
    form = author.form(
        f"/machines/new/kind?kind_key=panel-saw&machine={saw.id}", "/machines/new/kind"
    )
    answer = author.visitor.post("/machines/new/kind", data=form.sent())
    assert answer.status_code == 303
    author.draft_id = int(answer.location.split("/")[2])
    assert author.draft().reference == "RA-01"
    assert "Old saw" in words(author.visitor.get(f"{author.at}/edit"))
    assert (
        f'href="/machines/new?machine={saw.id}"'
        not in author.visitor.get(f"/machines/{saw.id}").text
    )
