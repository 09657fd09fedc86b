"""Reading the inputs of a method: what is accepted, and how the rest is refused."""

import time

import pytest

from assessments.calculate import calculate
from assessments.errors import OutOfRange, Refused
from assessments.methods import find
from assessments.reading import read

WHEEL = find("wheel.speed")
DAY = find("noise.daily")
PROTECTOR = find("noise.protector")


@pytest.mark.parametrize(
    "given",
    [125, 125.0, "125", " 125 mm ", "0.125m", "12.5cm", "1.25e2", {"value": 0.125, "unit": "m"}],
)
def test_one_length_may_be_written_in_many_ways(given):
    values = read(WHEEL, {"diameter": given, "speed": 80}).values
    assert values["diameter"] == pytest.approx(125, rel=1e-12)


def test_cells_of_rows_may_carry_units():
    assert read(DAY, {"tasks": [["85 dB(A)", "90min"]]}).values["tasks"] == ((85.0, 1.5),)


def test_a_list_may_come_as_json_text_or_as_data():
    text = read(DAY, {"tasks": "[[85,4],[90,1.5]]"})
    assert text == read(DAY, {"tasks": [[85, 4], ["90", "1.5"]]})


@pytest.mark.parametrize("blank", [None, "", "  "])
def test_blank_means_absent(blank):
    assert read(WHEEL, {"diameter": 125, "speed": 80, "marked": blank}).values["marked"] is None
    with pytest.raises(Refused, match="diameter is missing: it must be a number from 1 to 3000 mm"):
        read(WHEEL, {"diameter": blank, "speed": 80})


@pytest.mark.parametrize(
    "tasks",
    [
        "",
        "[]",
        "[[]]",
        "[85,4]",
        "[[85,4,1]]",
        "[[85]]",
        "[[85,[4]]]",
        "[[85,null]]",
        "[[85,true]]",
        "[[85,NaN]]",
        "[[85,Infinity]]",
        "[[85,1e309]]",
        '[["1,5",4]]',
        '[["８５",4]]',
        "[[85,4]",
        "{'a':1}",
        "85",
        "null",
        '"[[85,4]]"',
        "[" * 50_000,
        "[[85,4]," * 1000,
        [[85, 4]] * 201,
        [["85", "4 kg"]],
        ["ab"],
        {"level": 85},
    ],
)
def test_rows_of_another_shape_are_refused_in_one_sentence_naming_them(tasks):
    with pytest.raises(Refused) as refused:
        read(DAY, {"tasks": tasks})
    assert "tasks" in refused.value.sentence
    assert "dB(A)" in refused.value.sentence or "to 24 h" in refused.value.sentence
    assert "\n" not in refused.value.sentence
    assert refused.value.sentence.count(". ") == 0


def test_a_list_of_ten_megabytes_is_refused_at_once():
    text = "[" + "[85,0.001]," * 1_000_000 + "[85,1]]"
    start = time.perf_counter()
    with pytest.raises(Refused, match="100000 characters"):
        read(DAY, {"tasks": text})
    assert time.perf_counter() - start < 0.05


def test_a_number_of_ten_megabytes_is_refused_at_once():
    start = time.perf_counter()
    with pytest.raises(Refused, match="diameter must be a number"):
        read(WHEEL, {"diameter": "1" * 10_000_000, "speed": 80})
    assert time.perf_counter() - start < 0.05


def test_an_unknown_name_is_refused_with_the_names_that_are_known():
    with pytest.raises(Refused, match=r"'dia' is not an input of wheel\.speed: diameter"):
        read(WHEEL, {"dia": 125, "speed": 80})


def test_alternatives_are_given_one_at_a_time():
    for given in ({}, {"speed": 80, "rotation": 1000}):
        with pytest.raises(Refused, match=r"Give exactly one of these: speed .* or rotation"):
            read(WHEEL, {"diameter": 125, **given})


def test_half_a_group_of_alternatives_is_not_enough():
    with pytest.raises(Refused, match=r"travel \(a number from 0 to 177\.8 cm\) is missing"):
        calculate("lifting.niosh", {"load": 5, "horizontal": 30, "vertical": 75})
    with pytest.raises(Refused, match="Give exactly one of these"):
        calculate("lifting.niosh", {"load": 5, "hm": 1, "horizontal": 30})


def test_an_input_that_its_choice_does_not_use_is_refused_not_ignored():
    with pytest.raises(Refused, match="nrr is used only when method is nrr"):
        read(PROTECTOR, {"method": "snr", "lceq": 100, "snr": 27, "nrr": 29})


def test_an_input_that_its_choice_needs_is_missed():
    with pytest.raises(Refused, match="h is missing: it must be a number from 0 to 60 dB"):
        read(PROTECTOR, {"method": "hml", "laeq": 98, "lceq": 100, "m": 24, "l": 15})


def test_a_default_is_used_and_printed_as_an_assumption():
    finding = calculate("rating.matrix", {"severity": 4, "likelihood": 2})
    assert finding.inputs["size"].value == 5
    assert "Steps on each side taken as 5: none was given." in finding.assumptions


@pytest.mark.parametrize("word", ["slots", "oval", 3, True, ["slot"], "x" * 10_000_000])
def test_a_choice_takes_only_its_own_words(word):
    with pytest.raises(Refused, match="shape must be one of slot, square, round"):
        calculate("guard.opening", {"opening": 10, "shape": word, "distance": 100})


def test_a_choice_is_known_in_capitals_and_by_the_signs_of_its_unit():
    given = {"method": "SNR", "lceq": 100, "snr": 27}
    assert read(PROTECTOR, given).values["method"] == "snr"
    for typed in ("mg/m³", "mg/m^3", "MG/M3"):
        given = {"unit": typed, "samples": [[1, 8]]}
        assert read(find("air.twa"), given).values["unit"] == "mg/m3"


def test_a_decimal_comma_is_refused_with_the_reason():
    with pytest.raises(Refused, match=r"takes a point before its decimals .* '12,5 cm'"):
        read(WHEEL, {"diameter": "12,5 cm", "speed": 80})


def test_a_choice_of_numbers_may_be_given_as_a_number():
    given = {"tasks": [[90, 8]], "criterion": 90, "exchange": 5, "threshold": 80}
    assert calculate("noise.dose", given).outputs["dose"].value == pytest.approx(100)


@pytest.mark.parametrize("given", [2.5, "2.5", "1e-9"])
def test_a_whole_number_has_no_fraction(given):
    with pytest.raises(Refused, match="severity must be a whole number from 1 to 10"):
        calculate("rating.matrix", {"severity": given, "likelihood": 2})


def test_out_of_range_says_what_was_given():
    with pytest.raises(OutOfRange, match="to 3000 mm; 4 m was given"):
        read(WHEEL, {"diameter": "4 m", "speed": 80})
    with pytest.raises(Refused) as refused:
        read(WHEEL, {"diameter": "4 m", "speed": 80})
    assert refused.value.field == "diameter"


def test_a_refused_cell_marks_the_list_that_it_stands_in():
    with pytest.raises(Refused) as refused:
        read(DAY, {"tasks": [[85, 4], [85, 25]]})
    assert refused.value.field == "tasks"
    assert refused.value.sentence.startswith("tasks row 2, duration, must be")
