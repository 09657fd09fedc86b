"""Readings: what was typed as a number, and how far it lies outside of what passes."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import BadInput
from app.hazards.readings import Range, number, number_or_none, range_of

NUMBERS = st.decimals(-(10**6), 10**6, places=3)


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("0.52", "m/s", "0.52"),
        ("0,52", "m/s", "0.52"),
        (" 0.52 m/s ", "m/s", "0.52"),
        ("0,52m/s", "m/s", "0.52"),
        (".5", "", "0.5"),
        ("−4", "°C", "-4"),
        ("+12", "", "12"),
        ("1,234", "", "1.234"),  # a thousand is typed without a separator
    ],
)
def test_a_reading_is_a_number_with_a_comma_or_a_point(typed, unit, value):
    assert number(typed, unit=unit) == Decimal(value)


@pytest.mark.parametrize(
    "typed", ["", " ", "high", "1e3", "NaN", "inf", "1 000", "1.000,5", "0.5 Pa", "--1", "٣", "1."]
)
def test_what_is_no_plain_number_is_refused_and_not_guessed(typed):
    with pytest.raises(BadInput, match="is not a reading in m/s"):
        number(typed, unit="m/s")
    assert number_or_none(typed, unit="m/s") is None


@given(value=NUMBERS)
def test_comma_and_point_mean_the_same(value):
    words = format(value, "f")
    assert number(words) == number(words.replace(".", ",")) == value


@given(value=NUMBERS, low=NUMBERS, high=NUMBERS)
def test_a_reading_passes_exactly_within_its_range_ends_included(value, low, high):
    low, high = min(low, high), max(low, high)
    wanting = Range(unit="s", low=low, high=high).wanting(value)
    assert (wanting == "") == (low <= value <= high)
    if value < low:
        assert f"{low - value} s under the least" in wanting
    if value > high:
        assert f"{value - high} s over the most" in wanting


@pytest.mark.parametrize(
    ("measure", "low", "high", "words"),
    [
        ("m/s", "0.50", "", "at least 0.50 m/s"),
        ("s", "", "0,5", "at most 0.5 s"),
        ("Pa", "120", "260", "120 to 260 Pa"),
        ("dB(A)", "", "", ""),
    ],
)
def test_a_range_is_said_as_people_say_it(measure, low, high, words):
    found = range_of(measure=measure, low=low, high=high)
    assert found is not None
    assert found.words == words
    assert found.bounded == bool(words)


def test_nothing_is_measured_where_no_unit_and_no_end_is_named():
    assert range_of(measure="", low="", high="") is None


def test_a_range_in_which_nothing_passes_is_refused():
    with pytest.raises(BadInput, match="the least is over the most"):
        range_of(measure="s", low="2", high="1")
