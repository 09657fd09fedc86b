"""Measure what uncertain inputs cost, and how long the methods take to import.

    .venv/bin/python -m tests.bench.uncertainty

Every number of a method's example is made uncertain. The whole way from what was typed to
the finding (read, draw, calculate, percentiles, probability, words) is held against one NumPy
evaluation of the method's own function on the same 100,000 values. The two are timed in turn,
and the figure is the ratio of their medians. Nothing here passes or fails: machines are noisy.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from assessments import uncertainty
from assessments.calculate import calculate
from assessments.examples import questions
from assessments.method import Method, Number, Rows, Series
from assessments.methods import catalogue
from assessments.reading import read

PAIRS = 31
RATIO, MILLISECONDS, IMPORT = 10.0, 250.0, 150.0


@dataclass(frozen=True)
class Measured:
    name: str
    inputs: int
    own_ms: float
    whole_ms: float

    @property
    def ratio(self) -> float:
        return self.whole_ms / self.own_ms

    def __str__(self) -> str:
        return (
            f"{self.name:28} {self.inputs:3} uncertain  {self.own_ms:8.3f} ms  "
            f"{self.whole_ms:8.2f} ms  {self.ratio:6.1f}"
        )


def main() -> None:
    heading = ("one evaluation", "whole way", "ratio")
    print(f"{'':42}  {heading[0]}  {heading[1]}  {heading[2]}")
    found = sorted(measured(), key=lambda each: -each.ratio)
    for each in found:
        print(each)
    over = [each.name for each in found if each.ratio > RATIO]
    slowest = max(found, key=lambda each: each.whole_ms)
    print(f"\nworst ratio {found[0].ratio:.1f} by {found[0].name} (target <= {RATIO:g})")
    print(f"over the target: {', '.join(over) or 'none'}")
    print(f"slowest {slowest.whole_ms:.0f} ms by {slowest.name} (target < {MILLISECONDS:g} ms)")
    print(f"import of every method beyond NumPy: {import_ms():.0f} ms (target < {IMPORT:g} ms)")


def measured() -> Iterator[Measured]:
    """Measure the heaviest question of each method that takes an uncertain number."""
    for method in catalogue().values():
        asked = [uncertain(method, question) for question in questions(method)]
        wanted = max(asked, key=lambda question: str(question).count("("))
        if "(" in str(wanted):
            yield measure(method, wanted)


def measure(method: Method, question: dict[str, Any]) -> Measured:
    drawn: list[Any] = []
    values = read(method, question).values
    arguments = {each.argument: _drawn(values[each.name], drawn) for each in method.inputs}

    def whole() -> None:
        calculate(method.id, question)

    def own() -> None:
        with np.errstate(all="ignore"):
            method(**arguments)

    own_ms, whole_ms = medians(own, whole)
    return Measured(method.id, len(drawn), own_ms, whole_ms)


def medians(first: Callable[[], None], second: Callable[[], None]) -> tuple[float, float]:
    """Return the median time of each in ms; one goes first as often as the other."""
    first()
    second()
    times: tuple[list[float], list[float]] = ([], [])
    for count in range(PAIRS):
        turns = [(first, times[0]), (second, times[1])]
        for call, into in turns if count % 2 else reversed(turns):
            start = time.perf_counter()
            call()
            into.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times[0]), statistics.median(times[1])


def _drawn(value: Any, drawn: list[Any]) -> Any:
    if isinstance(value, tuple):
        return tuple(_drawn(each, drawn) for each in value)
    if isinstance(value, uncertainty.Uncertain):
        drawn.append(value.draw(len(drawn))[0])
        return drawn[-1]
    return np.float64(value) if isinstance(value, float) else value


def uncertain(method: Method, question: dict[str, Any]) -> dict[str, Any]:
    """Return the question with as many of its numbers uncertain as a question may hold."""
    left = [uncertainty.MOST_UNCERTAIN]
    changed: dict[str, Any] = {}
    for each in method.inputs:
        value = question.get(each.name)
        if value is None:
            continue
        if isinstance(each, Number):
            changed[each.name] = _spread(each, value, left)
        elif isinstance(each, Series):
            changed[each.name] = [_spread(each.column, x, left) for x in value]
        elif isinstance(each, Rows):
            changed[each.name] = [
                [
                    _spread(column, cell, left) if isinstance(column, Number) else cell
                    for column, cell in zip(each.columns, row, strict=True)
                ]
                for row in value
            ]
        else:
            changed[each.name] = value
    return changed


def _spread(number: Number, value: Any, left: list[int]) -> Any:
    """Write a narrow normal distribution, or a uniform one at the edge of the range."""
    if number.whole or left[0] == 0 or not isinstance(value, int | float):
        return value
    left[0] -= 1
    width = abs(value) * 0.001
    if width and number.low <= value - 6 * width and value + 6 * width <= number.high:
        return f"normal({value!r},{width!r})"
    width = max(abs(value) * 0.01, (number.high - number.low) * 1e-6)
    return f"uniform({max(number.low, value - width)!r},{min(number.high, value + width)!r})"


_IMPORT = (
    "import time, numpy\n"
    "start = time.perf_counter()\n"
    "from assessments import methods\n"
    "methods.catalogue()\n"
    "print(time.perf_counter() - start)"
)


def import_ms() -> float:
    """Return the time in which a fresh interpreter imports every method, NumPy being there."""
    times = [
        float(
            subprocess.run([sys.executable, "-c", _IMPORT], capture_output=True, check=True).stdout
        )
        for _ in range(7)
    ]
    return 1e3 * statistics.median(times)


if __name__ == "__main__":
    main()
