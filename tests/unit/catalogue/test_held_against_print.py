"""The catalogue held against law, standards and guidance, the source named beside each."""

from __future__ import annotations

import math

import pytest

from assessments.calculate import calculate
from assessments.catalogue import kind, kinds
from assessments.catalogue.kind import Basis, Lone, RunMode, Unit
from assessments.document.signs import words
from assessments.hierarchy import Level

STATUTORY = [
    pytest.param(control, check, id=f"{each.key}-{check.title}")
    for each in kinds().values()
    for control in each.controls
    for check in control.checks
    if check.basis is Basis.STATUTORY
]
MONTHS_AT_MOST = {  # of the law that the source of a check begins with
    # "at least once every 14 months": regulation 9(2)(a). Schedule 4 is its shorter list.
    "COSHH Regulations 2002, regulation 9(2)(a)": 14,
    "COSHH Regulations 2002, regulation 9 and schedule 4": 14,
    # Respirators "at suitable intervals"; about a month by the approved code L5 (from memory).
    "COSHH Regulations 2002, regulation 9(3)": 1,
    "COSHH Regulations 2002, regulations 7 and 9(3)": 1,
    # Lifting accessories every 6 months, other lifting equipment 12: regulation 9(3)
    # (from memory).
    "LOLER 1998, regulation 9": 12,
    # The written scheme decides: regulations 8 and 9. The catalogue's start is a year.
    "PSSR 2000, regulations 8 and 9": 12,
}


@pytest.mark.parametrize(("control", "check"), STATUTORY)
def test_a_statutory_interval_is_no_longer_than_its_law_allows(control, check):
    allowed = [most for law, most in MONTHS_AT_MOST.items() if check.source.startswith(law)]
    assert allowed, check.source
    assert check.unit is Unit.MONTH
    assert check.every <= allowed[0]


# COSHH schedule 4 (Great Britain): 6 months, not 14, where metal articles are dry-ground,
# abraded or polished by mechanical power in any room for more than 12 hours in any week.
@pytest.mark.parametrize(
    "key", ["bench-grinder", "sander", "air-bench", "welding-bench", "mig-welder", "plasma-cutter"]
)
def test_where_metal_is_ground_the_shorter_interval_is_explained(key):
    notes = " ".join(check.note for each in kind(key).controls for check in each.checks)
    assert "12 h" in notes
    assert "6 months" in notes.lower() or "six months" in notes.lower()


# COSHH approved code of practice L5, regulation 9 (from memory), and HSG258: a visual look at
# local exhaust ventilation at least about weekly, between the thorough examinations.
@pytest.mark.parametrize(
    ("key", "control"),
    [
        (each.key, control)
        for each in kinds().values()
        for control in each.controls
        if any(check.basis is Basis.STATUTORY and check.every == 14 for check in control.checks)
    ],
    ids=lambda each: getattr(each, "key", each),
)
def test_extraction_is_looked_at_between_its_examinations(key, control):
    del key
    assert any(check.unit in (Unit.USE, Unit.DAY, Unit.WEEK) for check in control.checks)


# HSE safety alert STSU1-2019: all welding fume, mild steel too, needs extraction indoors
# whatever the duration, and respiratory protection for what is left.
@pytest.mark.parametrize("key", ["mig-welder", "welding-bench", "plasma-cutter"])
def test_welding_fume_is_answered_by_extraction_and_by_respirators(key):
    fume = next(each.key for each in kind(key).hazards if "fume" in each.kind.lower())
    levels = {each.level for each in kind(key).controls if fume in each.answers}
    assert {Level.ENGINEERING, Level.PPE} <= levels


# Woodworking guidance of HSE on training: regular operators at least every 5 years, those who
# use a machine now and then every 3. A refresher that runs later than 5 years follows neither.
@pytest.mark.parametrize("key", ["panel-saw", "pillar-drill", "sander", "metal-bandsaw"])
def test_a_refresher_of_a_machine_comes_within_five_years(key):
    assert (kind(key).induction.refresher_months or 0) in range(1, 61)


# CLEAPSS, as quoted by a kiln maintainer: pupils and students do not operate kilns.
def test_a_kiln_is_fired_by_technicians():
    assert kind("electric-kiln").use.run_mode is RunMode.TECHNICIAN_RUN


# Common practice, as rules of several universities on lone work list such machines (read as
# excerpts): power saws and hot work never alone.
@pytest.mark.parametrize("key", ["panel-saw", "metal-bandsaw", "mig-welder", "plasma-cutter"])
def test_nobody_saws_or_cuts_with_an_arc_alone(key):
    assert kind(key).use.lone is Lone.NEVER


# The referents of ISO 7010 (from memory): a sign on a hazard must mean that hazard.
MEANT_BY = {
    "W004": ("laser", "beam"),
    "W027": ("light", "ultraviolet", "arc", "glare", "optical", "sparks"),
    "W005": ("radiation", "field", "x-ray"),
    "W006": ("magnet", "field"),
}


def test_a_sign_on_a_hazard_means_that_hazard():
    for each in kinds().values():
        for hazard in each.hazards:
            if hazard.sign in MEANT_BY:
                meant = MEANT_BY[hazard.sign]
                said = f"{hazard.kind} {hazard.key}".lower()
                assert any(word in said for word in meant), (each.key, hazard.key, hazard.sign)
                assert words(hazard.sign)


# EN 60825-1: Class 2 ends at 1 mW (from memory); it is what the eye may meet for 0.25 s through
# a pupil of 7 mm. Directive 2006/25/EC, annex II, gives the limit that the method uses.
@pytest.mark.parametrize("key", ["scanner-desktop", "scanner-handheld"])
def test_a_scanner_starts_from_the_power_at_which_class_2_ends(key):
    light = next(each for each in kind(key).hazards if each.key == "light")
    given = {each.id: each.inputs for each in light.methods}
    limit = calculate("laser.mpe", given["laser.mpe"]).outputs["mpe_irradiance"].value
    power_w = limit * math.pi * 0.0035**2
    assert power_w == pytest.approx(0.001, rel=0.03)
    assert float(given["laser.hazard_distance"]["power"]) == pytest.approx(power_w, rel=0.03)


# Polymers 15(21):4203, 2023: polyamide 12 powder explodes from 30 g/m3 upwards.
@pytest.mark.parametrize("key", ["powder-bed-printer", "powder-depowdering"])
def test_the_layer_that_the_induction_warns_of_is_enough_for_an_explosion(key):
    explosion = next(each for each in kind(key).hazards if each.key == "explosion")
    given = next(each.inputs for each in explosion.methods if each.id == "dust.cloud")
    assert calculate("dust.cloud", given).outputs["concentration"].value > 30
    assert float(given["layer_depth"]) == 0.2  # two sheets of office paper of 0.1 mm
    assert "two sheets of paper" in kind("powder-bed-printer").induction.content


# CLEAPSS guidance on laser cutters, as quoted by a Scottish college: PVC and polyurethane foam
# are not cut, even with extraction; the interlock is not overridden; nobody leaves a running cut.
def test_the_open_access_laser_follows_the_guidance_for_schools():
    laser = kind("co2-laser-open-access")
    refused = " ".join(each.material for each in laser.nevers)
    assert "PVC" in refused
    assert "Polyurethane foam" in refused
    beam = [each for each in laser.controls if "beam" in each.answers]
    assert any(each.level is Level.ENGINEERING and "lid" in each.title.lower() for each in beam)
    assert laser.use.lone is Lone.NEVER
    assert any("watch" in each.words for each in laser.induction.items)


# Epilepsy Society's page: 3 to 30 flashes a second trigger seizures, in some people up to 60.
def test_the_flashing_scanner_names_the_rates_that_matter():
    flash = next(each for each in kind("scanner-handheld").controls if each.key == "slow-flash")
    assert "3 to 60" in flash.title
