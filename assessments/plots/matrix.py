"""Where a rating stands on its scale, with the same squares as in the printed document."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assessments.drawing import INK, Drawing
from assessments.finding import Finding
from assessments.plots import Plot, Run
from assessments.rating import FIVE_BY_FIVE, Rating, Scale, Step

SHADES = ("#fff", "#e6e6e6", "#bdbdbd", "#8a8a8a")

_LEFT, _TOP, _RIGHT = 22.0, 18.0, 292.0


def scale_of(size: int, bands: Any) -> Scale:
    """Return a square scale with bands of its own, [lowest score, name] each, or the usual ones."""
    steps = FIVE_BY_FIVE.steps
    if bands is not None:
        steps = tuple(Step(name=name, low=low, meaning="") for low, name in bands)
    words = tuple(str(count) for count in range(1, size + 1))
    return Scale(severity=words, likelihood=words, steps=steps)


def rating(run: Run, values: Mapping[str, Any], finding: Finding) -> Plot:
    """Draw the matrix with a dot where the rating stands."""
    scale = scale_of(values["size"], values["scale"])
    now = Rating(severity=values["severity"], likelihood=values["likelihood"])
    ladder = sorted(scale.steps, key=lambda step: step.low)
    size = len(scale.severity)
    cell = ((_RIGHT - _LEFT) / size, 30.0 if size <= 6 else 22.0)
    foot = _TOP + size * cell[1]
    drawing = Drawing(foot + 38 + 18 * ((len(ladder) + 1) // 2))
    drawing.words((0, 11), "likelihood")
    for severity in range(1, size + 1):
        for likelihood in range(1, size + 1):
            square = Rating(severity=severity, likelihood=likelihood)
            corner = (_LEFT + (severity - 1) * cell[0], foot - likelihood * cell[1])
            _square(drawing, corner, cell, scale, square, ladder, here=square == now)
    for count in range(1, size + 1):
        drawing.words((8, foot - (count - 0.5) * cell[1] + 4), str(count), anchor="middle")
        middle = _LEFT + (count - 0.5) * cell[0]
        drawing.words((middle, foot + 15), str(count), anchor="middle")
    drawing.words((_RIGHT, foot + 29), "severity", anchor="end")
    for count, step in enumerate(ladder):
        corner = (_LEFT + 135 * (count % 2), foot + 38 + 18 * (count // 2))
        drawing.box(corner, 16, 12, fill=_shade(ladder, step))
        drawing.words((corner[0] + 22, corner[1] + 10), f"{step.name} {_scores(scale, step)}")
    score, step = scale.score(now), scale.step(now)
    title = "Where the rating stands on the scale"
    desc = (
        f"Severity {now.severity} and likelihood {now.likelihood} score {score}, "
        f"which is {step.name}."
    )
    return Plot(
        title=title,
        desc=desc,
        svg=drawing.svg(title, desc),
        columns=("Band", "Scores", "This rating"),
        rows=tuple(
            (each.name, _scores(scale, each), str(score) if each == step else "–")
            for each in ladder
        ),
    )


def _square(
    drawing: Drawing,
    corner: tuple[float, float],
    cell: tuple[float, float],
    scale: Scale,
    square: Rating,
    ladder: list[Step],
    *,
    here: bool,
) -> None:
    drawing.box(corner, *cell, fill=_shade(ladder, scale.step(square)))
    middle = (corner[0] + cell[0] / 2, corner[1] + cell[1] / 2)
    if here:
        drawing.dot(middle, radius=10.5)
    score = str(scale.score(square))
    at = (middle[0], middle[1] + 4)
    drawing.words(at, score, anchor="middle", bold=here, fill="#fff" if here else INK)


def _shade(ladder: list[Step], step: Step) -> str:
    last = max(len(ladder) - 1, 1)
    return SHADES[round(ladder.index(step) * (len(SHADES) - 1) / last)]


def _scores(scale: Scale, step: Step) -> str:
    above = [other.low for other in scale.steps if other.low > step.low]
    top = min(above) - 1 if above else len(scale.severity) * len(scale.likelihood)
    return str(step.low) if top <= step.low else f"{step.low} to {top}"
