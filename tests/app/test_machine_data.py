"""A machine's data sheet, the forms that are filled from it, and numbers that it leaves behind."""

from __future__ import annotations

import re
from html import unescape

import pytest
from sqlalchemy import select
from sqlalchemy.exc import DatabaseError

from app.calculations.limits import choose_regime
from app.hazards.models import Hazard, HazardFinding
from app.machines.data import data_of, known_names, record_datum
from app.machines.models import Machine, MachineDatum
from app.people.rights import Role
from assessments.document.frozen import thaw_finding
from assessments.methods import catalogue

WHEEL = "/calculations/wheel.speed"
POWER = {"name": "Power", "value": "60", "unit": "W", "source": "rating plate"}


def words(page) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text)))


def value_of(page, name: str) -> str:
    return re.search(rf'<input id="{name}" name="{name}" value="([^"]*)"', page.text)[1]


def sent_from(page) -> dict[str, list[str]]:
    """Return what the form of a method sends as it was opened."""
    found: dict[str, list[str]] = {}
    form = page.text.split('class="inputs"')[1]
    for tag in re.findall(r"<input[^>]*>", form):
        name = re.search(r'name="([^"]*)"', tag)[1]
        if name != "csrf_token":
            found.setdefault(name, []).append(unescape(re.search(r'value="([^"]*)"', tag)[1]))
    return found


@pytest.fixture
def laser(shop):
    return shop.machine("Old Flicker")


@pytest.fixture
def fact(shop, database):
    """Record a datum of a machine."""

    def fact(machine: Machine, name: str, value: str, unit: str = "1") -> int:
        with database.write() as session:
            return record_datum(
                session,
                session.get_one(Machine, machine.id),
                name=name,
                value=value,
                unit=unit,
                source="rating plate",
                actor_id=shop.author.id,
                now=shop.now,
            ).id

    return fact


@pytest.fixture
def line(shop, database):
    """Return the one hazard line of a new draft over these machines."""

    def line(*machines: Machine) -> Hazard:
        draft = shop.draft(*machines)
        with database.read() as session:
            return session.execute(
                select(Hazard).where(Hazard.assessment_id == draft.id)
            ).scalar_one()

    return line


@pytest.fixture
def technician(shop, visitor, database):
    with database.write() as session:
        choose_regime(session, "gb", actor_id=shop.chief.id, now=shop.now)
    return visitor.sign_in(shop.author)


def kept(database) -> list[HazardFinding]:
    with database.read() as session:
        return list(session.execute(select(HazardFinding).order_by(HazardFinding.id)).scalars())


# --- the data sheet --------------------------------------------------------------------------


def test_a_technician_adds_a_line_and_the_latest_of_a_name_counts(technician, laser, database):
    address = f"/machines/{laser.id}/data"
    for value in ("60", "80"):
        assert technician.post(address, data=POWER | {"value": value}).status_code == 303
    with database.read() as session:
        (latest,) = data_of(session, [laser.id])
        assert (latest.name, latest.value, latest.unit) == ("power", "80", "W")
        assert len(session.execute(select(MachineDatum)).all()) == 2
    assert "power is 80 W from now on" in words(technician.get(f"/machines/{laser.id}"))
    page = words(technician.get(f"/machines/{laser.id}"))
    assert "Power: 80 W rating plate; recorded" in page
    assert "60 W" not in page


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"source": ""}, "Say where the value is from"),
        ({"name": " "}, "Give the datum a name"),
        ({"name": "x" * 61}, "at most 60 characters"),
        ({"value": "60 W"}, "plain number"),
        ({"value": "sixty"}, "plain number"),
        ({"value": "1e999"}, "plain number"),
        ({"unit": "horse"}, "not a unit known here"),
    ],
)
def test_a_line_that_says_too_little_is_refused(technician, laser, database, change, sentence):
    answer = technician.post(f"/machines/{laser.id}/data", data=POWER | change)
    assert answer.status_code == 422
    assert sentence in words(answer)
    with database.read() as session:
        assert data_of(session, [laser.id]) == []


def test_only_a_technician_of_the_area_adds_to_the_data_sheet(shop, another, laser):
    elsewhere = shop.technician(area=shop.area("Loft"))
    address = f"/machines/{laser.id}/data"
    for person in (elsewhere, shop.chief, shop.person("Ada Quill")):
        assert another.sign_in(person).post(address, data=POWER).status_code == 403
        another.post("/sign-out")


def test_a_line_of_a_data_sheet_is_never_changed_in_place(laser, fact, database):
    datum_id = fact(laser, "power", "60", "W")
    with pytest.raises(DatabaseError, match="never changed"), database.write() as session:
        session.get_one(MachineDatum, datum_id).value = "6"


def test_the_names_that_are_offered_are_inputs_of_methods():
    names = known_names()
    assert {"power", "wavelength", "rotation", "level", "magnitude"} <= names.keys()
    assert names["power"] == "W"


# --- filling in ------------------------------------------------------------------------------


def test_a_form_for_a_hazard_line_is_filled_in_the_units_of_the_method(
    technician, laser, fact, line
):
    fact(laser, "power", "0.06", "W")
    fact(laser, "wavelength", "10.6", "um")
    fact(laser, "colour", "3")
    page = technician.get(f"/calculations/laser.hazard_distance?hazard={line(laser).id}")
    assert (value_of(page, "power"), value_of(page, "wavelength")) == ("0.06", "10600")
    assert value_of(page, "duration") == ""
    assert "From the data sheet of Old Flicker: 10.6 um (rating plate)." in words(page)
    assert value_of(technician.get("/calculations/laser.hazard_distance"), "power") == ""


def test_a_datum_of_another_kind_of_unit_is_not_filled_in(technician, laser, fact, line):
    fact(laser, "diameter", "200", "kg")
    assert value_of(technician.get(f"{WHEEL}?hazard={line(laser).id}"), "diameter") == ""


def test_machines_that_differ_fill_in_nothing_until_one_is_named(
    shop, technician, laser, fact, line
):
    twin = shop.machine("Old Flicker Two")
    fact(laser, "diameter", "200", "mm")
    fact(twin, "diameter", "0.2", "m")
    fact(laser, "rotation", "2850", "1/min")
    fact(twin, "rotation", "1400", "1/min")
    address = f"{WHEEL}?hazard={line(laser, twin).id}"
    page = technician.get(address)
    assert (value_of(page, "diameter"), value_of(page, "rotation")) == ("200", "")
    assert "The machines differ; give the value that counts." in words(page)
    assert value_of(technician.get(f"{address}&machine={twin.id}"), "rotation") == "1400"
    assert value_of(technician.get(f"{address}&machine=999"), "rotation") == ""


def test_rows_get_one_for_each_machine(shop, technician, laser, fact, line):
    saw = shop.machine("Panel saw")
    fact(laser, "level", "70", "dB(A)")
    fact(saw, "level", "95", "dB(A)")
    page = technician.get(f"/calculations/noise.daily?hazard={line(laser, saw).id}")
    assert 'name="tasks-0-0" value="70"' in page.text
    assert 'name="tasks-1-0" value="95"' in page.text
    assert 'name="tasks-1-1" value=""' in page.text


def test_every_form_opens_over_a_machine_that_has_every_datum(technician, laser, fact, line):
    for name, unit in known_names().items():
        fact(laser, name, "1", unit)
    hazard = line(laser)
    for method in catalogue():
        page = technician.get(f"/calculations/{method}?hazard={hazard.id}")
        assert page.status_code == 200, method


# --- where a number came from ----------------------------------------------------------------


@pytest.fixture
def wheel(technician, laser, fact, line, database):
    """Keep the speed of a wheel as its form was filled in from the data sheet."""
    fact(laser, "diameter", "200", "mm")
    fact(laser, "rotation", "2850", "1/min")
    hazard = line(laser)

    def keep(**typed: str) -> HazardFinding:
        sent = sent_from(technician.get(f"{WHEEL}?hazard={hazard.id}")) | typed
        sent.pop("marked", None)
        assert technician.post(f"{WHEEL}?hazard={hazard.id}", data=sent).status_code == 200
        sent |= {"calculation": "wheel.speed"}
        assert technician.post(f"/hazards/{hazard.id}/findings", data=sent).status_code == 303
        return kept(database)[-1]

    return keep


def test_a_kept_finding_names_the_data_it_was_taken_from(wheel, laser, database, technician):
    row = wheel()
    with database.read() as session:
        ids = {each.name: each.id for each in data_of(session, [laser.id])}
    assert row.taken_from == ids
    page = words(technician.get(f"/hazards/{row.hazard_id}/findings"))
    assert "From the data sheet of Old Flicker: 2850 1/min (rating plate)." in page


def test_a_value_that_was_overwritten_is_not_taken_from_the_data_sheet(wheel):
    row = wheel(rotation="3000")
    assert set(row.taken_from) == {"diameter"}
    assert thaw_finding(row.content).inputs["rotation"].value == 3000


def test_a_value_with_another_unit_is_still_the_value_of_the_data_sheet(wheel):
    assert set(wheel(diameter="0.2 m").taken_from) == {"diameter", "rotation"}


def test_data_of_a_machine_that_the_draft_does_not_cover_are_not_taken(
    shop, technician, laser, fact, line, database
):
    other = fact(shop.machine("Panel saw"), "diameter", "200", "mm")
    hazard = line(laser)
    sent = {"diameter": "200", "rotation": "2850", "taken": [str(other), "x", "9" * 30]}
    sent |= {"calculation": "wheel.speed"}
    assert technician.post(f"/hazards/{hazard.id}/findings", data=sent).status_code == 303
    assert kept(database)[-1].taken_from == {}


def test_a_finding_is_stale_when_the_machine_has_another_value(wheel, laser, fact, technician):
    row = wheel()
    findings = f"/hazards/{row.hazard_id}/findings"
    assert "Stale" not in words(technician.get(findings))
    fact(laser, "rotation", "3000", "1/min")
    said = "It was computed from 2850 1/min (rotation); Old Flicker now has 3000 1/min."
    assert f"Stale. {said}" in words(technician.get(findings))
    assert f"A number is stale. {said}" in words(technician.get(f"/machines/{laser.id}"))
    assert "1 number is stale" in words(technician.get("/calculations"))
    listed = words(technician.get("/calculations/stale"))
    assert "Stale numbers (1)" in listed
    assert said in listed


def test_a_line_that_confirms_the_value_makes_nothing_stale(wheel, laser, fact, technician):
    row = wheel()
    fact(laser, "diameter", "0.2", "m")
    assert "Stale" not in words(technician.get(f"/hazards/{row.hazard_id}/findings"))
    fact(laser, "rotation", "3000", "1/min")
    fact(laser, "rotation", "2850", "1/min")
    assert "Stale" not in words(technician.get(f"/hazards/{row.hazard_id}/findings"))


def test_a_finding_that_was_taken_away_is_stale_nowhere(wheel, laser, fact, technician):
    row = wheel()
    fact(laser, "rotation", "3000", "1/min")
    ended = technician.post(f"/hazards/{row.hazard_id}/findings/{row.id}/end")
    assert ended.status_code == 303
    assert "Stale numbers (0)" in words(technician.get("/calculations/stale"))
    assert "A number is stale" not in words(technician.get(f"/machines/{laser.id}"))


def test_where_machines_agree_a_change_at_any_of_them_is_seen(
    shop, technician, laser, fact, line, database
):
    twin = shop.machine("Old Flicker Two")
    for machine in (laser, twin):
        fact(machine, "magnitude", "3.5", "m/s2")
    hazard = line(laser, twin)
    page = technician.get(f"/calculations/vibration.time_to?hazard={hazard.id}")
    sent = sent_from(page) | {"calculation": "vibration.time_to"}
    assert technician.post(f"/hazards/{hazard.id}/findings", data=sent).status_code == 303
    assert len(kept(database)[-1].taken_from) == 2
    fact(twin, "magnitude", "4", "m/s2")
    page = words(technician.get(f"/hazards/{hazard.id}/findings"))
    assert "Old Flicker Two now has 4 m/s2" in page


def test_nobody_who_does_not_write_is_told_of_stale_numbers(shop, wheel, laser, fact, another):
    wheel()
    fact(laser, "rotation", "3000", "1/min")
    plain = another.sign_in(shop.person("Ada Quill", roles=[Role.AUDITOR]))
    assert "stale" not in words(plain.get("/calculations"))
    assert plain.get("/calculations/stale").status_code == 403
