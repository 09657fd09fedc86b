"""What holds for all air methods whatever the numbers, checked on many invented ones."""

import time

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments import agents
from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.finding import Band
from assessments.method import NO_PERMISSION
from assessments.methods import find
from assessments.methods.air_common import molar_volume
from assessments.uncertainty import DRAWS

concentrations = st.floats(0.001, 1000)
positive = st.floats(0.1, 100)
rows = st.lists(st.tuples(concentrations, st.floats(0.01, 1.4)), min_size=1, max_size=10)


def outputs(method, /, **asked):
    return {name: each.value for name, each in calculate(method, asked).outputs.items()}


def listed(samples):
    return [list(each) for each in samples]


@given(rows, st.randoms(use_true_random=False))
def test_the_order_of_the_tasks_does_not_matter(samples, random):
    shuffled = random.sample(samples, len(samples))
    first = outputs("air.twa", samples=listed(samples))
    again = outputs("air.twa", samples=listed(shuffled))
    assert again["twa_8h"] == pytest.approx(first["twa_8h"])
    assert again["average"] == pytest.approx(first["average"])
    one, other = (
        outputs("air.mixture", components=listed(each))["index"] for each in (samples, shuffled)
    )
    assert one == pytest.approx(other)


@given(rows, st.integers(0, 9), st.floats(0.01, 0.99))
def test_splitting_a_task_changes_nothing(samples, place, share):
    place %= len(samples)
    value, duration = samples[place]
    split = [*samples]
    split[place : place + 1] = [(value, share * duration), (value, (1 - share) * duration)]
    for method, output in (("air.twa", "twa_8h"), ("air.stel", "twa_15min")):
        whole, parts = (outputs(method, samples=listed(each))[output] for each in (samples, split))
        assert parts == pytest.approx(whole)


@given(rows, st.integers(0, 9), st.floats(1.001, 10))
def test_more_in_the_air_is_never_less_exposure(samples, place, factor):
    place %= len(samples)
    value, duration = samples[place]
    worse = [*samples]
    worse[place] = (factor * value, duration)
    for method, output in (("air.twa", "twa_8h"), ("air.stel", "twa_15min")):
        before, after = (outputs(method, samples=listed(each))[output] for each in (samples, worse))
        assert after >= before * (1 - 1e-12)


@given(st.lists(st.tuples(concentrations, st.floats(1, 40)), min_size=1, max_size=8))
def test_the_worst_quarter_of_an_hour_is_found(samples):
    """Slide the window in steps of a second and a bit, as a logger would."""
    ends = np.cumsum([minutes for _, minutes in samples])
    starts = ends - [minutes for _, minutes in samples]
    slid = [
        sum(
            value * max(0.0, min(end, at + 15) - max(start, at)) / 15
            for (value, _), start, end in zip(samples, starts, ends, strict=True)
        )
        for at in np.linspace(-15, ends[-1], 400)
    ]
    found = outputs("air.stel", samples=listed(samples))["twa_15min"]
    assert found >= max(slid) * (1 - 1e-9)
    assert found <= max(value for value, _ in samples) * (1 + 1e-9)


def test_a_sample_longer_than_the_window_is_never_favourable():
    asked = {"samples": [[10, 30]], "agent": "propan-2-ol"}
    finding = calculate("air.stel", asked)
    assert finding.band == Band.NOT_JUDGED
    assert calculate("air.stel", asked | {"samples": [[501, 30]]}).band == Band.OVER_LIMIT


@given(concentrations, st.floats(2, 300), st.floats(-20, 60), st.floats(80, 110))
def test_ppm_and_milligrams_turn_into_each_other(value, mass, celsius, pressure):
    same = {"molar_mass": mass, "temperature": celsius, "pressure": pressure}
    there = outputs("air.convert", **{"from": "ppm", "value": value}, **same)["value"]
    back = outputs("air.convert", **{"from": "mg/m3", "value": there}, **same)["value"]
    assert back == pytest.approx(value)


@pytest.mark.parametrize(("celsius", "kilopascal"), [(20, 101.325), (25, 101.325), (-5, 90)])
def test_the_molar_volume_is_that_of_another_unit_library(celsius, kilopascal):
    units = pint.UnitRegistry()
    kelvin = units.Quantity(celsius + 273.15, "kelvin")
    volume = (units.molar_gas_constant * kelvin / units.Quantity(kilopascal, "kPa")).to("l/mol")
    assert molar_volume(celsius, kilopascal) == pytest.approx(volume.magnitude, rel=1e-9)


def test_the_unit_of_a_result_is_that_of_the_question():
    for unit in ("ppm", "mg/m3"):
        finding = calculate("air.twa", {"samples": [[1, 8]], "unit": unit})
        assert finding.outputs["twa_8h"].unit == unit
        assert finding.inputs["samples"].unit == f"{unit}, h"
    for start, end in (("ppm", "mg/m3"), ("mg/m3", "ppm")):
        asked = {"from": start, "value": 1, "agent": "acetone", "temperature": 20}
        finding = calculate("air.convert", asked)
        assert (finding.inputs["value"].unit, finding.outputs["value"].unit) == (start, end)
    with pytest.raises(Refused, match="ppm"):
        calculate("air.twa", {"samples": [["1 mg/m3", 8]]})
    same = outputs("air.twa", samples=[["1000 ug/m3", 8]], unit="mg/m3")
    assert same["twa_8h"] == pytest.approx(1.0)


@pytest.mark.parametrize("name", ["pvc", "PVC", "Polyvinyl chloride"])
def test_a_polymer_is_known_by_its_names(name):
    found = outputs("air.polymer_release", mass=1, polymer=name, volume=60)
    assert found == outputs("air.polymer_release", mass=1, polymer="pvc", volume=60)


def test_a_polymer_that_is_not_on_record_is_refused():
    with pytest.raises(Refused, match="polymer must be one of pvc"):
        calculate("air.polymer_release", {"mass": 1, "polymer": "abs", "volume": 60})


ROOM = {"generation": 5, "ventilation": 0.05, "volume": 60, "mixing_factor": 2, "time": 900}


@given(st.sampled_from(["generation", "time", "mixing_factor"]), st.floats(1, 10))
def test_more_source_or_time_or_worse_mixing_means_more_in_the_room(name, factor):
    before = outputs("air.room", **ROOM)["concentration"]
    worse = ROOM | {name: min(20, factor * ROOM[name]) if "mix" in name else factor * ROOM[name]}
    assert outputs("air.room", **worse)["concentration"] >= before * (1 - 1e-12)


@given(st.sampled_from(["ventilation", "volume"]), st.floats(1, 10))
def test_more_air_or_room_means_less_in_the_room(name, factor):
    before = outputs("air.room", **ROOM)["concentration"]
    after = outputs("air.room", **ROOM | {name: factor * ROOM[name]})["concentration"]
    assert after <= before * (1 + 1e-12)


@given(positive, positive, st.floats(1, 20), st.floats(1.01, 1000))
def test_the_purge_time_is_the_room_run_backwards(volume, ventilation, factor, ratio):
    room = {"volume": volume, "ventilation": ventilation, "mixing_factor": factor}
    purge = outputs("air.purge_time", start=1000, target=1000 / ratio, **room)["time"]
    run = outputs("air.room", generation=0, initial=1000, time=min(purge, 1e7), **room)
    assert run["concentration"] == pytest.approx(1000 / ratio, rel=1e-6)


def test_a_target_above_the_start_is_refused():
    room = {"volume": 60, "ventilation": 0.1, "mixing_factor": 1}
    assert outputs("air.purge_time", start=5, target=5, **room)["time"] == 0
    with pytest.raises(Refused, match="target"):
        calculate("air.purge_time", room | {"start": 5, "target": 5.01})


@given(positive, st.floats(0.05, 2), st.floats(0.01, 1))
def test_it_is_always_worse_close_to_the_source(generation, radius, speed):
    asked = {"generation": generation, "ventilation": 0.05, "volume": 500, "time": 600}
    found = outputs("air.two_zone", near_radius=radius, air_speed=speed, **asked)
    assert found["near"] > found["far"]
    assert found["far_then"] <= found["far"] * (1 + 1e-9)
    assert found["near_then"] <= found["near"] * (1 + 1e-9)


def test_a_near_field_larger_than_the_room_is_refused():
    asked = {"generation": 5, "ventilation": 0.05, "near_radius": 3, "air_speed": 0.1}
    with pytest.raises(Refused, match="volume"):
        calculate("air.two_zone", asked | {"volume": 50, "time": 60})
    with pytest.raises(Refused, match="together"):
        calculate("air.two_zone", asked | {"volume": 50})


POOL = {"agent": "propan-2-ol", "area": 0.06, "air_speed": 0.25, "temperature": 20}


@given(st.sampled_from(["area", "air_speed", "temperature"]), st.floats(1, 3))
def test_a_larger_warmer_windier_pool_evaporates_faster(name, factor):
    for model in ("rmp", "open_surface"):
        before, after = (
            outputs("air.evaporation", **each, model=model)["rate"]
            for each in (POOL, POOL | {name: factor * POOL[name]})
        )
        assert after >= before * (1 - 1e-12)


def test_the_higher_of_the_models_is_answered():
    for speed in (0.1, 0.5, 0.6, 3):
        found = outputs("air.evaporation", **POOL | {"air_speed": speed})
        assert found["rate"] == max(found["rmp_rate"], found["open_surface_rate"])
        assert found["rate"] == found[f"{found['governing']}_rate"]


@pytest.mark.parametrize("agent", ["carbon monoxide", "xylene", "quartz", "unobtainium"])
def test_what_is_not_on_record_is_refused_and_named(agent):
    with pytest.raises(Refused, match="agent"):
        calculate("air.evaporation", POOL | {"agent": agent})


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("ISOPROPYL ALCOHOL", "propan-2-ol"),
        ("iso-propanol", "propan-2-ol"),
        ("Propan 2 ol", "propan-2-ol"),
        (" ipa ", "propan-2-ol"),
        ("EtOH", "ethanol"),
        ("ethyl_alcohol", "ethanol"),
        ("CO2", "carbon dioxide"),
        ("xylol", "xylene"),
        ("67 63 0", "propan-2-ol"),
    ],
)
def test_an_agent_is_known_however_it_is_typed(typed, name):
    assert agents.find(typed).name == name


def test_a_formula_that_two_substances_share_is_known_by_its_capitals_only():
    assert agents.find("CO").name == "carbon monoxide"
    assert agents.find("Co").cas == "7440-48-4"
    for typed in ("co", "cO"):
        with pytest.raises(Refused, match=f"no physical data of '{typed}' are on record"):
            agents.find(typed)


def test_no_two_agents_have_the_same_name():
    names = [
        name for agent in agents.everyone() for name in {agent.name, agent.cas, *agent.also} - {""}
    ]
    assert len(names) == len(set(names))


def test_an_agent_is_known_by_every_name_and_number():
    for each in agents.everyone():
        for name in (each.name, each.cas, *each.also):
            assert not name or agents.known(name) == each
            assert len(name) <= 2 or agents.known(name.upper()) == each  # Co is not CO
    assert agents.known("") is None
    assert agents.known(None) is None


mixtures = st.lists(
    st.tuples(st.floats(0.001, 0.1), st.floats(0.5, 5), st.floats(6, 50)), min_size=1, max_size=8
)


@given(mixtures, st.randoms(use_true_random=False))
def test_a_mixture_burns_between_the_limits_of_its_parts(components, random):
    found = outputs("air.flammable_mixture", components=listed(components))
    shuffled = random.sample(components, len(components))
    assert outputs("air.flammable_mixture", components=listed(shuffled)) == pytest.approx(found)
    assert min(c[1] for c in components) <= found["lel"] * (1 + 1e-9)
    assert found["lel"] <= max(c[1] for c in components) * (1 + 1e-9)
    halved = [[share / 2, *rest] for share, *rest in components]
    assert outputs("air.flammable_mixture", components=halved) == pytest.approx(found)


@given(st.floats(0.01, 10), st.floats(0.01, 10))
def test_a_hood_further_away_needs_more_air(distance, more):
    asked = {"area": 0.04, "length": 0.6, "perimeter": 4, "capture_velocity": 0.5}
    for hood in ("plain", "flanged", "slot", "flanged_slot", "canopy"):
        near, far = (
            outputs("air.hood_flow", hood=hood, distance=min(10, x), **asked)["flow"]
            for x in (distance, distance + more)
        )
        assert far >= near


@pytest.mark.parametrize("hood", ["plain", "slot", "canopy", "booth"])
def test_a_hood_asks_for_the_size_it_needs(hood):
    with pytest.raises(Refused, match="is missing: hood"):
        calculate("air.hood_flow", {"hood": hood, "capture_velocity": 0.5})


def test_a_source_far_from_its_hood_is_warned_of():
    asked = {"hood": "plain", "area": 0.04, "capture_velocity": 0.5}
    near, far = (calculate("air.hood_flow", asked | {"distance": x}).cautions for x in (0.33, 0.34))
    assert not any("no longer holds" in line for line in near)
    assert any("no longer holds" in line for line in far)


def test_methods_about_entering_or_lighting_end_with_the_same_words():
    for method in ("air.purge_time", "air.flammable_fraction", "air.flammable_mixture"):
        assert find(method).cautions[-1] == NO_PERMISSION


def test_modelled_values_declare_no_favourable_band():
    for name in ("room", "two_zone", "purge_time", "evaporation", "polymer_release", "dilution"):
        assert Band.BELOW_ACTION not in find(f"air.{name}").bands


def test_a_modelled_value_below_its_limit_is_not_judged():
    tiny = ROOM | {"generation": 1e-6, "agent": "propan-2-ol"}
    finding = calculate("air.room", tiny)
    assert finding.limit.source.confirmed
    assert finding.band == Band.NOT_JUDGED


# 250 ms for a room with all of its inputs uncertain, drawing, percentiles and judging included
# in the whole question; the bare model has to stay far below.
def test_a_hundred_thousand_rooms_take_less_than_a_quarter_of_a_second():
    rng = np.random.default_rng(1)
    draws = {name: value * rng.uniform(0.9, 1.1, DRAWS) for name, value in ROOM.items()}
    draws |= {"initial": rng.uniform(0, 1, DRAWS), "background": rng.uniform(0, 1, DRAWS)}
    best = min(_seconds(lambda: find("air.room")(**draws, agent=None)) for _ in range(3))
    assert best < 0.25
    asked = {name: f"normal({value},{value / 50})" for name, value in ROOM.items()}
    assert min(_seconds(lambda: calculate("air.room", asked)) for _ in range(3)) < 0.25


def _seconds(run):
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


@settings(max_examples=20)
@given(st.integers(0, 10_000))
def test_draws_are_calculated_as_one_by_one(seed):
    rng = np.random.default_rng(seed)
    draws = {name: value * rng.uniform(0.5, 2, 3) for name, value in ROOM.items()}
    many = find("air.room")(**draws, initial=None, background=None, agent=None).outputs
    for place in range(3):
        one = {name: value[place] for name, value in draws.items()}
        single = find("air.room")(**one, initial=None, background=None, agent=None).outputs
        for name, value in single.items():
            assert many[name][place] == pytest.approx(value)
    samples = tuple((rng.uniform(0, 9, 3), rng.uniform(1, 9, 3)) for _ in range(4))
    many = find("air.stel")(unit="ppm", samples=samples, agent=None).outputs["twa_15min"]
    for place in range(3):
        one = tuple((value[place], minutes[place]) for value, minutes in samples)
        single = find("air.stel")(unit="ppm", samples=one, agent=None).outputs["twa_15min"]
        assert many[place] == pytest.approx(float(single))
