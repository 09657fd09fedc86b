"""The readings of a check over a period, drawn against the ends of what passes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from assessments.document.wording import day
from assessments.drawing import DASHED, INK, WIDTH, Axis, Drawing

if TYPE_CHECKING:
    from assessments.document.check_log import CheckPart

LEFT, RIGHT, TOP, FOOT = 44.0, WIDTH - 10, 24.0, 110.0
FEWEST = 2  # one dot says nothing that its figure does not say


def readings_svg(part: CheckPart, first_on: date, last_on: date) -> str:
    """Return a drawing as inline SVG, by day from left to right; empty with too few numbers.

    A full dot passed and an open one failed; a dashed line is an end of what passes.
    """
    if len(part.readings) < FEWEST:
        return ""
    numbers = [reading.value for reading in part.readings]
    bounds = [bound for bound in (part.low, part.high) if bound is not None]
    low, high = min(numbers + bounds), max(numbers + bounds)
    room = (high - low) * 0.12 or abs(high) * 0.1 or 1.0
    x = Axis(0, max((last_on - first_on).days, 1), LEFT + 6, RIGHT - 6)
    y = Axis(low - room, high + room, FOOT, TOP)
    drawing = Drawing(height=FOOT + 20)
    drawing.up(Axis(0, 1, LEFT, RIGHT), y, part.unit or "reading")
    for bound in bounds:
        drawing.line((LEFT, y.at(bound)), (RIGHT, y.at(bound)), width=1.5, dash=DASHED)
    points = [
        (x.at((reading.on - first_on).days), y.at(reading.value)) for reading in part.readings
    ]
    drawing.path(points, width=0.7)
    small = 3.0 if len(points) < 40 else 1.8
    for point, reading in zip(points, part.readings, strict=True):
        fill = INK if reading.passed else "#fff"
        drawing.dot(point, fill=fill, radius=small if reading.passed else small + 1)
    drawing.line((LEFT, FOOT), (RIGHT, FOOT))
    drawing.words((LEFT, FOOT + 15), day(first_on))
    drawing.words((RIGHT, FOOT + 15), day(last_on), anchor="end")
    return drawing.svg(f"Readings of {part.title}", _words(part.readings, part))


def _words(readings: Sequence[object], part: CheckPart) -> str:
    passes = f" Passes {part.range}." if part.range else ""
    return f"{len(readings)} readings by day; each stands in the table with its figure.{passes}"
