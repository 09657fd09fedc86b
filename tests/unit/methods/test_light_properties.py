"""What must hold for any laser, ultraviolet source or welding filter, whatever the numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.calculate import calculate
from assessments.finding import Band
from assessments.light import actinic, laser_limits, laser_pulses, shades
from assessments.methods import laser, laser_distance, laser_eyewear, uv, welding

# The tables round at their seams: at 50 us and 1064 nm the limit jumps by 7 %.
SEAM = 1.08

wavelengths = st.floats(180, 1e6) | st.floats(180, 1400)
durations = st.floats(-13, 4.4).map(lambda power: 10**power)
powers = st.floats(1e-6, 1e4)
divergences = st.floats(0.01, 1000)
diameters = st.floats(0, 100)
growth = st.floats(1, 100)
editions = st.sampled_from(["directive", "icnirp_2013"])
tissues = st.sampled_from(["eye", "skin"])
quick = settings(max_examples=60, deadline=None)


def exposure(wavelength, duration, tissue="eye", angle=None, edition="directive"):
    given = {"wavelength": wavelength, "duration": duration, "tissue": tissue, "irradiance": None}
    return float(laser.mpe(**given, source_angle=angle, edition=edition).outputs["mpe_exposure"])


def beam(power=1.0, divergence=1.0, diameter=3.0, wavelength=532, duration=10):
    return laser_distance.hazard_distance(
        power=power,
        wavelength=wavelength,
        duration=duration,
        divergence=divergence,
        beam_diameter=diameter,
        mode="continuous",
        pulse_duration=None,
        repetition=None,
        edition="directive",
    ).outputs


def eyewear(power=5.0, diameter=3.0, wavelength=532, duration=10.0):
    return laser_eyewear.eyewear(
        power=power,
        beam_diameter=diameter,
        irradiance=None,
        exposure=None,
        wavelength=wavelength,
        duration=duration,
        mode=None,
        pulses=None,
        edition="directive",
    ).outputs


@given(wavelengths, durations, growth, tissues, editions)
@quick
def test_a_longer_exposure_may_bring_more_energy_and_less_irradiance(
    wavelength, duration, longer, tissue, edition
):
    later = min(duration * longer, 30_000)
    short = exposure(wavelength, duration, tissue, edition=edition)
    long = exposure(wavelength, later, tissue, edition=edition)
    assert long * SEAM >= short
    assert long / later <= short / duration * SEAM


@given(st.floats(400, 1400), durations, st.floats(0, 1000), st.floats(0, 1000), editions)
@quick
def test_a_wider_source_is_never_limited_more(wavelength, duration, one, other, edition):
    narrow, wide = sorted((one, other))
    limits = [exposure(wavelength, duration, angle=a, edition=edition) for a in (narrow, wide)]
    assert limits[1] >= limits[0] * (1 - 1e-12)


@given(wavelengths, durations, editions)
@quick
def test_the_limit_of_the_eye_is_the_lower_of_the_two_that_hold(wavelength, duration, edition):
    both = [
        laser_limits.eye_thermal(wavelength, duration, edition=edition),
        laser_limits.eye_photochemical(wavelength, duration),
    ]
    assert exposure(wavelength, duration, edition=edition) == min(float(each) for each in both)
    assert np.isfinite(exposure(wavelength, duration, edition=edition))


@given(st.floats(180, 400) | st.floats(1500, 1e6), durations)
@quick
def test_outside_the_retina_s_range_skin_and_eye_have_one_limit(wavelength, duration):
    skin, eye = (exposure(wavelength, duration, tissue) for tissue in ("skin", "eye"))
    assert skin == eye or wavelength == 400


# Edges of wavelength at which the formulas of the tables meet, and 5e-4 past each.
@pytest.mark.parametrize("wavelength", [450, 500, 700, 1050, 1150, 1200])
@pytest.mark.parametrize("duration", [1e-12, 1e-8, 1e-3, 0.25, 10, 100, 30_000])
def test_where_the_standard_is_continuous_the_limit_is(wavelength, duration):
    below, above = (exposure(wavelength + d, duration) for d in (-1e-6, 1e-6))
    # CA reaches 5.01 at 1050 nm where the next row has 5; CC reaches 7.94 at 1200 nm, then 8. The
    # rows of 1.5e-3, 2.7e5 and 5e-2 begin at 1050 nm at twice the limit before.
    steps = {1050: 2.01, 1200: 1.01}
    assert max(above / below, below / above) <= steps.get(wavelength, 1 + 1e-6)


@pytest.mark.parametrize("wavelength", [405, 532, 650, 808, 1064])
@pytest.mark.parametrize("edge", [1e-11, 1e-9, 1.8e-5, 5e-5, 10, 100])
def test_at_the_edges_of_time_the_limit_moves_by_rounding_only(wavelength, edge):
    # 2.7e4 t^0.75 begins at 1.52e-4 and ends at 4.8e-3 where the next row has 5e-3. At 10 s the
    # photochemical limit of 100 J/m2 begins beside a thermal one of 101 J/m2.
    before, after = (exposure(wavelength, edge * factor) for factor in (1 - 1e-9, 1))
    assert max(before / after, after / before) < SEAM


@given(wavelengths, st.floats(1e-6, 10), st.floats(1e-12, 1e-6), st.floats(0.1, 1e6), editions)
@quick
def test_a_train_never_has_a_higher_limit_than_its_mean_or_its_pulse(
    wavelength, duration, pulse, rate, edition
):
    pulse = min(pulse, 1 / rate, duration)
    mean = laser_pulses.mean_irradiance(wavelength, duration, pulse, rate, edition)
    assert 0 < mean <= exposure(wavelength, duration, edition=edition) / duration * (1 + 1e-12)
    assert mean <= exposure(wavelength, pulse, edition=edition) * rate * (1 + 1e-12)


@given(powers, divergences, diameters, wavelengths, growth)
@quick
def test_a_beam_reaches_further_with_power_and_less_far_with_spread(
    power, divergence, diameter, wavelength, more
):
    base = beam(power, divergence, diameter, wavelength)["nohd"]
    assert beam(power * more, divergence, diameter, wavelength)["nohd"] >= base
    assert beam(power, divergence * more, diameter, wavelength)["nohd"] <= base
    assert beam(power, divergence, diameter * more, wavelength)["nohd"] <= base
    assert base >= 0


@given(powers, diameters, wavelengths, durations)
@quick
def test_averaging_over_the_pupil_never_reaches_further_than_a_thin_beam(
    power, diameter, wavelength, duration
):
    found = beam(power, 1.0, diameter, wavelength, duration if duration != 0.25 else 10)
    assert 0 <= found["averaged"] <= beam(power, 1.0, 0.0, wavelength, duration)["nohd"] + 1e-9


@given(st.floats(0.01, 100), st.floats(0, 1), st.floats(0, 90), growth)
@quick
def test_scattered_light_reaches_with_the_root_of_the_power(power, reflectance, angle, more):
    def reach(power, reflectance=reflectance, angle=angle):
        return laser_distance.diffuse_distance(
            power=power,
            wavelength=532,
            duration=10,
            reflectance=reflectance,
            angle=angle,
            mode="continuous",
            pulse_duration=None,
            repetition=None,
            edition="directive",
        ).outputs["distance"]

    assert reach(power * more) == pytest.approx(reach(power) * more**0.5)
    assert reach(power) <= reach(power, reflectance=1, angle=0)


@given(
    st.floats(1e-3, 100), st.floats(0.5, 50), st.floats(1, 50), st.sampled_from([445, 808, 1064])
)
@quick
def test_eyewear_is_asked_for_more_by_power_and_for_less_by_width(
    power, diameter, more, wavelength
):
    base = eyewear(power, diameter, wavelength)
    stronger = eyewear(power * more, diameter, wavelength)
    wider = eyewear(power, diameter * more, wavelength)
    for name in ("optical_density", "scale_number"):
        assert stronger[name] >= base[name] >= wider[name] >= 0
    assert base["scale_number"] >= base["optical_density"]
    assert float(base["scale_number"]).is_integer()


@given(st.floats(1e-6, 1e3), st.floats(1e-6, 1e3), growth)
@quick
def test_more_ultraviolet_never_leaves_more_time(effective, uva, more):
    def time(effective, uva):
        given = {"effective_irradiance": effective, "uva_irradiance": uva, "duration": None}
        return float(uv.permitted_time(**given).outputs["permitted_time"])

    assert time(effective * more, uva) <= time(effective, uva)
    assert time(effective, uva * more) <= time(effective, uva)
    assert time(effective * more, uva * more) == pytest.approx(time(effective, uva) / more)


@given(st.lists(st.floats(0, 10), min_size=3, max_size=12), st.floats(0, 5), growth)
@quick
def test_spectra_add_up_and_scale(values, offset, more):
    def weigh(levels):
        rows = tuple((200.0 + offset + 17 * n, level) for n, level in enumerate(levels))
        return actinic.irradiances(rows)

    ones = [1.0] * len(values)
    sums = weigh([level + 1 for level in values])
    for part, one, total in zip(weigh(values), weigh(ones), sums, strict=True):
        assert part + one == pytest.approx(total, rel=1e-9, abs=1e-12)
    for part, scaled in zip(weigh(values), weigh([v * more for v in values]), strict=True):
        assert scaled == pytest.approx(part * more, rel=1e-9, abs=1e-9)


@given(st.floats(180, 400))
def test_a_weight_lies_between_those_of_the_nanometres_around_it(wavelength):
    low, high = np.floor(wavelength), np.ceil(wavelength)
    around = sorted((float(actinic.weight(low)), float(actinic.weight(high))))
    assert around[0] - 1e-15 <= actinic.weight(wavelength) <= around[1] + 1e-15


@given(st.floats(0.1, 10), st.floats(0.1, 100))
@quick
def test_twice_the_distance_leaves_four_times_the_time(at, distance):
    def time(distance):
        given = {"irradiance": 1.0, "at": at, "wavelength": 300, "duration": 1, "source_size": None}
        return uv.lamp(**given, distance=distance).outputs["permitted_time"]

    assert time(2 * distance) == pytest.approx(4 * time(distance))


@given(st.floats(1, 20))
def test_a_shade_turned_into_a_transmittance_and_back_is_the_same(number):
    through = welding.transmittance(shade=number, transmittance=None).outputs["transmittance"]
    back = welding.transmittance(shade=None, transmittance=through).outputs["shade"]
    assert back == pytest.approx(number)


TABLES = [(table, process) for table, rows in shades.TABLES.items() for process in rows]


@pytest.mark.parametrize(("table", "process"), TABLES)
def test_a_table_gets_darker_and_has_no_gap(table, process):
    rows = shades.TABLES[table][process]
    values = np.linspace(rows[0].low, rows[-1].high, 2001)
    numbers, _, _ = shades.darkest(rows, values)
    assert not np.isnan(numbers).any()
    assert (np.diff(numbers) >= 0).all()
    assert all(row.suggested is None or row.suggested >= row.shade for row in rows)


@pytest.mark.parametrize("edition", ["directive", "icnirp_2013"])
@pytest.mark.parametrize("tissue", ["eye", "skin"])
def test_many_draws_at_once_give_what_each_of_them_gives(edition, tissue):
    draws = np.random.default_rng(1)
    wavelength = 180 * (1e6 / 180) ** draws.random(200)
    wavelength[:100] = draws.uniform(180, 1500, 100)
    duration = 10 ** draws.uniform(-13, 4.4, 200)
    given = {"tissue": tissue, "source_angle": None, "irradiance": 1.0, "edition": edition}
    outputs = laser.mpe(wavelength=wavelength, duration=duration, **given).outputs
    for place in range(200):
        one = laser.mpe(wavelength=wavelength[place], duration=duration[place], **given).outputs
        for name, values in outputs.items():
            assert values[place] == pytest.approx(float(one[name]), rel=1e-12), name


QUARTER = {"power": 1, "divergence": 1, "beam_diameter": 3, "duration": 0.25}


@given(st.floats(400, 700))
@quick
def test_a_quarter_of_a_second_is_printed_as_an_assumption(wavelength):
    found = calculate("laser.hazard_distance", QUARTER | {"wavelength": wavelength})
    assert any("turn away" in line for line in found.assumptions)


@pytest.mark.parametrize("given", [{"class": "2"}, {"class": "3B"}])
def test_an_emission_limit_is_called_no_classification(given):
    found = calculate("laser.class_limit", {"wavelength": 532} | given)
    assert any("not a classification" in line for line in found.cautions)


POINTER = {"wavelength": 650, "duration": 1, "tissue": "eye"}


def test_an_irradiance_is_judged_and_never_favourably_by_a_table_from_memory():
    below = calculate("laser.mpe", POINTER | {"irradiance": 15})
    assert below.band is Band.BELOW_ACTION
    assert below.ratio == pytest.approx(15 / 18)
    assert calculate("laser.mpe", POINTER | {"irradiance": 19}).band is Band.OVER_LIMIT
    blink = POINTER | {"irradiance": 15, "duration": 0.25}
    assert calculate("laser.mpe", blink).band is Band.NOT_JUDGED
    long = POINTER | {"irradiance": 5, "duration": 100}
    assert calculate("laser.mpe", long).band is Band.NOT_JUDGED
    newer = POINTER | {"irradiance": 15, "edition": "icnirp_2013"}
    assert calculate("laser.mpe", newer).band is Band.NOT_JUDGED
    assert calculate("laser.mpe", POINTER | {"irradiance": 15}, regime="us").band is Band.NO_LIMIT
