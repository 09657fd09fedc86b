"""The words that people meet on a form and in a refusal, over every method there is."""

import re

import pytest

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.examples import questions
from assessments.method import Number, Rows, step
from assessments.methods import catalogue
from assessments.written import exact, rounded

METHODS = list(catalogue().values())
each_method = pytest.mark.parametrize("method", METHODS, ids=lambda method: method.id)
WITH_AN_E = re.compile(r"\d[eE][+-]?\d")


def labels(method):
    yield [each.words for each in method.inputs]
    for each in method.inputs:
        if isinstance(each, Rows):
            yield [column.words for column in each.columns]


@each_method
def test_every_label_is_a_word_and_stands_once(method):
    for group in labels(method):
        assert len(set(group)) == len(group)
        assert all(len(label) >= 3 for label in group)


@each_method
def test_no_range_is_written_with_an_e(method):
    for each in method.inputs:
        assert not WITH_AN_E.search(each.asked)


@each_method
def test_no_working_is_written_with_an_e_or_with_a_unit_of_1(method):
    for question in questions(method):
        for line in calculate(method.id, question).working[1:]:
            assert not WITH_AN_E.search(line)
            assert not re.search(r"\d 1\b(?! [xm])", line.replace(method.equation, ""))


def test_a_refusal_writes_a_million_in_full():
    with pytest.raises(Refused) as refused:
        calculate("dust.layer", {"floor_area": 2e6})
    calculation = refused.value.sentence.replace("\N{NO-BREAK SPACE}", " ")
    assert "1e+06" not in calculation
    number = Number("x", "m2", 1, 1e6, meaning="Anything", example=1)
    assert number.asked == "a number from 1 to 1\N{NO-BREAK SPACE}000\N{NO-BREAK SPACE}000 m2"


def test_a_step_writes_large_and_small_numbers_out():
    assert str(step("{:.4g} and {:g} of {} at {:.1%}", 123_456.0, 1e-5, "all", 0.5)) == (
        "123\N{NO-BREAK SPACE}500 and 0.00001 of all at 50.0%"
    )


@pytest.mark.parametrize(
    ("value", "typed", "found"),
    [
        (0.0, "0", "0"),
        (-0.05, "-0.05", "-0.05"),
        (9999.0, "9999", "10\N{NO-BREAK SPACE}000"),
        (123456.7, "123\N{NO-BREAK SPACE}457", "123\N{NO-BREAK SPACE}000"),
        (0.99999999, "1", "1"),
        (float("inf"), "inf", "inf"),
    ],
)
def test_a_number_is_written_to_six_figures_as_typed_and_to_three_as_found(value, typed, found):
    assert exact(value) == typed
    assert rounded(value) == found
