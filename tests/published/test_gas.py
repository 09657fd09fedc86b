"""Oxygen after a release of gas, against worked examples in print."""

import math

import pytest
from chemicals import MW

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.finding import Band
from assessments.methods.gas import MOLAR_MASS


def ask(**given):
    return calculate("gas.oxygen", {"gas": "nitrogen"} | given)


def values(finding):
    return {name: quantity.value for name, quantity in finding.outputs.items()}


# University of Oxford policy S4/03, appendix 1: five 10 l vessels, each losing 0.15 l a day,
# doubled for age, 36 m3, 0.4 changes of air an hour. Printed: 0.044 m3/h, share 0.003, 0.06 %.
# The second is a university guideline 2.70.20c after it (seen on a document-sharing page): two
# vessels of 0.22 and one of 0.49 l a day, 682 litres to one, 108 m3, 6 changes.
@pytest.mark.parametrize(
    ("litres_a_day", "expansion", "room", "changes", "leak", "share", "loss"),
    [
        (5 * 0.15, 700, 36, 0.4, (0.044, 5e-4), (0.003, 5e-4), (0.06, 0.005)),
        (2 * 0.22 + 0.49, 682, 108, 6, (0.053, 5e-4), (0.000082, 5e-7), (0.0017, 5e-5)),
    ],
)
def test_a_slow_loss_in_a_ventilated_room(
    litres_a_day, expansion, room, changes, leak, share, loss
):
    cubic_metres_an_hour = 2 * litres_a_day * expansion / 1000 / 24
    assert cubic_metres_an_hour == pytest.approx(leak[0], abs=leak[1])
    found = values(
        ask(
            room_volume=room,
            leak_rate=f"{cubic_metres_an_hour}m3/h",
            air_changes=changes,
            initial_oxygen=21,
        )
    )
    assert found["gas_fraction"] / 100 == pytest.approx(share[0], abs=share[1])
    assert 21 - found["oxygen"] == pytest.approx(loss[0], abs=loss[1])


# Cambridge Physics, calculation sheet (seen on a document-sharing page): one litre of liquid
# nitrogen as 0.68 m3 in 1 m3, from 20.9 %: 6.7 % is left; 0.2 l bring it to 18 %.
def test_a_litre_of_liquid_nitrogen_in_a_cubic_metre():
    assert values(ask(room_volume=1, gas_volume=0.68))["oxygen"] == pytest.approx(6.7, abs=0.05)
    assert values(ask(room_volume=1, gas_volume=0.2 * 0.68))["oxygen"] == pytest.approx(18, abs=0.1)


# Worked by hand from the two formulas, 10 m3 in 30 m3: displaced 13.933 %, and mixed on the way
# out 14.976 %. The displaced figure is the BCGA worst case that Oxford quotes; it is the stricter.
def test_gas_pushes_air_out_before_it_mixes():
    found = values(ask(room_volume=30, gas_volume=10))["oxygen"]
    assert found == pytest.approx(13.933, abs=5e-4)
    assert found < 20.9 * math.exp(-10 / 30) == pytest.approx(14.976, abs=5e-4)


# 0.05 in 3 m3/min, worked by hand with 3 m3/min of fresh air in: 20.557 %. Here, as in Oxford's
# formula, the 3 m3/min go out, gas included, which leaves a little less.
def test_a_steady_leak_is_taken_on_the_stricter_side():
    found = values(ask(room_volume=60, leak_rate="0.05m3/min", air_changes=3))["oxygen"]
    assert found == pytest.approx(20.9 * (1 - 0.05 / 3))
    assert 20.557 - 0.01 < found < 20.557


# Liquid to gas: nitrogen 682 to 700 l for one (university guides), argon about 840 (from its
# density, worked by hand).
@pytest.mark.parametrize(("gas", "litres"), [("nitrogen", 700), ("argon", 840)])
def test_a_spilt_liquid_becomes_gas(gas, litres):
    found = values(ask(gas=gas, room_volume=10, liquid_litres=1))
    assert found["gas_fraction"] == pytest.approx(litres / 1000 / 10 * 100)


def test_a_kilogram_of_carbon_dioxide_is_the_printed_volume():
    # chemicals, Chemical('carbon dioxide', T=293.15, P=101325): 0.54659 m3/kg, a real gas.
    found = values(ask(gas="carbon_dioxide", room_volume=100, mass=1))
    assert found["gas_fraction"] == pytest.approx(0.547, abs=5e-4)


@pytest.mark.parametrize(
    ("gas", "cas"),
    [
        ("nitrogen", "7727-37-9"),
        ("argon", "7440-37-1"),
        ("helium", "7440-59-7"),
        ("carbon_dioxide", "124-38-9"),
    ],
)
def test_a_second_witness_for_the_molar_masses(gas, cas):
    assert MOLAR_MASS[gas] == pytest.approx(MW(cas), abs=0.001)


def test_a_cylinder_is_emptied_to_the_pressure_of_the_air():
    # V = V_cylinder p / p_air: 50 l at 200 bar.
    found = values(ask(room_volume=100, cylinder_litres=50, pressure=200))
    assert found["gas_fraction"] == pytest.approx(50 * 200 / 1.01325 / 1000)


# 29 CFR 1910.146(b): oxygen below 19.5 % is a hazardous atmosphere.
def test_oxygen_below_the_printed_bound_is_over_the_limit():
    deficient = ask(room_volume=100, gas_volume=6.8)
    assert (deficient.limit.value, deficient.band) == (19.5, Band.OVER_LIMIT)
    assert deficient.ratio > 1
    above = ask(room_volume=100, gas_volume=6.6)
    assert (above.band, above.ratio < 1) == (Band.NOT_JUDGED, True)


# EH40: 5000 ppm over 8 h and 15 000 ppm over 15 min (from memory). At 1.5 % oxygen is still 20.6.
@pytest.mark.parametrize(
    ("volume", "band"), [(0.4, Band.NOT_JUDGED), (0.6, Band.ACTION), (1.6, Band.OVER_LIMIT)]
)
def test_carbon_dioxide_is_judged_by_its_poison_and_not_by_oxygen(volume, band):
    for gas in ("carbon_dioxide", "argon_carbon_dioxide"):
        finding = ask(gas=gas, room_volume=100, gas_volume=volume)
        assert finding.band is band
        assert any("poisonous" in caution for caution in finding.cautions)
    assert values(ask(room_volume=100, gas_volume=1.5))["oxygen"] == pytest.approx(20.6, abs=0.05)


def test_the_air_recovers_afterwards_but_the_worst_moment_is_judged():
    finding = ask(room_volume=10, gas_volume=2, air_changes=6, time="2h")
    found = values(finding)
    assert found["lowest_oxygen"] == pytest.approx(20.9 * 0.8)
    assert found["oxygen"] == pytest.approx(20.9 * (1 - 0.2 * math.exp(-12)))
    assert finding.band is Band.OVER_LIMIT


def test_a_leak_ends_when_the_cylinder_is_empty():
    once = values(ask(room_volume=60, gas_volume=5))
    slow = values(ask(room_volume=60, gas_volume=5, leak_rate=0.001))
    assert slow["lowest_oxygen"] == pytest.approx(once["lowest_oxygen"])
    part = values(ask(room_volume=60, gas_volume=5, leak_rate=0.001, time=2500))
    assert part["gas_fraction"] == pytest.approx(100 * 2.5 / 60)


def test_a_release_larger_than_the_room_leaves_nothing():
    assert values(ask(room_volume=1, gas_volume=5))["oxygen"] == 0


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({}, "gas_volume"),
        ({"leak_rate": 0.001}, "time"),
        ({"gas": "carbon_dioxide", "cylinder_litres": 50, "pressure": 60}, "cylinder_litres"),
        ({"gas": "helium", "liquid_litres": 5}, "liquid_litres"),
        ({"gas": "other", "mass": 5}, "mass"),
        ({"gas": "oxygen", "gas_volume": 5}, "gas"),
        ({"gas_volume": 5, "mass": 5}, "gas_volume"),
        ({"cylinder_litres": 50}, "pressure"),
    ],
)
def test_what_cannot_be_known_is_refused(given, field):
    with pytest.raises(Refused) as refused:
        ask(**({"room_volume": 60} | given))
    assert refused.value.field == field


def test_it_ends_with_no_permission_to_enter():
    last = ask(room_volume=60, gas_volume=0).cautions[-1]
    assert last.startswith("This is no permission to enter, light or unload")
