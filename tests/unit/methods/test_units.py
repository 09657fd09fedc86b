"""Reading numbers with units, and converting them; pint is the second witness."""

import numpy as np
import pint
import pytest

from assessments import units

PINT = pint.UnitRegistry()

# Ours on the left; the name that pint has for it on the right.
PAIRS = [
    ("nm", "um", "nm", "um"),
    ("in", "mm", "inch", "mm"),
    ("ft", "m", "foot", "m"),
    ("lb", "kg", "pound", "kg"),
    ("min", "h", "minute", "hour"),
    ("d", "s", "day", "s"),
    ("degF", "degC", "degF", "degC"),
    ("K", "degC", "kelvin", "degC"),
    ("deg", "mrad", "degree", "mrad"),
    ("l/min", "m3/s", "liter/minute", "m**3/s"),
    ("m3/h", "m3/s", "m**3/hour", "m**3/s"),
    ("mg/min", "mg/s", "mg/minute", "mg/s"),
    ("mW/cm2", "W/m2", "mW/cm**2", "W/m**2"),
    ("J/cm2", "J/m2", "J/cm**2", "J/m**2"),
    ("uW/cm2", "W/m2", "uW/cm**2", "W/m**2"),
    ("W/m2/nm", "W/m2/um", "W/m**2/nm", "W/m**2/um"),
    ("bar", "kPa", "bar", "kPa"),
    ("atm", "Pa", "atm", "Pa"),
    ("mbar", "hPa", "millibar", "hPa"),
    ("g/mol", "kg/kmol", "g/mol", "kg/kmol"),
    ("rpm", "1/min", "1/minute", "1/minute"),
    ("kHz", "1/s", "kHz", "1/s"),
    ("ug/m3", "mg/m3", "ug/m**3", "mg/m**3"),
    ("%", "ppm", "percent", "ppm"),
    ("g/l", "mg/m3", "g/liter", "mg/m**3"),
    ("N", "kg*m/s2", "newton", "kg*m/s**2"),
    ("km/h", "m/s", "km/hour", "m/s"),
]


@pytest.mark.parametrize(("source", "target", "pint_source", "pint_target"), PAIRS)
def test_a_conversion_agrees_with_pint(source, target, pint_source, pint_target):
    witness = PINT.Quantity(3.7, pint_source).to(pint_target).magnitude
    assert units.convert(3.7, source, target) == pytest.approx(witness, rel=1e-9)


@pytest.mark.parametrize(("source", "target", "_one", "_two"), PAIRS)
def test_there_and_back_is_the_same_number(source, target, _one, _two):
    there = units.convert(3.7, source, target)
    assert units.convert(there, target, source) == pytest.approx(3.7, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "source", "target", "exact"),
    [(10.6, "um", "nm", 10600.0), (15.0, "min", "h", 0.25), (290.0, "ms", "s", 0.29)],
)
def test_plain_steps_of_ten_and_sixty_leave_no_crumbs(value, source, target, exact):
    assert units.convert(value, source, target) == exact


def test_an_array_is_converted_at_once():
    assert units.convert(np.array([0.0, 100.0]), "degC", "K").tolist() == [273.15, 373.15]


@pytest.mark.parametrize(
    ("source", "target"),
    [("kg", "s"), ("dB", "1"), ("m", "m2"), ("W", "W/m2"), ("degC", "mW"), ("deg", "degC")],
)
def test_another_dimension_is_refused(source, target):
    with pytest.raises(units.UnitError, match="not a unit of the kind"):
        units.convert(1.0, source, target)


@pytest.mark.parametrize("text", ["", "furlong", "m/", "/", "m//s", "W m", "m0", "2", "°", "kg,"])
def test_what_is_no_unit_is_refused(text):
    with pytest.raises(units.UnitError):
        units.convert(1.0, text, "m")


def test_a_temperature_scale_has_no_place_in_a_product():
    with pytest.raises(units.UnitError, match="temperature"):
        units.convert(1.0, "W/degC", "W/K")


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("40W", 40.0, "W"),
        ("10.6um", 10.6, "um"),
        (" 15 min ", 15.0, "min"),
        ("1e3mm", 1000.0, "mm"),
        (".5", 0.5, ""),
        ("-3.", -3.0, ""),
        ("+2 m/s2", 2.0, "m/s2"),
    ],
)
def test_a_number_is_split_from_its_unit(text, number, unit):
    assert units.split(text) == (number, unit)


@pytest.mark.parametrize("text", ["", "W", "nan", "inf", "1,5" * 40, "１５", "٣", "--1", "e5"])
def test_what_does_not_start_with_a_plain_number_is_no_number(text):
    assert units.split(text) is None


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("µm", "um"),
        ("m³/s", "m3/s"),
        ("m^2", "m2"),
        ("°C", "degC"),
        ("C", "degC"),
        ("hrs", "h"),
        ("mins", "min"),
        ("sec", "s"),
        ("dBA", "dB(A)"),
        ("db", "dB"),
        ("lbs", "lb"),
        ("/min", "1/min"),
        ("rev/min", "1/min"),
    ],
)
def test_the_signs_of_the_trade_are_read(one, other):
    assert units.unit(one) == units.unit(other)


# NIST special publication 811 (2008), appendix B.8: the printed factors, to half a unit of the
# seventh figure.
@pytest.mark.parametrize(
    ("source", "target", "factor"),
    [
        ("cfm", "m3/s", 4.719474e-4),
        ("fpm", "m/s", 5.08e-3),
        ("psi", "Pa", 6.894757e3),
        ("torr", "Pa", 1.333224e2),
        ("mmHg", "Pa", 1.333224e2),
    ],
)
def test_the_units_of_american_data_sheets_have_their_printed_factors(source, target, factor):
    assert units.convert(1.0, source, target) == pytest.approx(factor, rel=5e-7)


def test_a_capital_m_is_no_milli_and_no_mega_of_power():
    # Ten to the ninth lies between mW and MW, so that MW is refused rather than believed.
    with pytest.raises(units.UnitError, match="not a unit known"):
        units.unit("MW")


def test_a_level_weighted_for_c_is_no_level_weighted_for_a():
    assert units.convert(85.0, "dB", "dB(A)") == units.convert(85.0, "dBA", "dB(A)") == 85.0
    for source, target in (("dBC", "dB(A)"), ("dB (C)", "dB(A)"), ("dB(A)", "dB(C)")):
        with pytest.raises(units.UnitError, match="not a unit of the kind"):
            units.convert(85.0, source, target)
