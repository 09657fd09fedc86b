"""Uncertain inputs: ``normal(40,4)`` and its kin, drawn many times with a fixed seed.

The draws of different inputs are independent of each other, which is an assumption and is
printed as one. Draws outside an input's range are drawn again while they are few, and refused
when they are more than one in a hundred.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from assessments import units
from assessments.errors import OutOfRange, Refused
from assessments.method import TOLERATED_SHARE, Number

DRAWS = 100_000
SEED = 20_080_402  # any fixed number: the same question gets the same answer
MOST_UNCERTAIN = 40  # values in one question; keeps 100,000 draws of each within memory

Draws = NDArray[np.float64]


@dataclass(frozen=True)
class Shape:
    """One kind of distribution: what its numbers mean, its median, and how it is drawn."""

    parameters: tuple[str, ...]
    holds: Callable[..., bool]
    rule: str
    median: Callable[..., float]
    draw: Callable[..., Draws]


def _triangular_median(low: float, mode: float, high: float) -> float:
    middle = (low + high) / 2
    if mode >= middle:
        return low + math.sqrt((high - low) * (mode - low) / 2)
    return high - math.sqrt((high - low) * (high - mode) / 2)


SHAPES = {
    "normal": Shape(
        ("mean", "standard deviation"),
        lambda mean, sd: sd > 0,
        "the standard deviation must be above 0",
        lambda mean, sd: mean,
        lambda rng, n, mean, sd: rng.normal(mean, sd, n),
    ),
    "uniform": Shape(
        ("lowest", "highest"),
        lambda low, high: low < high,
        "the lowest must be below the highest",
        lambda low, high: (low + high) / 2,
        lambda rng, n, low, high: rng.uniform(low, high, n),
    ),
    "lognormal": Shape(
        ("geometric mean", "geometric standard deviation"),
        lambda gm, gsd: gm > 0 and gsd > 1,
        "the geometric mean must be above 0 and the geometric standard deviation above 1",
        lambda gm, gsd: gm,
        lambda rng, n, gm, gsd: rng.lognormal(math.log(gm), math.log(gsd), n),
    ),
    "triangular": Shape(
        ("lowest", "most likely", "highest"),
        lambda low, mode, high: low <= mode <= high and low < high,
        "the numbers must run from lowest over most likely to highest",
        _triangular_median,
        lambda rng, n, low, mode, high: rng.triangular(low, mode, high, n),
    ),
}

_WRITTEN = re.compile(rf"({'|'.join(SHAPES)})\(([^()]*)\)\s*(.*)", re.ASCII)
_UNQUOTED = re.compile(rf"(?<![\"\w])(?:{'|'.join(SHAPES)})\([^()\"\[\]]*\)", re.ASCII)


@dataclass(frozen=True)
class Uncertain:
    """An input known as a distribution; the parameters are in ``unit``."""

    where: str
    number: Number
    kind: str
    parameters: tuple[float, ...]
    unit: str

    def __str__(self) -> str:
        numbers = ", ".join(f"{value:g}" for value in self.parameters)
        return f"{self.kind}({numbers})" + ("" if self._same_unit else f" {self.unit}")

    @property
    def _same_unit(self) -> bool:
        return self.unit == self.number.unit

    def median(self) -> float:
        """Return the median in the input's own unit."""
        return float(self._converted(SHAPES[self.kind].median(*self.parameters)))

    def draw(self, rng: Generator, draws: int) -> tuple[Draws, float]:
        """Return draws within the range of the input, and the share that had to be drawn again.

        Raises OutOfRange when more than one draw in a hundred falls outside.
        """
        values = self._raw(rng, draws)
        outside = self._outside(values)
        share = float(np.mean(outside))
        if share > TOLERATED_SHARE:
            raise OutOfRange(
                f"{self.where} must be {self.number.asked}; {share:.0%} of {self} lies outside.",
                field=self.number.name,
            )
        while outside.any():
            values[outside] = self._raw(rng, int(outside.sum()))
            outside = self._outside(values)
        return values, share

    def _raw(self, rng: Generator, draws: int) -> Draws:
        with np.errstate(all="ignore"):  # what overflows is infinite, and outside any range
            drawn = SHAPES[self.kind].draw(rng, draws, *self.parameters)
            return np.asarray(self._converted(drawn))

    def _outside(self, values: Draws) -> NDArray[np.bool_]:
        return ~((values >= self.number.low) & (values <= self.number.high))

    def _converted(self, value: Any) -> Any:
        return units.convert(value, self.unit, self.number.unit)


def read(text: str, number: Number, where: str) -> Uncertain | None:
    """Read ``normal(40,4)W``; None when the text is not written as a distribution.

    Raises Refused when it is, and is wrong.
    """
    if len(text) > units.LONGEST_NUMBER or not (match := _WRITTEN.fullmatch(text.strip())):
        return None
    kind, unit = match[1], match[3].strip() or number.unit
    shape = SHAPES[kind]
    parts = [units.split(part) for part in match[2].split(",")]
    values = tuple(part[0] for part in parts if part and not part[1] and math.isfinite(part[0]))
    asked = f"{where} must be {number.asked}, or {kind}({', '.join(shape.parameters)})"
    if number.whole:
        raise Refused(f"{where} must be {number.asked}, and certain.", field=number.name)
    if len(values) != len(parts) or len(values) != len(shape.parameters):
        raise Refused(f"{asked}; {text[:40]!r} was given.", field=number.name)
    if not shape.holds(*values):
        raise Refused(f"{asked}, where {shape.rule}; {text[:40]!r} was given.", field=number.name)
    return Uncertain(where, number, kind, values, unit)


def quote(text: str) -> str:
    """Put quotation marks around distributions inside a JSON list, where people forget them."""
    return _UNQUOTED.sub(lambda match: f'"{match[0]}"', text)
