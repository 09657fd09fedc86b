"""What must hold of dust and gas for any inputs, whatever the numbers are."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.methods.dust import cloud, layer
from assessments.methods.gas import oxygen

amounts = st.floats(1e-3, 1e3)
times = st.floats(0, 1e6)
more = st.floats(1, 10)


def concentration(depth=1.0, density=500.0, height=5.0, fraction=1.0):
    result = cloud(
        layer_depth=depth,
        bulk_density=density,
        cloud_height=height,
        duct_diameter=None,
        covered_fraction=fraction,
        minimum_explosible=None,
        dust=None,
        particle_density=None,
    )
    return result.outputs["concentration"]


def settled(depth, density, floor, covered, patch=None):
    result = layer(
        layer_depth=depth,
        bulk_density=density,
        floor_area=floor,
        covered_area=covered,
        largest_patch=patch,
    )
    return result.outputs["index"]


def left(room, volume=None, leak=None, changes=0.0, time=None):
    return oxygen(
        gas="nitrogen",
        room_volume=room,
        gas_volume=volume,
        cylinder_litres=None,
        pressure=None,
        liquid_litres=None,
        mass=None,
        leak_rate=leak,
        air_changes=changes,
        time=time,
        initial_oxygen=20.9,
    ).outputs


@settings(deadline=None)
@given(st.floats(0.001, 50), more)
def test_a_deeper_layer_makes_a_denser_cloud_and_a_higher_room_a_thinner_one(depth, factor):
    assert concentration(depth=depth * factor) == pytest.approx(factor * concentration(depth=depth))
    assert concentration(height=5 * factor) == pytest.approx(concentration() / factor)


@settings(deadline=None)
@given(st.floats(0.001, 100), st.floats(10, 1000), st.floats(1, 1e5), st.floats(0, 1e4), more)
def test_more_dust_never_improves_the_layer(depth, density, floor, covered, factor):
    index = settled(depth, density, floor, covered)
    assert settled(depth * factor, density, floor, covered) >= index
    assert settled(depth, density, floor, covered * factor) >= index
    assert settled(depth, density, floor, covered, covered / factor) <= index


@settings(deadline=None)
@given(amounts, amounts, st.floats(1e-6, 1), st.floats(0, 100), times, more)
def test_more_gas_never_leaves_more_oxygen(room, volume, leak, changes, time, factor):
    for name in ("oxygen", "lowest_oxygen"):
        once = left(room, volume, changes=changes, time=time)[name]
        assert left(room, volume * factor, changes=changes, time=time)[name] <= once + 1e-9
        slow = left(room, leak=leak, changes=changes, time=time)[name]
        assert left(room, leak=leak * factor, changes=changes, time=time)[name] <= slow + 1e-9
        assert left(room * factor, volume, changes=changes, time=time)[name] >= once - 1e-9


@settings(deadline=None)
@given(amounts, amounts, st.floats(1e-6, 1), st.floats(0, 100), times, st.floats(0, 100))
def test_more_air_never_leaves_less_oxygen(room, volume, leak, changes, time, added):
    for asked in ({"volume": volume}, {"leak": leak}, {"volume": volume, "leak": leak}):
        little = left(room, changes=changes, time=time, **asked)
        much = left(room, changes=changes + added, time=time, **asked)
        assert much["lowest_oxygen"] >= little["lowest_oxygen"] - 1e-9


@settings(deadline=None)
@given(amounts, amounts, st.floats(1e-6, 1), st.floats(0, 100), times)
def test_oxygen_stays_between_none_and_that_of_the_air(room, volume, leak, changes, time):
    found = left(room, volume, leak, changes, time)
    assert 0 <= found["lowest_oxygen"] <= found["oxygen"] <= 20.9
    assert found["oxygen"] == pytest.approx(20.9 * (1 - found["gas_fraction"] / 100))


@settings(deadline=None)
@given(amounts, amounts, st.floats(1e-6, 1), st.floats(0, 100))
def test_a_slow_leak_is_never_worse_than_the_same_gas_at_once(room, volume, leak, changes):
    slow = left(room, volume, leak, changes)["lowest_oxygen"]
    assert slow >= left(room, volume, changes=changes)["lowest_oxygen"] - 1e-9
