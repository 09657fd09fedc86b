"""Numbers as decimal strings: exact there and back, with one spelling for each number."""

from __future__ import annotations

import re
from decimal import Decimal
from math import isfinite
from numbers import Integral, Real
from typing import Any

from assessments.errors import Refused

# The longest double needs 309 digits before the point, or 325 after it with the sign of nothing.
_DECIMAL = re.compile(r"-?(0|[1-9][0-9]{0,399})(\.[0-9]{1,1100})?", re.ASCII)


def numeral(value: Any, kind: type | None, where: str) -> str:
    """Return the decimal string of an int or a float; a float always shows its point.

    ``kind`` is int, float, or None where the value says itself which it is.
    Refused: NaN, infinities, booleans, anything that is not a real number.

    >>> numeral(20.0, float, "here"), numeral(3, int, "here"), numeral(1e-05, None, "here")
    ('20.0', '3', '0.00001')
    """
    if isinstance(value, bool) or not isinstance(value, Real):
        raise Refused(f"{where}: {type(value).__name__} is not a number.", field=where)
    if kind is int and not isinstance(value, Integral):
        raise Refused(f"{where}: {value} is not a whole number.", field=where)
    if isinstance(value, Integral) and kind is not float:
        return str(int(value))
    if isinstance(value, Integral):
        value = _as_float(int(value), where)
    if not isfinite(value):
        raise Refused(f"{where}: {value} is not a finite number.", field=where)
    # Adding zero turns a negative zero into the plain one: equal numbers, one spelling.
    text = format(Decimal(repr(float(value) + 0.0)), "f")
    return text if "." in text else f"{text}.0"


def _as_float(value: int, where: str) -> float:
    try:
        return float(value)
    except OverflowError as error:
        raise Refused(f"{where}: the number is too large.", field=where) from error


def number_from(text: str, kind: type | None, where: str) -> int | float:
    """Read a decimal string back as an int, a float, or whichever its point says."""
    if not _DECIMAL.fullmatch(text):
        raise Refused(f"{where}: {text!r} is not a decimal number.", field=where)
    if "." not in text and kind is not float:
        return int(text)
    if kind is int:
        raise Refused(f"{where}: {text!r} is not a whole number.", field=where)
    number = float(text)
    if not isfinite(number):
        raise Refused(f"{where}: {text!r} is too large a number.", field=where)
    return number
