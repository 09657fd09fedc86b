"""How a number and its unit are written for people: in refusals, in working and on plots."""

from __future__ import annotations

import math
import re

GAP = "\N{NO-BREAK SPACE}"  # between thousands, from five digits on

_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_POWERS = {"2": "²", "3": "³"}


def exact(value: float) -> str:
    """Write a number that somebody typed or a declaration holds, to six figures.

    >>> exact(1e6), exact(-20.0), exact(0.00001), exact(1e-13)
    ('1\\xa0000\\xa0000', '-20', '0.00001', '1\\xa0×\\xa010⁻¹³')
    """
    return _written(value, 6, 1e-6, 1e10)


def rounded(value: float) -> str:
    """Write a result, to three figures.

    >>> rounded(25.464), rounded(1234567.0), rounded(0.0000123)
    ('25.5', '1\\xa0230\\xa0000', '1.23\\xa0×\\xa010⁻⁵')
    """
    return _written(value, 3, 1e-3, 1e7)


def _written(value: float, figures: int, least: float, most: float) -> str:
    if value == 0:
        return "0"
    if not math.isfinite(value):
        return str(value)
    mantissa, power = f"{value:.{figures - 1}e}".split("e")
    if not least <= abs(value) < most:
        return f"{_trimmed(mantissa)}{GAP}×{GAP}10{raised(int(power))}"
    behind = max(figures - 1 - int(power), 0)
    digits = _trimmed(f"{float(f'{mantissa}e{power}'):.{behind}f}")
    whole, point, rest = digits.partition(".")
    if len(whole.lstrip("-")) > 4:
        whole = f"{int(whole):,}".replace(",", GAP)
    return whole + point + rest


def raised(power: int) -> str:
    """Write an exponent, such as ⁻⁵."""
    return str(power).translate(_RAISED)


def _trimmed(digits: str) -> str:
    return digits.rstrip("0").rstrip(".") if "." in digits else digits


def unit(text: str) -> str:
    """Write a unit as it is printed; the unit 1 is not.

    >>> unit("W/m2/nm"), unit("um"), unit("1/min"), unit("1")
    ('W/m²/nm', 'µm', 'per min', '')
    """
    if text == "1":
        return ""
    text = re.sub(r"^1/", "per ", text)
    text = re.sub(r"\bdeg(?=[CF]?\b)", "°", text)
    text = re.sub(r"\bu(?=[mgJWs]\b)", "µ", text)
    return re.sub(r"(?<=[a-z])[23]\b", lambda power: _POWERS[power[0]], text)


def quantity(value: float, unit_text: str) -> str:
    """Write a result with its unit, to three figures.

    >>> quantity(25.464, "W/m2")
    '25.5\\xa0W/m²'
    """
    return f"{rounded(value)}{GAP}{unit(unit_text)}".rstrip()
