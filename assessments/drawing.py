"""A small pen for plots: axes, rules, curves and labels, as the text of an inline SVG.

Black on white, told apart by dash and width, each line labelled where it runs. Only
presentation attributes are used, because the web pages allow no style of their own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape

from assessments.written import raised, rounded

WIDTH = 300.0  # of every drawing, in its own units: a phone shows about one pixel for each
SIZE = 12.0  # of all letters

INK, RULE, SHADE = "#000", "#b8b8b8", "#d9d9d9"
DASHED, DOTTED = "7 4", "1.5 3"

# Mean width of a letter of Source Sans 3, as a share of its size; figures are a little narrower.
_LETTER = 0.48

Point = tuple[float, float]
Place = tuple[float, float, str]  # where words begin, are centred or end, by the third
Box = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass(frozen=True)
class Axis:
    """Where a value lies between two places of the drawing, evenly or by its logarithm."""

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def at(self, value: float) -> float:
        low, high, value = (
            (math.log10(each) for each in (self.low, self.high, value))
            if self.log
            else (self.low, self.high, value)
        )
        return self.start + (value - low) / (high - low) * (self.end - self.start)

    def ticks(self, most: int) -> list[float]:
        """Return round values on the axis, hardly more than ``most``."""
        return _decades(self, most) if self.log else _round_steps(self, most)

    def figures(self, value: float) -> str:
        """Write a value at its tick; on an axis by logarithms a large one as a power of ten."""
        power = math.log10(value) if self.log else 0.0
        if -3 <= power <= 3:
            return rounded(value)
        return f"10{raised(round(power))}"


def _round_steps(axis: Axis, most: int) -> list[float]:
    step = round_up((axis.high - axis.low) / most)
    first, last = math.ceil(axis.low / step - 1e-9), math.floor(axis.high / step + 1e-9)
    return [float(f"{count * step:.12g}") for count in range(first, last + 1)]


def _decades(axis: Axis, most: int) -> list[float]:
    first = math.ceil(math.log10(axis.low) - 1e-9)
    last = math.floor(math.log10(axis.high) + 1e-9)
    every = max(1, math.ceil((last - first) / most))
    return [10.0**power for power in range(first, last + 1, every)]


def round_up(value: float) -> float:
    """Return the next of 1, 2 or 5 times a power of ten.

    >>> round_up(0.3), round_up(7.0)
    (0.5, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= value * (1 - 1e-9))


def width_of(words: str) -> float:
    """Return about how wide words are, in units of the drawing."""
    return _LETTER * SIZE * len(words)


@dataclass
class Drawing:
    """Marks on a sheet that is 300 units wide; y grows downwards."""

    height: float
    marks: list[str] = field(default_factory=list)
    taken: list[Box] = field(default_factory=list)

    def line(self, start: Point, end: Point, *, width: float = 1, dash: str = "") -> None:
        self.path([start, end], width=width, dash=dash)

    def rule(self, start: Point, end: Point) -> None:
        """A hairline to read a value by."""
        self._path([start, end], f'stroke="{RULE}" stroke-width="0.7"')

    def path(self, points: Iterable[Point], *, width: float = 2, dash: str = "") -> None:
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._path(points, f'stroke="{INK}" stroke-width="{width:g}"{dashed}')

    def area(self, points: Iterable[Point], *, fill: str) -> None:
        self.marks.append(f'<path d="{_d(points)}z" fill="{fill}"/>')

    def box(self, corner: Point, width: float, height: float, *, fill: str) -> None:
        self.marks.append(
            f'<rect x="{_n(corner[0])}" y="{_n(corner[1])}" width="{_n(width)}" '
            f'height="{_n(height)}" fill="{fill}" stroke="{INK}" stroke-width="0.7"/>'
        )

    def dot(self, place: Point, *, fill: str = INK, radius: float = 4) -> None:
        self.marks.append(
            f'<circle cx="{_n(place[0])}" cy="{_n(place[1])}" r="{radius:g}" fill="{fill}" '
            f'stroke="{INK}" stroke-width="1.2"/>'
        )

    def words(
        self,
        place: Point,
        words: str,
        *,
        anchor: str = "start",
        bold: bool = False,
        fill: str = INK,
    ) -> None:
        weight = ' font-weight="700"' if bold else ""
        side = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self.marks.append(
            f'<text x="{_n(place[0])}" y="{_n(place[1])}" fill="{fill}"{side}{weight}>'
            f"{escape(words)}</text>"
        )

    def label(
        self,
        words: str,
        places: Sequence[Place],
        *,
        avoid: Iterable[Point] = (),
        bold: bool = False,
    ) -> None:
        """Put words where, of several places, they cover the least of other labels and points.

        Equal places are taken in the order given. They stand on white, inside the sheet.
        """
        points = list(avoid)
        boxes = [_box(place, words) for place in places]
        best = min(boxes, key=lambda box: self._covered(box, points))
        self.taken.append(best)
        left, top, right, bottom = best
        self.marks.append(
            f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(right - left)}" '
            f'height="{_n(bottom - top)}" fill="#fff"/>'
        )
        middle = (left + right) / 2
        moved = abs(_box(places[boxes.index(best)], words, clamped=False)[0] - left) > 1
        anchor = "middle" if moved else places[boxes.index(best)][2]
        at = {"start": left + 2, "middle": middle, "end": right - 2}[anchor]
        self.words((at, bottom - 4), words, anchor=anchor, bold=bold)

    def _covered(self, box: Box, points: Sequence[Point]) -> int:
        left, top, right, bottom = box
        overlaps = sum(
            left < other[2] and other[0] < right and top < other[3] and other[1] < bottom
            for other in self.taken
        )
        inside = sum(left <= x <= right and top <= y <= bottom for x, y in points)
        outside = (top < 0) + (bottom > self.height)
        return 1000 * (overlaps + outside) + inside

    def across(self, x: Axis, y: Axis, name: str, *, most: int = 5) -> None:
        """The axis at the foot: its line, ticks and figures, and its name at the right below."""
        foot = y.start
        self.line((x.start, foot), (x.end, foot))
        for value in x.ticks(most):
            at = x.at(value)
            self.line((at, foot), (at, foot + 4))
            figures = x.figures(value)
            edge = WIDTH - width_of(figures) / 2
            middle = min(max(at, width_of(figures) / 2), edge)
            self.words((middle, foot + 16), figures, anchor="middle")
        self.words((x.end, foot + 31), name, anchor="end")

    def up(self, x: Axis, y: Axis, name: str, *, most: int = 4) -> None:
        """The axis at the side: a hairline and a figure for each value, its name on top."""
        for value in y.ticks(most):
            at = y.at(value)
            self.rule((x.start, at), (x.end, at))
            self.words((x.start - 5, at + 4), y.figures(value), anchor="end")
            self.taken.append((0.0, at - 6, x.start, at + 6))
        self.words((0, y.end - 10), name)

    def svg(self, title: str, desc: str) -> str:
        """Return the drawing with its title and description for those who do not see it."""
        return (
            f'<svg class="plot" xmlns="http://www.w3.org/2000/svg" role="img" '
            f'viewBox="0 0 {WIDTH:g} {_n(self.height)}" font-family="Source Sans 3, sans-serif" '
            f'font-size="{SIZE:g}"><title>{escape(title)}</title><desc>{escape(desc)}</desc>'
            f"{''.join(self.marks)}</svg>"
        )

    def _path(self, points: Iterable[Point], stroke: str) -> None:
        self.marks.append(f'<path d="{_d(points)}" fill="none" {stroke}/>')


def _box(place: Place, words: str, *, clamped: bool = True) -> Box:
    x, y, anchor = place
    width = width_of(words) + 4
    left = x - {"start": 2, "middle": width / 2, "end": width - 2}[anchor]
    if clamped:
        left = min(max(left, 0.0), max(WIDTH - width, 0.0))
    return left, y - SIZE + 1, left + width, y + 4


def _d(points: Iterable[Point]) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in points)


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def spaced(low: float, high: float, count: int, *, log: bool = False) -> Sequence[float]:
    """Return values from one to another, evenly spaced or evenly by their logarithm."""
    if log:
        return [low * (high / low) ** (step / (count - 1)) for step in range(count)]
    return [low + (high - low) * step / (count - 1) for step in range(count)]
