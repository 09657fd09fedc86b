"""Findings as drawings: what they say in words, in figures and in lines has to agree."""

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from assessments.calculate import calculate, plot_of
from assessments.document.frozen import freeze_finding, thaw_finding
from assessments.drawing import Axis, Drawing, width_of
from assessments.methods import catalogue, noise, uv
from assessments.rating import FIVE_BY_FIVE, Rating
from assessments.written import rounded

SVG = "{http://www.w3.org/2000/svg}"
TAGS = {"svg", "title", "desc", "path", "rect", "circle", "text"}

ROOM = {"generation": 5, "ventilation": 0.05, "volume": 60, "mixing_factor": 3, "time": 3600}
BEAM = {"power": 5, "wavelength": 1064, "duration": 10, "divergence": 2, "beam_diameter": 3}
SPECTRUM = [[240, 0.0], [254, 0.02], [270, 0.0], [310, 0.001], [365, 0.05], [420, 0.0]]
QUESTIONS = {
    "room": ("air.room", ROOM),
    "room with a limit": ("air.room", ROOM | {"agent": "styrene", "initial": 600}),
    "room far below its limit": ("air.room", ROOM | {"agent": "acetone", "ventilation": 5}),
    "room without a source": ("air.room", ROOM | {"generation": 0}),
    "room at the start": ("air.room", ROOM | {"time": 0}),
    "uncertain room": ("air.room", ROOM | {"generation": "normal(5,1)"}),
    "beam": ("laser.hazard_distance", BEAM),
    "beam from a point": ("laser.hazard_distance", BEAM | {"beam_diameter": 0}),
    "weak beam": ("laser.hazard_distance", BEAM | {"power": 1e-5}),
    "beam just over": ("laser.hazard_distance", BEAM | {"power": 5e-4, "beam_diameter": 3.5}),
    "uncertain beam": ("laser.hazard_distance", BEAM | {"divergence": "uniform(1,3)"}),
    "spectrum": ("uv.weighted", {"spectrum": SPECTRUM}),
    "two rows": ("uv.weighted", {"spectrum": [[300, 0.0], [310, 0.1]]}),
    "long spectrum": ("uv.weighted", {"spectrum": [[150 + i, 0.01] for i in range(500)]}),
    "day": ("noise.daily", {"tasks": [[85, 4], [90, 1.5]]}),
    "quiet day": ("noise.daily", {"tasks": [[40, 1]]}),
    "loud day": ("noise.daily", {"tasks": [[110, 1], [85, 0]]}),
    "day of many tasks": ("noise.daily", {"tasks": [[70 + i, 0.5] for i in range(12)]}),
    "uncertain day": ("noise.daily", {"tasks": [["normal(85,2)", 4], [90, 1.5]]}),
    "rating": ("rating.matrix", {"severity": 4, "likelihood": 2}),
    "large rating": ("rating.matrix", {"severity": 10, "likelihood": 1, "size": 10}),
    "one band": ("rating.matrix", {"severity": 1, "likelihood": 1, "scale": [[1, "All & any"]]}),
}
each_question = pytest.mark.parametrize("name", QUESTIONS)


def found(name):
    method, question = QUESTIONS[name]
    return calculate(method, question, regime="gb")


def tree(plot):
    return ElementTree.fromstring(plot.svg)  # noqa: S314 - our own text


def words(plot):
    return [each.text for each in tree(plot).iter(f"{SVG}text")]


@each_question
def test_a_plot_is_an_image_with_title_description_and_table(name):
    plot = plot_of(found(name))
    root = tree(plot)
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == plot.title
    assert root.find(f"{SVG}desc").text == plot.desc
    assert plot.rows
    assert {len(row) for row in plot.rows} == {len(plot.columns)}
    assert all(cell for row in plot.rows for cell in row)


@each_question
def test_a_plot_keeps_to_presentation_attributes_and_its_own_sheet(name):
    root = tree(plot_of(found(name)))
    height = float(root.get("viewBox").split()[3])
    assert {each.tag.removeprefix(SVG) for each in root.iter()} <= TAGS
    for each in root.iter():
        assert "style" not in each.attrib
        if x := each.get("x"):
            assert -1 <= float(x) <= 301
            assert -1 <= float(each.get("y")) <= height
        for at in re.findall(r"[-\d.]+", each.get("d", "")):
            assert math.isfinite(float(at))


@each_question
def test_no_words_of_a_plot_run_off_its_sheet(name):
    for each in tree(plot_of(found(name))).iter(f"{SVG}text"):
        width = width_of(each.text)
        left = float(each.get("x")) - {"middle": width / 2, "end": width}.get(
            each.get("text-anchor"), 0
        )
        assert left >= -3
        assert left + width <= 303


@each_question
def test_the_same_finding_gives_the_same_plot_also_once_frozen(name):
    finding = found(name)
    assert plot_of(finding) == plot_of(finding) == plot_of(thaw_finding(freeze_finding(finding)))


def test_only_methods_that_declare_a_plot_have_one():
    declared = [method.id for method in catalogue().values() if method.plot]
    assert declared == [
        "air.room",
        "laser.hazard_distance",
        "noise.daily",
        "rating.matrix",
        "uv.weighted",
    ]
    assert plot_of(calculate("noise.sum", {"levels": [80, 80]})) is None


def test_what_another_edition_or_another_program_found_is_not_drawn():
    finding = found("day")
    assert plot_of(replace(finding, edition="0")) is None
    assert plot_of(replace(finding, method="noise.of_old")) is None
    assert plot_of(replace(finding, inputs={})) is None
    assert plot_of(replace(finding, outputs={})) is None


def test_the_table_of_the_room_holds_the_results_of_the_method():
    plot = plot_of(found("room"))
    assert plot.columns == ("Time, min", "Concentration, mg/m³")
    for minutes, concentration in plot.rows:
        again = calculate("air.room", ROOM | {"time": float(minutes) * 60})
        assert rounded(again.outputs["concentration"].value) == concentration


def test_the_curve_of_the_room_runs_through_the_result():
    plot = plot_of(found("room"))
    curve = next(e for e in tree(plot).iter(f"{SVG}path") if e.get("stroke-width") == "2")
    points = [tuple(map(float, pair.split())) for pair in curve.get("d")[1:].split("L")]
    dot = tree(plot).find(f"{SVG}circle")
    x, y = float(dot.get("cx")), float(dot.get("cy"))
    assert np.interp(x, *zip(*points, strict=True)) == pytest.approx(y, abs=0.3)


def test_the_limit_of_the_room_is_drawn_or_named_as_far_away():
    assert "limit 430" in words(plot_of(found("room with a limit")))
    far = plot_of(found("room far below its limit"))
    assert "limit 1210, far above ↑" in words(far)
    assert "far above" in far.desc
    assert not any("limit" in each for each in words(plot_of(found("room"))))


def test_the_beam_meets_the_limit_at_the_hazard_distance():
    finding = found("beam")
    nohd = rounded(finding.outputs["nohd"].value)
    row = next(row for row in plot_of(finding).rows if row[0] == nohd)
    assert row == (nohd, rounded(finding.outputs["mpe_irradiance"].value), "1")


def test_the_irradiance_along_the_beam_is_its_power_over_its_area():
    # Area of a beam of 3 mm that widens by 2 mrad over 100 m: 203 mm across.
    row = next(row for row in plot_of(found("beam")).rows if row[0] == "100")
    assert row[1] == rounded(5 / (math.pi * 0.203**2 / 4))


def test_a_beam_below_the_limit_has_no_hazard_distance():
    plot = plot_of(found("weak beam"))
    assert "below the limit" in plot.desc
    assert not any("hazard distance" in each for each in words(plot))


def test_the_points_of_the_tasks_add_up_to_those_of_the_day():
    finding = found("day of many tasks")
    *tasks, day = plot_of(finding).rows
    assert len(tasks) == 8
    assert tasks[-1][0] == "5 smaller ones"
    assert sum(float(row[1]) for row in tasks) == pytest.approx(float(day[1]), rel=0.01)
    assert day[1] == rounded(
        noise.daily(tasks=QUESTIONS["day of many tasks"][1]["tasks"]).outputs["points"]
    )


def test_the_action_values_and_the_limit_of_noise_are_marked():
    # 80 dB over 8 h are 32 points, 85 dB 100 and 87 dB 158: HSE's exposure points.
    shown = words(plot_of(found("day")))
    for words_of_a_mark in ("lower action value 80 dB", "upper action value 85 dB", "limit 87 dB"):
        assert words_of_a_mark.replace(" dB", "\N{NO-BREAK SPACE}dB") in shown


def test_the_weight_in_the_table_of_the_spectrum_is_that_of_the_directive():
    # Directive 2006/25/EC, table 1.2: S is 0.5 at 254 nm and 0.00011 at 365 nm.
    weights = {row[0]: row[2] for row in plot_of(found("spectrum")).rows}
    assert weights["254"] == "0.5"
    assert weights["365"] == "1.1\xa0×\xa010⁻⁴"
    assert uv.weighted(spectrum=SPECTRUM, duration=None).outputs["governing"] == "effective"


def test_the_matrix_shows_every_score_and_the_rating_in_black():
    plot = plot_of(found("rating"))
    scores = sorted(int(each) for each in words(plot) if each.isdigit())
    products = [s * k for s in range(1, 6) for k in range(1, 6)]
    assert scores == sorted([*products, *range(1, 6), *range(1, 6)])
    (here,) = [e for e in tree(plot).iter(f"{SVG}text") if e.get("font-weight") == "700"]
    assert here.text == "8"
    step = FIVE_BY_FIVE.step(Rating(severity=4, likelihood=2))
    assert (step.name, "5 to 9", "8") in plot.rows


def test_ticks_are_round_and_within_the_axis():
    assert Axis(0, 97, 0, 1).ticks(5) == [0, 20, 40, 60, 80]
    assert Axis(180, 400, 0, 1).ticks(5) == [200, 250, 300, 350, 400]
    assert Axis(1e-2, 1e4, 0, 1, log=True).ticks(6) == pytest.approx(
        [1e-2, 1e-1, 1, 10, 100, 1e3, 1e4]
    )


def test_a_label_keeps_off_what_is_there():
    drawing = Drawing(100)
    drawing.label("first", [(10, 20, "start")])
    drawing.label("second", [(10, 20, "start"), (10, 60, "start")])
    drawing.label("third", [(100, 20, "start"), (100, 60, "start")], avoid=[(105, 18)])
    assert [box[3] for box in drawing.taken] == [24, 64, 64]


def test_words_in_a_drawing_are_escaped():
    plot = plot_of(found("one band"))
    assert "All & any 1 to 25" in words(plot)
    assert "& any" not in plot.svg
