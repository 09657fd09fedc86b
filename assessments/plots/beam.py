"""How the irradiance of a laser beam falls with distance, and where it meets the limit."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from assessments.drawing import DASHED, Axis, Drawing, spaced
from assessments.finding import Finding
from assessments.plots import Plot, Run
from assessments.plots.marks import level, spread_of, whisker
from assessments.written import quantity, rounded


def beam(run: Run, values: Mapping[str, Any], finding: Finding) -> Plot:
    """Draw how the irradiance of a beam falls with distance, and where it meets the limit."""
    nohd = finding.outputs["nohd"].value
    limit = finding.outputs["mpe_irradiance"].value
    x = _decades(nohd / 100 if nohd else 0.1, nohd * 10 if nohd else 100.0, 44, 292)
    distances = spaced(x.low, x.high, 81, log=True)
    course = [_irradiance(values, each) for each in distances]
    y = _decades(min(*course, limit) / 1.5, max(*course, limit) * 1.5, 176, 30)

    drawing = Drawing(212)
    if nohd:
        drawing.area(
            [(x.start, y.start), (x.at(nohd), y.start), (x.at(nohd), y.end), (x.start, y.end)],
            fill="#e6e6e6",
        )
    drawing.up(x, y, "irradiance, W/m²")
    drawing.across(x, y, "distance, m")
    curve = [(x.at(r), y.at(e)) for r, e in zip(distances, course, strict=True)]
    drawing.path(curve)
    avoid = curve
    if nohd:
        meets = (x.at(nohd), y.at(limit))
        drawing.line(meets, (meets[0], y.start), width=1.2)
        avoid = [*curve, *((meets[0], y.at(limit) + step) for step in range(0, 60, 6))]
        if spread := spread_of(finding, "nohd"):
            low, high = (x.at(min(max(each, x.low), x.high)) for each in spread)
            whisker(drawing, (low, meets[1]), (high, meets[1]))
        drawing.dot(meets)
    level(drawing, x, y.at(limit), f"limit {rounded(limit)}", avoid, dash=DASHED)
    if nohd:
        drawing.label(
            f"hazard distance {quantity(nohd, 'm')}",
            [
                (x.at(nohd) + 8, y.start - 8, "start"),
                (x.at(nohd) - 8, y.start - 8, "end"),
                (x.at(nohd) + 8, y.at(limit) - 24, "start"),
            ],
            avoid=curve,
            bold=True,
        )
    title = "Irradiance along the beam"
    desc = (
        f"It falls to the limit of {quantity(limit, 'W/m2')} at {quantity(nohd, 'm')}."
        if nohd
        else f"It is below the limit of {quantity(limit, 'W/m2')} from the laser on."
    )
    told = sorted({*x.ticks(6), *([nohd] if nohd else ())})
    return Plot(
        title=title,
        desc=desc,
        svg=drawing.svg(title, desc),
        columns=("Distance, m", "Irradiance, W/m²", "Times the limit"),
        rows=tuple(
            (rounded(r), rounded(e), rounded(e / limit))
            for r, e in ((r, _irradiance(values, r)) for r in told)
        ),
    )


def _irradiance(values: Mapping[str, Any], distance: float) -> float:
    """Return the irradiance on the axis of a Gaussian beam: 4 P / (pi (a + phi r)^2).  [W/m2]"""
    width = values["beam_diameter"] * 1e-3 + values["divergence"] * 1e-3 * distance
    return float(4 * values["power"] / (math.pi * width**2))


def _decades(low: float, high: float, start: float, end: float) -> Axis:
    """Return an axis over whole powers of ten."""
    first, last = math.floor(math.log10(low)), math.ceil(math.log10(high))
    return Axis(10.0**first, 10.0**last, start, end, log=True)
