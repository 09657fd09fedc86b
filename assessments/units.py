"""Numbers with units: read them, and turn one unit into another of the same dimension.

A unit is written from the atoms below: ``W/m2``, ``m3/h``, ``1/min``, ``W/m2/nm``. There
are no automatic prefixes, so that ``min`` is never a milli-inch; what is not in the table is
refused. Factors are exact definitions of the SI brochure, 9th edition (BIPM, 2019), tables 3
to 8, and of the international yard and pound (1959); the standard atmosphere is 101 325 Pa.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

Dimension = tuple[int, ...]  # exponents of m, kg, s, K, A, mol, rad, dB

LONGEST_NUMBER = 100  # characters; no honest number with its unit is longer


class UnitError(ValueError):
    """A unit is unknown, or of another dimension than the one asked for."""


@dataclass(frozen=True)
class Unit:
    """SI value = factor x value + offset; only temperatures have an offset."""

    factor: float
    dimension: Dimension
    offset: float = 0.0


def _dimension(**powers: int) -> Dimension:
    return tuple(powers.get(base, 0) for base in ("m", "kg", "s", "K", "A", "mol", "rad", "dB"))


_NONE = _dimension()
_LENGTH = _dimension(m=1)
_MASS = _dimension(kg=1)
_TIME = _dimension(s=1)
_TEMPERATURE = _dimension(K=1)
_VOLUME = _dimension(m=3)
_PRESSURE = _dimension(kg=1, m=-1, s=-2)
_ENERGY = _dimension(kg=1, m=2, s=-2)
_POWER = _dimension(kg=1, m=2, s=-3)
_ANGLE = _dimension(rad=1)
_LEVEL = _dimension(dB=1)

_ATOMS = {
    "1": Unit(1.0, _NONE),
    "%": Unit(1e-2, _NONE),
    "ppm": Unit(1e-6, _NONE),
    "ppb": Unit(1e-9, _NONE),
    "nm": Unit(1e-9, _LENGTH),
    "um": Unit(1e-6, _LENGTH),
    "mm": Unit(1e-3, _LENGTH),
    "cm": Unit(1e-2, _LENGTH),
    "m": Unit(1.0, _LENGTH),
    "km": Unit(1e3, _LENGTH),
    "in": Unit(0.0254, _LENGTH),
    "ft": Unit(0.3048, _LENGTH),
    "ug": Unit(1e-9, _MASS),
    "mg": Unit(1e-6, _MASS),
    "g": Unit(1e-3, _MASS),
    "kg": Unit(1.0, _MASS),
    "t": Unit(1e3, _MASS),
    "lb": Unit(0.45359237, _MASS),
    "fs": Unit(1e-15, _TIME),
    "ps": Unit(1e-12, _TIME),
    "ns": Unit(1e-9, _TIME),
    "us": Unit(1e-6, _TIME),
    "ms": Unit(1e-3, _TIME),
    "s": Unit(1.0, _TIME),
    "min": Unit(60.0, _TIME),
    "h": Unit(3600.0, _TIME),
    "d": Unit(86400.0, _TIME),
    "K": Unit(1.0, _TEMPERATURE),
    "degC": Unit(1.0, _TEMPERATURE, 273.15),
    "degF": Unit(5 / 9, _TEMPERATURE, 459.67 * 5 / 9),
    "A": Unit(1.0, _dimension(A=1)),
    "mA": Unit(1e-3, _dimension(A=1)),
    "mol": Unit(1.0, _dimension(mol=1)),
    "kmol": Unit(1e3, _dimension(mol=1)),
    "rad": Unit(1.0, _ANGLE),
    "mrad": Unit(1e-3, _ANGLE),
    "urad": Unit(1e-6, _ANGLE),
    "deg": Unit(math.pi / 180, _ANGLE),
    "dB": Unit(1.0, _LEVEL),
    "dB(A)": Unit(1.0, _LEVEL),
    "dB(C)": Unit(1.0, _LEVEL),
    "l": Unit(1e-3, _VOLUME),
    "L": Unit(1e-3, _VOLUME),
    "ml": Unit(1e-6, _VOLUME),
    "mL": Unit(1e-6, _VOLUME),
    "Pa": Unit(1.0, _PRESSURE),
    "hPa": Unit(1e2, _PRESSURE),
    "kPa": Unit(1e3, _PRESSURE),
    "MPa": Unit(1e6, _PRESSURE),
    "mbar": Unit(1e2, _PRESSURE),
    "bar": Unit(1e5, _PRESSURE),
    "atm": Unit(101325.0, _PRESSURE),
    "torr": Unit(101325 / 760, _PRESSURE),
    "psi": Unit(0.45359237 * 9.80665 / 0.0254**2, _PRESSURE),
    "uJ": Unit(1e-6, _ENERGY),
    "mJ": Unit(1e-3, _ENERGY),
    "J": Unit(1.0, _ENERGY),
    "kJ": Unit(1e3, _ENERGY),
    "uW": Unit(1e-6, _POWER),
    "mW": Unit(1e-3, _POWER),
    "W": Unit(1.0, _POWER),
    "kW": Unit(1e3, _POWER),
    "N": Unit(1.0, _dimension(kg=1, m=1, s=-2)),
    "Hz": Unit(1.0, _dimension(s=-1)),
    "kHz": Unit(1e3, _dimension(s=-1)),
    "MHz": Unit(1e6, _dimension(s=-1)),
    "rpm": Unit(1 / 60, _dimension(s=-1)),
    "cfm": Unit(0.3048**3 / 60, _dimension(m=3, s=-1)),
    "fpm": Unit(0.3048 / 60, _dimension(m=1, s=-1)),
}

_SPELLINGS = str.maketrans(
    {"µ": "u", "μ": "u", "²": "2", "³": "3", "^": None, "·": "*", "°": "deg", " ": None}
)
_ALIASES = {"dBA": "dB(A)", "dBC": "dB(C)", "hours": "h", "hour": "h", "hr": "h", "hrs": "h"}
_ALIASES |= {"minutes": "min", "minute": "min", "mins": "min", "litres": "l", "litre": "l"}
_ALIASES |= {"db": "dB", "dba": "dB(A)", "lbs": "lb", "inch": "in", "mmHg": "torr", "days": "d"}
_ALIASES |= {"seconds": "s", "second": "s", "secs": "s", "sec": "s", "C": "degC", "rev": "1"}
_ATOM = re.compile(r"(dB\([AC]\)|[A-Za-z%]+|1)(-?[1-9])?", re.ASCII)
_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)", re.ASCII)


def plain(text: str) -> str:
    """Return a unit in the letters of the table, whichever way it was typed.

    >>> plain("mg/m³"), plain("mg/m^3"), plain("µm"), plain("°C")
    ('mg/m3', 'mg/m3', 'um', 'degC')
    """
    return text.translate(_SPELLINGS)


@lru_cache(maxsize=512)
def unit(text: str) -> Unit:
    """Read a unit.  Raises UnitError when it is not built from known atoms.

    >>> unit("m3/h").factor * 3600
    1.0
    """
    first, *divisors = plain(text).split("/")
    product = Unit(1.0, _NONE)
    if divisors and not first:
        first = "1"  # as in 12200/min
    for part, sign in [(first, 1), *((divisor, -1) for divisor in divisors)]:
        for word in part.split("*"):
            product = _times(product, word, sign, text)
    return product


def _times(product: Unit, word: str, sign: int, text: str) -> Unit:
    match = _ATOM.fullmatch(word)
    name = match[1] if match else ""
    atom = _ATOMS.get(_ALIASES.get(name, name))
    if match is None or atom is None:
        raise UnitError(f"{text[:20]!r} is not a unit known here")
    power = sign * int(match[2] or 1)
    if atom.offset and (product != Unit(1.0, _NONE) or power != 1):
        raise UnitError(f"{text[:20]!r} mixes a temperature scale into a product")
    added = tuple(a + power * b for a, b in zip(product.dimension, atom.dimension, strict=True))
    return Unit(product.factor * atom.factor**power, added, atom.offset)


def convert(value: Any, source: str, target: str) -> Any:
    """Turn a value (or an array) from one unit into another of the same dimension.

    The same unit gives back the very same number; UnitError for another dimension.

    >>> convert(15.0, "min", "h")
    0.25
    """
    if source == target:
        return value
    old, new = unit(source), unit(target)
    # A level weighted for C is no level weighted for A, though both are counted in decibels.
    weightings = {_ALIASES.get(plain(each), plain(each)) for each in (source, target)}
    if old.dimension != new.dimension or weightings == {"dB(A)", "dB(C)"}:
        raise UnitError(f"{source} is not a unit of the kind of {target}")
    if old.offset == new.offset == 0.0:
        # One neat ratio first: 10.6 um becomes 10600 nm and not 10599.999999999998.
        ratio = old.factor / new.factor
        return value * _neat(ratio) if ratio >= 1 else value / _neat(new.factor / old.factor)
    return (value * old.factor + old.offset - new.offset) / new.factor


def _neat(ratio: float) -> float:
    return float(round(ratio)) if abs(ratio - round(ratio)) < 1e-9 * ratio else ratio


def worded(number: str, unit_text: str) -> str:
    """Put a unit behind a written number; the unit 1 goes without saying."""
    return number if unit_text in ("", "1") else f"{number} {unit_text}"


def split(text: str) -> tuple[float, str] | None:
    """Split ``10.6um`` into 10.6 and ``um``; None when it does not start with a plain number.

    Plain means ASCII digits with a decimal point: ``1,5``, ``nan`` and full-width digits are
    not. A number beyond the range of a double comes back infinite, for the caller to refuse.
    """
    match = _NUMBER.fullmatch(text.strip()) if len(text) <= LONGEST_NUMBER else None
    return (float(match[1]), match[2].strip()) if match else None
