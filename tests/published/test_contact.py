"""Hot surfaces against the rows on record, and against cooling by Newton's law."""

import math

import numpy as np
import pytest

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.finding import Band

# EN ISO 13732-1, thresholds of long contact in degC (from memory; the only rows known well):
# one minute, ten minutes, eight hours.
ROWS = {
    "metal": (51, 48, 43),
    "coated_metal": (51, 48, 43),
    "ceramic": (56, 48, 43),
    "plastic": (60, 48, 43),
    "wood": (60, 48, 43),
}


def burn(material, temperature, time, **more):
    given = {"material": material, "temperature": temperature, "time": time, **more}
    return calculate("contact.burn", given)


@pytest.mark.parametrize(
    ("material", "time", "threshold"),
    [(m, t, row[i]) for m, row in ROWS.items() for i, t in enumerate(("1min", "10min", "8h"))],
)
def test_a_threshold_of_long_contact(material, time, threshold):
    outputs = burn(material, threshold, time).outputs
    assert outputs["lower"].value == outputs["upper"].value == threshold
    assert outputs["verdict"].value == "may burn"
    assert burn(material, threshold - 0.1, time).outputs["verdict"].value == "no burn expected"
    assert burn(material, threshold + 0.1, time).outputs["verdict"].value == "burn expected"


# P. Perkins, emc-pstc list, 1999 (original source unnamed, a weak page): time to a serious burn.
# No threshold of ours may call any of these harmless.
@pytest.mark.parametrize(
    ("temperature", "seconds"), [(52, 90), (55, 30), (57, 10), (60, 5), (63, 3), (66, 1.5), (68, 1)]
)
def test_nothing_known_to_burn_is_called_harmless_on_metal(temperature, seconds):
    assert burn("metal", temperature, seconds).outputs["verdict"].value != "no burn expected"


def test_a_short_touch_is_judged_by_the_stricter_longer_row_and_says_so():
    finding = burn("metal", 60, 1)
    assert finding.outputs["verdict"].value == "may burn"
    assert "upper" not in finding.outputs
    assert any("no confirmed threshold" in line for line in finding.assumptions)


def test_a_site_may_enter_the_thresholds_of_its_own_copy():
    verdicts = [
        burn("metal", t, 1, lower_threshold=65, upper_threshold=70).outputs["verdict"].value
        for t in (64, 67, 71)
    ]
    assert verdicts == ["no burn expected", "may burn", "burn expected"]


@pytest.mark.parametrize("material", ROWS)
def test_thresholds_fall_with_time(material):
    times = (0.5, 1, 10, 60, 61, 600, 601, 28_800)
    found = [burn(material, 20, time).outputs["lower"].value for time in times]
    assert found == sorted(found, reverse=True)


def test_thresholds_rise_as_less_heat_flows_into_the_skin():
    # Physics: thermal effusivity falls from metal over ceramic to plastics and wood.
    found = [
        burn(m, 20, 60).outputs["lower"].value for m in ("metal", "ceramic", "plastic", "wood")
    ]
    assert found == sorted(found)


def test_no_verdict_from_memory_gives_a_favourable_band():
    assert burn("wood", 20, 1).band is Band.NOT_JUDGED


def test_one_time_constant_takes_off_63_percent():
    # Newton's law: after one time constant 1/e of the difference is left.
    given = {"start": 120, "room": 20, "target": 20 + 100 / math.e, "time_constant": 3600}
    assert calculate("contact.cooling", given).outputs["time"].value == pytest.approx(3600)


def test_readings_of_an_exact_curve_give_back_its_time_constant():
    readings = [[t, 20 + 380 * math.exp(-t / 7200)] for t in range(0, 9000, 900)]
    given = {"start": 400, "room": 20, "target": 45, "readings": readings}
    outputs = calculate("contact.cooling", given).outputs
    assert outputs["time_constant"].value == pytest.approx(7200)
    assert outputs["time"].value == pytest.approx(7200 * math.log(380 / 25))


def test_without_a_start_the_wait_begins_at_the_last_reading():
    readings = [[0, 400], [3600, 20 + 380 * math.exp(-0.5)]]
    given = {"room": 20, "target": 45, "readings": readings}
    waiting = calculate("contact.cooling", given).outputs["time"].value
    assert waiting == pytest.approx(7200 * math.log(380 / 25) - 3600)


def test_a_time_constant_alone_does_not_say_how_hot_it_is():
    with pytest.raises(Refused, match="start is missing"):
        calculate("contact.cooling", {"room": 20, "target": 45, "time_constant": 7200})


def test_noisy_readings_agree_with_the_fit_of_numpy():
    # A second witness: numpy.polyfit on the logarithm.
    rng = np.random.default_rng(1)
    readings = [[t, 20 + 380 * math.exp(-t / 5000) + rng.normal(0, 2)] for t in range(0, 6000, 600)]
    slope = np.polyfit([t for t, _ in readings], [math.log(T - 20) for _, T in readings], 1)[0]
    given = {"start": 200, "room": 20, "target": 45, "readings": readings}
    found = calculate("contact.cooling", given).outputs["time_constant"].value
    assert found == pytest.approx(-1 / slope, rel=1e-9)


def test_cooling_ends_with_the_caution_that_it_is_no_permission():
    given = {"start": 100, "room": 20, "target": 45, "time_constant": 600}
    assert calculate("contact.cooling", given).cautions[-1].startswith("This is no permission")
