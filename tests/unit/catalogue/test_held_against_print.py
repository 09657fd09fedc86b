"""The catalogue held against law, standards and guidance, the source named beside each."""

from __future__ import annotations

import pytest

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
