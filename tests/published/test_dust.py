"""Dust clouds and layers against figures in print."""

import pytest
from scipy import constants

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.finding import Band
from assessments.methods.dust import critical_depth, dust_class


def cloud(**given):
    return calculate("dust.cloud", {"layer_depth": 1, "bulk_density": 500} | given)


def layer(**given):
    asked = {"layer_depth": 1, "bulk_density": 200, "floor_area": 60, "covered_area": 2} | given
    return calculate("dust.layer", asked)


def values(finding):
    return {name: quantity.value for name, quantity in finding.outputs.items()}


# Eckhoff, Dust Explosions in the Process Industries, chapter 1 (from memory).
@pytest.mark.parametrize(("height", "printed"), [(5, 100), (1, 500)])
def test_a_millimetre_of_dust_lifted_through_a_room(height, printed):
    assert values(cloud(cloud_height=height))["concentration"] == pytest.approx(printed)


def test_the_same_layer_lifted_from_part_of_the_floor():
    # C = rho h F / H, the same chapter (from memory).
    part = cloud(cloud_height=5, covered_fraction=0.25)
    assert values(part)["concentration"] == pytest.approx(25)


def test_a_layer_round_the_wall_of_a_duct():
    # C = 4 rho h / D, the same chapter (from memory): 0.2 m, 1 mm of 500 kg/m3.
    assert values(cloud(duct_diameter=0.2))["concentration"] == pytest.approx(10_000)


# Eckhoff, page 9: distance between particles of 1 g/cm3 in diameters. Print gives whole
# diameters; the last row is printed the other way round, as 16 kg/m3 for 4 diameters.
@pytest.mark.parametrize(
    ("concentration", "printed", "within"),
    [(50, 27, 0.5), (500, 13, 0.5), (16_000, 4, 0.05)],
)
def test_the_distance_between_particles(concentration, printed, within):
    finding = cloud(layer_depth=concentration / 500, cloud_height=1, particle_density="1000kg/m3")
    assert values(finding)["concentration"] == pytest.approx(concentration)
    assert values(finding)["spacing"] == pytest.approx(printed, abs=within)


# Kuracina et al., Polymers 2023 15:4203 and 2021 13:3014; the last four NFPA 68, annex table
# (from memory). MEC [g/m3], Pmax [bar], Kst [bar m/s], class.
@pytest.mark.parametrize(
    ("dust", "explosible", "pmax", "kst", "named"),
    [
        ("pa12", 30, 6.76, 116.6, "St1"),
        ("pa12_fine", None, 6.78, 112.2, "St1"),
        ("uhmw_polyethylene", 60, 6.47, 97.1, "St1"),
        ("wood_flour", None, 10.5, 205, "St2"),
        ("wheat_flour", 60, 8.3, 87, "St1"),
        ("cornstarch", 60, 10.3, 202, "St2"),
        ("aluminium", 30, 12.4, 415, "St3"),
    ],
)
def test_a_dust_on_record(dust, explosible, pmax, kst, named):
    finding = cloud(cloud_height=5, dust=dust)
    assert (finding.limit.value if finding.limit else None) == explosible
    found = values(finding)
    assert (found["pmax"], found["kst"], found["dust_class"]) == (pmax, kst, named)
    assert finding.band is (Band.OVER_LIMIT if explosible else Band.NO_LIMIT)


def test_the_classes_of_dust_change_at_the_printed_bounds():
    # OSHA CPL 03-00-008 (from memory): St1 to 200, St2 to 300, St3 above.
    bounds = [dust_class(kst) for kst in (0, 0.1, 200, 200.1, 300, 300.1)]
    assert bounds == ["St0", "St1", "St1", "St2", "St2", "St3"]


def test_a_thin_layer_of_polyamide_is_explosible_though_the_layer_criterion_is_not_met():
    # 0.5 mm of 450 kg/m3 over 3 m (worked by hand): 75 g/m3, above the 30 g/m3 of Kuracina 2023.
    finding = cloud(layer_depth=0.5, bulk_density=450, cloud_height=3, dust="pa12")
    assert values(finding)["concentration"] == pytest.approx(75)
    assert (finding.band, finding.ratio) == (Band.OVER_LIMIT, pytest.approx(2.5))
    settled = layer(layer_depth=0.5, bulk_density=450)
    assert values(settled)["verdict"] == "criterion not met"
    assert settled.band is Band.NOT_JUDGED


def test_the_data_sheet_goes_before_the_dust_on_record():
    finding = cloud(cloud_height=5, dust="pa12", minimum_explosible=125)
    assert (finding.limit.value, finding.band) == (125, Band.NOT_JUDGED)


def test_at_the_explosible_concentration_the_cloud_is_already_to_be_acted_on():
    assert cloud(cloud_height=5, minimum_explosible=100).band is Band.ACTION


# OSHA memorandum of 21 April 2015: LD [in] = 1/32 x 75 / BD [lb/ft3]; the millimetres were
# worked from its metric form, 0.8 mm x 1200 / BD, which print rounds: hence 1 % to the inches.
@pytest.mark.parametrize(
    ("density", "depth"),
    [(1200, 0.8), (500, 1.92), (300, 3.2), (200, 4.8), (100, 9.6), (450, 2.133)],
)
def test_the_critical_depth_of_a_layer(density, depth):
    assert critical_depth(density) == pytest.approx(depth, abs=5e-4)
    pounds_per_cubic_foot = density / (constants.lb / constants.foot**3)
    inches = 1 / 32 * 75 / pounds_per_cubic_foot
    assert critical_depth(density) == pytest.approx(inches * constants.inch * 1000, rel=0.01)


# The same memorandum: each of the four parts alone deems a hazard. 200 kg/m3, so LD = 4.8 mm.
@pytest.mark.parametrize(
    ("given", "deemed"),
    [
        ({"layer_depth": 4.9, "covered_area": 3.1}, True),  # over 5 % of 60 m2
        ({"layer_depth": 4.8, "covered_area": 3.0}, False),
        ({"layer_depth": 5, "floor_area": 5000, "covered_area": 93}, True),  # one 1000 ft2 patch
        ({"layer_depth": 4.7, "floor_area": 5000, "covered_area": 93}, False),
        ({"layer_depth": 2.4, "covered_area": 6.1}, True),  # volume over LD x 5 %
        ({"layer_depth": 2.4, "covered_area": 5.9}, False),
        ({"layer_depth": 2.4, "floor_area": 5000, "covered_area": 187}, True),  # LD x 1000 ft2
        (
            {"layer_depth": 2.4, "floor_area": 5000, "covered_area": 187, "largest_patch": 90},
            False,
        ),
    ],
)
def test_the_four_parts_of_the_layer_criterion(given, deemed):
    finding = layer(**given)
    assert values(finding)["verdict"].startswith("dust hazard") is deemed
    assert finding.band is (Band.OVER_LIMIT if deemed else Band.NOT_JUDGED)
    assert finding.limit.source.title.startswith("OSHA memorandum")


@pytest.mark.parametrize(
    ("ask", "given", "field"),
    [
        (cloud, {"layer_depth": 200, "cloud_height": 0.1}, "layer_depth"),
        (cloud, {"layer_depth": 200, "duct_diameter": 0.3}, "layer_depth"),
        (cloud, {"cloud_height": 3, "duct_diameter": 0.3}, "cloud_height"),
        (layer, {"bulk_density": 1300}, "bulk_density"),
        (layer, {"largest_patch": 3}, "largest_patch"),
    ],
)
def test_dust_beyond_the_source_is_refused(ask, given, field):
    with pytest.raises(Refused) as refused:
        ask(**given)
    assert refused.value.field == field


@pytest.mark.parametrize("finding", [cloud(cloud_height=5), layer()], ids=["cloud", "layer"])
def test_dust_is_never_called_harmless_and_ends_with_no_permission(finding):
    assert finding.cautions[-1].startswith("This is no permission to enter, light or unload")
    assert finding.band is not Band.BELOW_ACTION
