"""How the concentration in a room changes with time."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from assessments.drawing import DASHED, DOTTED, Axis, Drawing, Point, spaced
from assessments.finding import Finding
from assessments.plots import Plot, Run
from assessments.plots.marks import about, level, spread_of, whisker
from assessments.written import quantity, rounded

_TIMES = ((600.0, "s", 1.0), (3 * 3600.0, "min", 60.0), (math.inf, "h", 3600.0))


@dataclass(frozen=True)
class _Seen:
    """What is shown of a finding: times in seconds, concentrations in mg/m3."""

    asked: float
    found: float
    steady: float
    limit: float | None
    spread: tuple[float, float] | None
    end: float
    unit: str
    seconds: float  # in one unit of the time that is shown
    course: tuple[Point, ...]

    @property
    def top(self) -> float:
        highest = max(c for _, c in self.course)
        return max(highest, self.found, *(self.spread or ())) or 1.0

    @property
    def limit_in_sight(self) -> float | None:
        far = self.limit is None or self.limit > 2.5 * self.top
        return None if far else self.limit


def course(run: Run, values: Mapping[str, Any], finding: Finding) -> Plot:
    """Draw how the concentration in a room changes with time, with the limit drawn in."""
    seen = _seen(run, values, finding)
    title = f"Concentration in the room over {rounded(seen.end / seen.seconds)} {seen.unit}"
    desc = (
        f"{quantity(seen.found, 'mg/m3')} after {rounded(seen.asked / seen.seconds)} {seen.unit}, "
        f"tending to {quantity(seen.steady, 'mg/m3')}. {_beside_the_limit(seen)}"
    ).rstrip()
    x = Axis(0, seen.end / seen.seconds, 44, 292)
    told = sorted({0.0, seen.asked, *(tick * seen.seconds for tick in x.ticks(5))})
    return Plot(
        title=title,
        desc=desc,
        svg=_drawn(x, seen).svg(title, desc),
        columns=(f"Time, {seen.unit}", "Concentration, mg/m³"),
        rows=tuple((rounded(t / seen.seconds), rounded(c)) for t, c in _course(run, told)),
    )


def _seen(run: Run, values: Mapping[str, Any], finding: Finding) -> _Seen:
    outputs, asked = finding.outputs, float(values["time"])
    end = _end_of_time(asked, outputs["time_to_90"].value)
    unit, seconds = next((name, each) for most, name, each in _TIMES if end <= most)
    return _Seen(
        asked=asked,
        found=outputs["concentration"].value,
        steady=outputs["steady_state"].value,
        limit=finding.limit.value if finding.limit else None,
        spread=spread_of(finding, "concentration"),
        end=end,
        unit=unit,
        seconds=seconds,
        course=tuple(_course(run, spaced(0, end, 81))),
    )


def _end_of_time(asked: float, to_90: float) -> float:
    """Show the time asked for and, where it is not far off, most of the way to the end."""
    return max(1.15 * asked, min(1.3 * to_90, 4 * asked if asked else math.inf))


def _course(run: Run, times: Sequence[float]) -> list[Point]:
    found = run(time=np.array(times))["concentration"]
    return [(t, float(c)) for t, c in zip(times, found, strict=True)]


def _beside_the_limit(seen: _Seen) -> str:
    if seen.limit is None:
        return ""
    far = "" if seen.limit_in_sight else ", far above what is drawn"
    return f"The limit is {quantity(seen.limit, 'mg/m3')}{far}."


def _drawn(x: Axis, seen: _Seen) -> Drawing:
    limit = seen.limit_in_sight
    y = Axis(0, 1.12 * max(seen.top, limit or 0), 176, 30)
    drawing = Drawing(212)
    drawing.up(x, y, "concentration, mg/m³")
    drawing.across(x, y, f"time, {seen.unit}")
    curve = [(x.at(t / seen.seconds), y.at(c)) for t, c in seen.course]
    drawing.path(curve)
    dot = (x.at(seen.asked / seen.seconds), y.at(seen.found))
    if seen.spread:
        low, high = (y.at(each) for each in seen.spread)
        whisker(drawing, (dot[0], low), (dot[0], high))
    drawing.dot(dot)
    lines = [*curve, dot]
    if limit:
        lines += level(drawing, x, y.at(limit), f"limit {rounded(limit)}", lines, dash=DASHED)
    elif seen.limit:
        drawing.words((x.end, 14), f"limit {rounded(seen.limit)}, far above ↑", anchor="end")
    if 0 < seen.steady <= y.high:
        words = f"tends to {rounded(seen.steady)}"
        lines += level(drawing, x, y.at(seen.steady), words, lines, dash=DOTTED)
    words = f"{rounded(seen.found)} after {rounded(seen.asked / seen.seconds)} {seen.unit}"
    drawing.label(words, about(dot), avoid=lines, bold=True)
    return drawing
