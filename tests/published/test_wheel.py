"""Wheel speeds against the table of maximum rotations."""

import pytest

from assessments.calculate import calculate
from assessments.finding import Band

# Rotation in 1/min for peripheral speeds of 25, 32, 35, 40, 50, 63 and 80 m/s, as the makers'
# tables of EN 12413 print before rounding down (rows recomputed; whole numbers).
SPEEDS = (25, 32, 35, 40, 50, 63, 80)
TABLE = {
    100: (4775, 6112, 6685, 7639, 9549, 12032, 15279),
    115: (4152, 5314, 5813, 6643, 8304, 10463, 13286),
    125: (3820, 4889, 5348, 6112, 7639, 9626, 12223),
    150: (3183, 4074, 4456, 5093, 6366, 8021, 10186),
    200: (2387, 3056, 3342, 3820, 4775, 6016, 7639),
    230: (2076, 2657, 2906, 3321, 4152, 5231, 6643),
    250: (1910, 2445, 2674, 3056, 3820, 4813, 6112),
    300: (1592, 2037, 2228, 2546, 3183, 4011, 5093),
    350: (1364, 1746, 1910, 2183, 2728, 3438, 4365),
}
ROWS = [(d, v, n) for d, row in TABLE.items() for v, n in zip(SPEEDS, row, strict=True)]


@pytest.mark.parametrize(("diameter", "speed", "rotation"), ROWS)
def test_a_cell_of_the_table(diameter, speed, rotation):
    found = calculate("wheel.speed", {"diameter": diameter, "speed": speed})
    assert found.outputs["rotation"].value == pytest.approx(rotation, abs=0.51)


def test_the_mark_of_a_common_wheel_lies_just_below_its_speed():
    # A 125 mm wheel of 80 m/s is marked 12 200 1/min, rounded down (common practice).
    found = calculate("wheel.speed", {"diameter": 125, "rotation": 12_200, "marked": 80})
    assert found.outputs["speed"].value == pytest.approx(79.85, abs=0.005)
    assert found.band is Band.BELOW_ACTION


def test_a_spindle_that_turns_faster_than_the_wheel_bears_is_over_the_limit():
    found = calculate("wheel.speed", {"diameter": 125, "rotation": 12_300, "marked": 80})
    assert found.band is Band.OVER_LIMIT


def test_surface_feet_per_minute_of_the_american_formula():
    # General Broach, section 7.2: sfpm = pi D[in] n / 12; one inch at 1000 1/min is 261.8.
    found = calculate("wheel.speed", {"diameter": "1in", "rotation": 1000})
    assert found.outputs["speed"].value / 0.3048 * 60 == pytest.approx(261.8, abs=0.05)
