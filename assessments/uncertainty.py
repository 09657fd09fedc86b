"""Uncertain inputs: ``normal(40,4)`` and its kin, drawn many times with a fixed seed.

The draws of different inputs are independent of each other, which is an assumption and is
printed as one. Draws outside an input's range are drawn again while they are few, and refused
when they are more than one in a hundred.

The standard draws behind every distribution depend on nothing but the place of the value in
the question, so a process makes them once and keeps them; and each thread draws into memory
that it uses again, since fresh memory costs several times the sums that are done in it.
"""

from __future__ import annotations

import math
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
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
    """One kind of distribution: what its numbers mean, its median, and how it is drawn.

    ``draw`` turns standard draws, normal or uniform from 0 to 1, into those of the shape, and
    puts them into an array of the same length that it is given.
    """

    parameters: tuple[str, ...]
    holds: Callable[..., bool]
    rule: str
    median: Callable[..., float]
    standard: str
    draw: Callable[..., None]


def _triangular_median(low: float, mode: float, high: float) -> float:
    middle = (low + high) / 2
    if mode >= middle:
        return low + math.sqrt((high - low) * (mode - low) / 2)
    return high - math.sqrt((high - low) * (high - mode) / 2)


def _normal(z: Draws, into: Draws, mean: float, sd: float) -> None:
    np.multiply(z, sd, out=into)
    np.add(into, mean, out=into)


def _lognormal(z: Draws, into: Draws, gm: float, gsd: float) -> None:
    np.multiply(z, math.log(gsd), out=into)
    np.exp(into, out=into)
    np.multiply(into, gm, out=into)


def _uniform(u: Draws, into: Draws, low: float, high: float) -> None:
    np.multiply(u, high - low, out=into)
    np.add(into, low, out=into)


def _triangular(u: Draws, into: Draws, low: float, mode: float, high: float) -> None:
    """Put in the inverse of the cumulative distribution at u."""
    width = high - low
    rising = low + np.sqrt(u * (width * (mode - low)))
    falling = high - np.sqrt((1 - u) * (width * (high - mode)))
    into[:] = np.where(u * width < mode - low, rising, falling)


SHAPES = {
    "normal": Shape(
        ("mean", "standard deviation"),
        lambda mean, sd: sd > 0,
        "the standard deviation must be above 0",
        lambda mean, sd: mean,
        "normal",
        _normal,
    ),
    "uniform": Shape(
        ("lowest", "highest"),
        lambda low, high: low < high,
        "the lowest must be below the highest",
        lambda low, high: (low + high) / 2,
        "uniform",
        _uniform,
    ),
    "lognormal": Shape(
        ("geometric mean", "geometric standard deviation"),
        lambda gm, gsd: gm > 0 and gsd > 1,
        "the geometric mean must be above 0 and the geometric standard deviation above 1",
        lambda gm, gsd: gm,
        "normal",
        _lognormal,
    ),
    "triangular": Shape(
        ("lowest", "most likely", "highest"),
        lambda low, mode, high: low <= mode <= high and low < high,
        "the numbers must run from lowest over most likely to highest",
        _triangular_median,
        "uniform",
        _triangular,
    ),
}

_STANDARD: dict[str, Callable[[np.random.Generator, int], Draws]] = {
    "normal": lambda rng, n: rng.standard_normal(n),
    "uniform": lambda rng, n: rng.random(n),
}
_KINDS = tuple(_STANDARD)
_AGAIN = len(_KINDS)  # sets the draws that replace those outside apart from all others


@lru_cache(maxsize=MOST_UNCERTAIN)
def _standard(kind: str, place: int) -> Draws:
    """Return the standard draws of one place: 0.8 MB each, at most 32 MB in a process."""
    drawn = _STANDARD[kind](np.random.default_rng((SEED, place, _KINDS.index(kind))), DRAWS)
    drawn.flags.writeable = False
    return drawn


@lru_cache(maxsize=2 * MOST_UNCERTAIN)
def _ends(kind: str, place: int) -> Draws:
    drawn = _standard(kind, place)
    return np.array([drawn.min(), drawn.max()])


class _Memory(threading.local):
    """What one thread uses again for each question, 10 MB at most."""

    def __init__(self) -> None:
        self.by_place: list[Draws] = []
        self.to_part = np.empty(DRAWS)


_memory = _Memory()
_KEPT = 12  # places, of which hardly a question has more


def memory_for(place: int) -> Draws:
    """Return an array for the draws of one place; this thread's next question overwrites it."""
    if place >= _KEPT:
        return np.empty(DRAWS)
    while place >= len(_memory.by_place):
        _memory.by_place.append(np.empty(DRAWS))
    return _memory.by_place[place]


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
        numbers = ", ".join(f"{value:.15g}" for value in self.parameters)
        return f"{self.kind}({numbers})" + ("" if self._same_unit else f" {self.unit}")

    @property
    def _same_unit(self) -> bool:
        return self.unit == self.number.unit

    def median(self) -> float:
        """Return the median in the input's own unit."""
        return float(self._converted(self._shape.median(*self.parameters)))

    def draw(self, place: int, into: Draws | None = None) -> tuple[Draws, float]:
        """Return draws within the range of the input, and the share that had to be drawn again.

        ``place`` counts the uncertain values of a question; draws at two places are independent.
        They are put into the array ``into`` where one is given.
        Raises OutOfRange when more than one draw in a hundred falls outside.
        """
        values = self._shaped(_standard(self._shape.standard, place), into)
        # Every shape rises with its standard draws, so that its ends are those of theirs.
        least, most = self._shaped(_ends(self._shape.standard, place))
        if self.number.low <= least and most <= self.number.high:
            return values, 0.0
        outside = self._outside(values)
        share = float(np.mean(outside))
        if share > TOLERATED_SHARE:
            raise OutOfRange(
                f"{self.where} must be {self.number.asked}; {share:.0%} of {self} lies outside.",
                field=self.number.name,
            )
        rng = np.random.default_rng((SEED, place, _AGAIN))
        while outside.any():
            some = _STANDARD[self._shape.standard](rng, int(outside.sum()))
            values[outside] = self._shaped(some)
            outside = self._outside(values)
        return values, share

    @property
    def _shape(self) -> Shape:
        return SHAPES[self.kind]

    def _shaped(self, standard: Draws, into: Draws | None = None) -> Draws:
        drawn = np.empty_like(standard) if into is None else into
        with np.errstate(all="ignore"):  # what overflows is infinite, and outside any range
            self._shape.draw(standard, drawn, *self.parameters)
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


def percentiles(values: Draws) -> tuple[float, float, float]:
    """Return the 5th, 50th and 95th percentile of finite values, as `numpy.percentile` does.

    Parting the values at the median first, and then only the halves, costs a tenth of sorting
    them: NumPy selects one place at a time much faster than several at once.
    """
    count = np.size(values)
    if not _FEW <= count <= DRAWS:
        low, middle, high = np.percentile(values, (5, 50, 95)).tolist()
        return low, middle, high
    parted = _memory.to_part[:count]
    np.copyto(parted, np.reshape(values, -1))
    middle = _parted_at(parted, (count - 1) * 0.5)
    half = (count - 1) // 2
    low = _parted_at(parted[:half], (count - 1) * 0.05)
    high = _parted_at(parted[half + 1 :], (count - 1) * 0.95 - (half + 1))
    return low, middle, high


_FEW = 100  # with fewer values the outer percentiles may touch the median


def _parted_at(values: Draws, place: float) -> float:
    """Return the value at a place in the sorted order, between two whole ones on the line.

    Afterwards no value before the place is larger, and none behind it smaller.
    """
    below = math.floor(place)
    values.partition(below)
    lower = float(values[below])
    return lower + (place - below) * (float(values[below + 1 :].min()) - lower)


def quote(text: str) -> str:
    """Put quotation marks around distributions inside a JSON list, where people forget them."""
    return _UNQUOTED.sub(lambda match: f'"{match[0]}"', text)
