"""What several plots have in common: a labelled level, the spread of a result."""

from __future__ import annotations

from collections.abc import Sequence

from assessments.drawing import Axis, Drawing, Place, Point, spaced
from assessments.finding import Finding


def spread_of(finding: Finding, output: str) -> tuple[float, float] | None:
    """Return the 5th and 95th percentile of an output, where inputs were uncertain."""
    spread = finding.uncertainty.get("outputs", {}).get(output)
    return (spread["p05"], spread["p95"]) if spread else None


def level(
    drawing: Drawing, x: Axis, at: float, words: str, avoid: Sequence[Point], *, dash: str
) -> list[Point]:
    """A horizontal line with its words above or below it, on the side where there is room.

    Returns points along it, for other labels to keep off.
    """
    drawing.line((x.start, at), (x.end, at), width=1.2, dash=dash)
    places = [
        (side, at + shift, anchor)
        for shift in (-5, 15)
        for side, anchor in (
            (x.end, "end"),
            (x.start + 3, "start"),
            ((x.start + x.end) / 2, "middle"),
        )
    ]
    drawing.label(words, places, avoid=avoid)
    return [(along, at) for along in spaced(x.start, x.end, 50)]


def about(dot: Point) -> list[Place]:
    x, y = dot
    near = [(x + 8, y + 15, "start"), (x - 8, y - 7, "end"), (x - 8, y + 15, "end")]
    far = [(x - 8, y + 30, "end"), (x + 8, y + 30, "start"), (x - 8, y + 45, "end")]
    return [*near, (x + 8, y - 7, "start"), *far]


def whisker(drawing: Drawing, low: Point, high: Point) -> None:
    """The 5th to the 95th percentile, as a line with feet."""
    upright = low[0] == high[0]
    drawing.line(low, high, width=1.2)
    for x, y in (low, high):
        foot = ((x - 4, y), (x + 4, y)) if upright else ((x, y - 4), (x, y + 4))
        drawing.line(*foot, width=1.2)
