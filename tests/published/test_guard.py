"""Guards against makers' worked examples of ISO 13855 and the table of ISO 13857."""

import pytest

from assessments.calculate import calculate
from assessments.errors import Refused


def guard(**given):
    outputs = calculate("guard.distance", {"approach": "normal", **given}).outputs
    return outputs["separation"].value, outputs["speed"].value, outputs["constant"].value


def test_the_sick_example_of_a_fine_curtain():
    # SICK C4000, operating instructions 8009861/WA65, page 41, and miniTwin4, page 24:
    # 290 ms + 30 ms, 14 mm: 640 mm at 2000 mm/s, so 1600 x 0.32 = 512 mm.
    assert guard(resolution=14, stop_time="290ms", response_time="30ms") == (
        pytest.approx(512),
        1600,
        0,
    )


# wenglor SG4, manual, page 31: 5.7 ms + 20 ms.
@pytest.mark.parametrize(
    ("resolution", "printed"),
    [
        (47, 891.12),  # coarser than 40 mm: C = 850 mm
        (98, 1241.12),  # coarser than 70 mm: C = 1200 mm
        (30, 179.4),  # 2000 x 0.0257 + 8 x 16
    ],
)
def test_the_wenglor_examples(resolution, printed):
    found = guard(resolution=resolution, stop_time="20ms", response_time="5.7ms")
    assert found[0] == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(("beams", "constant"), [(1, 1200), (2, 850), (3, 850), (4, 850)])
def test_single_beams_have_the_constant_of_the_makers_tables(beams, constant):
    # Leuze and Datalogic manuals: S = 1600 T + 850 for 2 to 4 beams, + 1200 for one.
    assert guard(beams=beams, stop_time=0.1, response_time=0.05) == (
        pytest.approx(240 + constant),
        1600,
        constant,
    )


@pytest.mark.parametrize(("height", "constant"), [(0, 1200), (500, 1000), (875, 850), (1000, 850)])
def test_a_flat_field_has_the_constant_of_its_height(height, constant):
    # Datalogic and Schmersal SLC manuals: S = 1600 T + (1200 - 0.4 H), C at least 850 mm.
    found = guard(approach="parallel", resolution=30, stop_time=0.2, response_time=0, height=height)
    assert found == (pytest.approx(320 + constant), 1600, pytest.approx(constant))


def test_a_flat_field_may_not_be_crept_under():
    # The same manuals: H at least 15 (d - 50).
    coarse = {"approach": "parallel", "resolution": 70, "stop_time": 0.2, "response_time": 0}
    guard(height=300, **coarse)
    with pytest.raises(Refused, match="15"):
        guard(height=299, **coarse)


def test_a_field_at_more_than_30_degrees_counts_as_upright():
    # Datalogic: an angle above 30 degrees as normal, up to 30 as parallel approach.
    given = {"resolution": 30, "stop_time": 0.1, "response_time": 0.02}
    upright = guard(**given)
    flat = guard(approach="parallel", height=300, **given)
    assert guard(approach="angled", angle=31, height=300, **given) == upright
    assert guard(approach="angled", angle=30, height=300, **given) == flat
    assert guard(approach="angled", height=300, **given) == max(upright, flat)


@pytest.mark.parametrize(
    ("stop_time", "separation", "speed"),
    [
        (0.001, 100, 2000),  # never closer than 100 mm
        (0.05, 100, 2000),
        (0.0501, 100.2, 2000),
        (0.25, 500, 2000),  # exactly 500 mm still at 2000 mm/s
        (0.2501, 500, 1600),  # beyond: 1600 mm/s, but at least 500 mm
        (0.3125, 500, 1600),
        (0.32, 512, 1600),
    ],
)
def test_both_sides_of_each_breakpoint_of_the_two_speeds(stop_time, separation, speed):
    # SICK miniTwin4, page 24, states the rule; 14 mm makes the constant nought.
    found = guard(resolution=14, stop_time=stop_time, response_time=0)
    assert found == (pytest.approx(separation), speed, 0)


@pytest.mark.parametrize(
    ("resolution", "constant"), [(10, 0), (14, 0), (40, 208), (40.1, 850), (70, 850), (70.1, 1200)]
)
def test_both_sides_of_each_breakpoint_of_the_resolution(resolution, constant):
    found = guard(resolution=resolution, stop_time=0.1, response_time=0)
    assert found[2] == pytest.approx(constant)


def test_two_hand_control_with_its_own_constant():
    # ISO 13855:2010, clause 8 (from memory): S = 1600 T + 250.
    assert guard(constant=250, stop_time=0.1, response_time=0) == (pytest.approx(410), 1600, 250)


def test_something_has_to_say_what_the_device_sees():
    with pytest.raises(Refused, match="resolution is missing"):
        guard(stop_time=0.1, response_time=0)


# ISO 13857, table 4, people of 14 years and above (zt-grassberger.at, which agrees with the
# table of EN 294): largest opening of the row in mm; slot, square, round.
TABLE_4 = [
    (4, 2, 2, 2),
    (6, 10, 5, 5),
    (8, 20, 15, 5),
    (10, 80, 25, 20),
    (12, 100, 80, 80),
    (20, 120, 120, 120),
    (30, 850, 120, 120),
    (40, 850, 200, 120),
    (120, 850, 850, 850),
]


@pytest.mark.parametrize("row", range(len(TABLE_4)))
@pytest.mark.parametrize(("column", "shape"), [(1, "slot"), (2, "square"), (3, "round")])
def test_a_cell_of_table_4_holds_up_to_its_upper_end(row, column, shape):
    largest, needed = TABLE_4[row][0], TABLE_4[row][column]
    smallest = TABLE_4[row - 1][0] + 0.01 if row else 0.1
    for opening in (smallest, largest):
        given = {"opening": opening, "shape": shape, "distance": needed}
        outputs = calculate("guard.opening", given).outputs
        assert outputs["needed"].value == needed
        assert outputs["verdict"].value == "beyond reach"
        closer = calculate("guard.opening", given | {"distance": needed - 0.01}).outputs
        assert closer["verdict"].value == "within reach"


@pytest.mark.parametrize(("length", "needed"), [(65, 200), (65.1, 850)])
def test_a_short_slot_stops_at_the_thumb(length, needed):
    # ISO 13857, table 4, footnote: 200 mm for a slot of at most 65 mm.
    given = {"opening": 25, "shape": "slot", "distance": 300, "length": length}
    assert calculate("guard.opening", given).outputs["needed"].value == needed


def test_a_wider_opening_than_the_table_is_refused():
    with pytest.raises(Refused, match=r"from 0\.1 to 120 mm"):
        calculate("guard.opening", {"opening": 121, "shape": "slot", "distance": 900})
