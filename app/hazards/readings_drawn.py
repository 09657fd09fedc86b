"""The last readings of a check, drawn against the range in which they pass."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from app.hazards.models import CheckResult
from app.hazards.readings import Range, number_or_none
from assessments.drawing import DASHED, INK, WIDTH, Axis, Drawing

LEFT, RIGHT, TOP, FOOT = 44.0, WIDTH - 10, 24.0, 116.0
FEWEST = 2  # one dot says nothing that its figure does not say


def plot(results: Sequence[CheckResult], asked: Range, title: str) -> str | None:
    """Return a small drawing as inline SVG, the newest at the right; None with too few numbers.

    ``results`` come with the newest first, as they are read.
    """
    values = [
        value
        for result in reversed(results)
        if (value := number_or_none(result.reading, unit=asked.unit)) is not None
    ]
    if len(values) < FEWEST:
        return None
    bounds = [float(bound) for bound in (asked.low, asked.high) if bound is not None]
    numbers = [float(value) for value in values]
    low, high = min(numbers + bounds), max(numbers + bounds)
    room = (high - low) * 0.12 or abs(high) * 0.1 or 1.0
    x = Axis(0, len(values) - 1, LEFT + 8, RIGHT - 8)
    y = Axis(low - room, high + room, FOOT, TOP)
    drawing = Drawing(height=FOOT + 10)
    drawing.up(Axis(0, 1, LEFT, RIGHT), y, asked.unit or "reading")
    for bound in bounds:
        drawing.line((LEFT, y.at(bound)), (RIGHT, y.at(bound)), width=1.5, dash=DASHED)
    points = [(x.at(place), y.at(value)) for place, value in enumerate(numbers)]
    drawing.path(points, width=1)
    for point, value in zip(points, values, strict=True):
        drawing.dot(point, fill="#fff" if asked.wanting(value) else INK)
    return drawing.svg(title, _words(values, asked))


def _words(values: list[Decimal], asked: Range) -> str:
    numbers = ", ".join(map(str, values))
    passes = f" Passes {asked.words}." if asked.words else ""
    return f"The last {len(values)} readings, the newest last: {numbers} {asked.unit}.{passes}"
