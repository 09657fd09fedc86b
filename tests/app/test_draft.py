"""The page of a draft: its hazard lines with their numbers, and submitting it."""

from __future__ import annotations

import re
from datetime import timedelta
from html import unescape

import pytest
from sqlalchemy import select

from app.calculations.limits import choose_regime
from app.calculations.suggested import suggested
from app.errors import Refused
from app.hazards.models import Hazard
from app.machines.data import record_datum
from app.machines.models import Machine
from app.people.models import Person
from app.people.rights import Role
from app.risk_assessments.freeze import submit
from app.risk_assessments.models import Revision, RiskAssessment
from assessments.document.frozen import thaw
from assessments.methods import catalogue
from tests.factories import PASSWORD, SITE

CHANGE = {"note": "Blade changed.", "material": "no"}
NOISE = {"calculation": "noise.daily", "tasks-0-0": "95", "tasks-0-1": "8"}


def words(page) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text)))


@pytest.fixture
def saw(shop):
    return shop.machine("Panel saw", area=shop.area("Wood bay"))


@pytest.fixture
def draft(shop, saw):
    return shop.draft(saw, checks=[shop.check()])


@pytest.fixture
def address(draft):
    return f"/assessments/{draft.reference}/draft"


@pytest.fixture
def hazard(draft, database):
    with database.read() as session:
        return session.execute(select(Hazard).where(Hazard.assessment_id == draft.id)).scalar_one()


@pytest.fixture
def technician(shop, visitor, database):
    with database.write() as session:
        choose_regime(session, "gb", actor_id=shop.chief.id, now=shop.now)
    return visitor.sign_in(shop.author)


def revisions(database) -> list[Revision]:
    with database.read() as session:
        return list(session.execute(select(Revision).order_by(Revision.id)).scalars())


def level(shop, database, machine, value: str) -> int:
    with database.write() as session:
        return record_datum(
            session,
            session.get_one(Machine, machine.id),
            name="level",
            value=value,
            unit="dB(A)",
            source="measured",
            actor_id=shop.author.id,
            now=shop.now,
        ).id


# --- the page --------------------------------------------------------------------------------


def test_the_draft_shows_its_hazard_lines_with_controls_ratings_and_numbers(
    technician, address, hazard
):
    technician.post(f"/hazards/{hazard.id}/findings", data=NOISE)
    page = technician.get(address)
    shown = words(page)
    assert "A hand meets the blade." in shown
    assert "Before 16 Stop" in shown
    assert "After 8 Medium" in shown
    assert "Engineering control" in shown
    assert "Daily noise exposure : daily 95 dB; points 1000 . Over the limit." in shown
    assert f'href="/hazards/{hazard.id}/findings"' in page.text
    assert f'href="/calculations?hazard={hazard.id}"' in page.text
    assert f'href="/calculations/guard.opening?hazard={hazard.id}"' in page.text


def test_the_draft_is_found_from_its_revision_and_from_its_machine(
    technician, shop, saw, draft, address
):
    shop.approve(draft)
    for page in (f"/assessments/{draft.reference}/1", f"/machines/{saw.id}"):
        assert f'href="{address}"' in technician.get(page).text, page
    assert technician.get("/assessments/RA-9999/draft").status_code == 404


def test_people_who_do_not_write_neither_see_nor_submit_a_draft(
    shop, another, database, address, draft
):
    shop.approve(draft)
    for person in (shop.person("Ada Quill"), shop.chief):
        client = another.sign_in(person)
        assert client.get(address).status_code == 403
        assert client.post(address, data=CHANGE).status_code == 403
        assert address not in client.get(f"/assessments/{draft.reference}/1").text
        another.post("/sign-out")
    assert len(revisions(database)) == 1


@pytest.mark.parametrize(
    ("kind", "first"),
    [
        ("Laser beam", "laser.hazard_distance"),
        ("Noise", "noise.daily"),
        ("Vibration", "vibration.daily"),
        ("Welding fume", "welding.shade"),
        ("Wood dust", "air.twa"),
        ("Assist gas", "gas.oxygen"),
        ("Lifting rolls", "lifting.niosh"),
        ("Bursting wheel", "wheel.speed"),
        ("Hot surface", "contact.burn"),
    ],
)
def test_a_kind_of_hazard_suggests_the_methods_that_answer_for_it(kind, first):
    assert first in [method.id for method in suggested(kind)][:2]


def test_what_is_suggested_is_in_the_catalogue_and_an_unknown_kind_suggests_nothing():
    from app.calculations.suggested import _table

    assert {method for _, method in _table()} <= catalogue().keys()
    assert suggested("Ghosts") == []
    assert suggested("") == []


# --- submitting ------------------------------------------------------------------------------


def test_a_draft_is_submitted_with_its_change_and_the_authors_password(
    technician, shop, database, address, clock
):
    clock.at = shop.now + timedelta(hours=1)
    assert technician.post(address, data=CHANGE).status_code == 403
    assert revisions(database) == []
    answer = technician.post(address, data=CHANGE | {"password": PASSWORD})
    assert answer.status_code == 303
    (row,) = revisions(database)
    assert answer.headers["Location"].endswith("/1")
    assert row.prepared_by_id == shop.author.id
    assert thaw(row.content).change_note == "Blade changed."


@pytest.mark.parametrize("material", [True, False])
def test_the_author_says_whether_a_change_is_material(
    technician, shop, database, address, draft, material
):
    shop.approve(draft)
    sent = CHANGE | {"material": "yes" if material else "no"}
    assert technician.post(address, data=sent).status_code == 303
    assert revisions(database)[-1].material is material


@pytest.mark.parametrize("missing", ["note", "material"])
def test_a_submission_that_says_too_little_is_refused(technician, database, address, missing):
    answer = technician.post(address, data={**CHANGE, missing: " "})
    assert answer.status_code == 422
    assert revisions(database) == []


def test_a_technician_of_another_area_does_not_submit(shop, another, database, address):
    elsewhere = shop.person("Tess Marl", roles=[Role.TECHNICIAN], area=shop.area("Loft"))
    client = another.sign_in(elsewhere)
    page = client.get(address)
    assert page.status_code == 200
    assert "Submit this draft" not in words(page)
    assert client.post(address, data=CHANGE).status_code == 403
    assert revisions(database) == []


# --- numbers that are stale ------------------------------------------------------------------


@pytest.fixture
def taken(technician, shop, database, saw, hazard):
    """Keep the noise of a day beside the hazard, its level from the data sheet."""
    datum = level(shop, database, saw, "95")
    sent = NOISE | {"taken": [str(datum)]}
    assert technician.post(f"/hazards/{hazard.id}/findings", data=sent).status_code == 303


def test_a_draft_with_a_number_of_an_older_machine_is_not_submitted(
    taken, technician, shop, database, saw, hazard, address
):
    level(shop, database, saw, "97")
    assert "1 number is stale." in words(technician.get(address))
    answer = technician.post(address, data=CHANGE)
    assert answer.status_code == 409
    sentence = words(answer)
    assert "“Daily noise exposure” beside “Cutting” is stale" in sentence
    assert "It was computed from 95 dB(A) (level); Panel saw now has 97 dB(A)." in sentence
    assert revisions(database) == []
    technician.post(f"/hazards/{hazard.id}/findings/1/end")
    assert technician.post(address, data=CHANGE).status_code == 303


def test_a_draft_with_a_number_by_an_older_limit_is_not_submitted(
    taken, technician, shop, database, address
):
    with database.write() as session:
        choose_regime(session, "us", actor_id=shop.chief.id, now=shop.now)
    answer = technician.post(address, data=CHANGE)
    assert answer.status_code == 409
    assert "The limit is another one now." in words(answer)
    assert revisions(database) == []


def test_freezing_itself_refuses_a_number_of_an_older_machine(
    taken, shop, database, saw, draft, hazard
):
    level(shop, database, saw, "97")
    with pytest.raises(Refused, match="now has 97"), database.write() as session:
        submit(
            session,
            session.get_one(RiskAssessment, draft.id),
            author=session.get_one(Person, shop.author.id),
            site=SITE,
            material=True,
            change_note="Changed.",
            now=shop.now,
        )
    assert revisions(database) == []
