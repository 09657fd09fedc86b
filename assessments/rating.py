"""Rating a hazard by severity and likelihood on the site's own scale.

A matrix orders risks roughly and can mislead; it is printed with its scale so that a
reader can judge it, and it never replaces a number held against a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assessments.errors import OutOfRange


@dataclass(frozen=True, kw_only=True)
class Rating:
    """One judgement: severity and likelihood, each counted from 1."""

    severity: int
    likelihood: int


@dataclass(frozen=True, kw_only=True)
class Step:
    """A band of scores, from ``low`` up to the next step."""

    name: str
    low: int
    meaning: str  # what has to be done


@dataclass(frozen=True, kw_only=True)
class Scale:
    """A site's scale: words for each severity and likelihood, and the bands of their product."""

    severity: tuple[str, ...]
    likelihood: tuple[str, ...]
    steps: tuple[Step, ...]

    def score(self, rating: Rating) -> int:
        """Return severity times likelihood.  [1 to rows times columns]"""
        self._check("severity", rating.severity, len(self.severity))
        self._check("likelihood", rating.likelihood, len(self.likelihood))
        return rating.severity * rating.likelihood

    def step(self, rating: Rating) -> Step:
        """Return the band that the score falls in."""
        score = self.score(rating)
        return max((s for s in self.steps if s.low <= score), key=lambda s: s.low)

    def _check(self, name: str, value: int, top: int) -> None:
        if not 1 <= value <= top:
            raise OutOfRange(f"{name} is {value}; this scale runs from 1 to {top}.", field=name)


# A five by five product scale is common practice; it is a default that a site may replace.
FIVE_BY_FIVE = Scale(
    severity=(
        "First aid only",
        "Up to three days away",
        "More than seven days away",
        "Permanent injury or illness",
        "Death",
    ),
    likelihood=(
        "Almost never",
        "Unlikely",
        "Possible",
        "Likely",
        "Almost certain",
    ),
    steps=(
        Step(name="Low", low=1, meaning="Keep the controls and their checks alive."),
        Step(name="Medium", low=5, meaning="Look for more that is reasonably practicable."),
        Step(name="High", low=10, meaning="Do more before the next use, or accept in writing."),
        Step(name="Stop", low=16, meaning="Do not use until the rating is lower."),
    ),
)


Cell = tuple[int, int]


def check_colours(colours: Mapping[Cell, str]) -> dict[str, bool]:
    """Return whether a square matrix of green, amber and red keeps the axioms for such matrices.

    Weak consistency: every red cell stands for at least as much risk as every green one.
    Betweenness: no step to the right, up or diagonally up leads from green straight to red.
    Consistent colouring, judged by the theorem that follows from all three: the lowest row and
    column are green, the second row and column hold no red.

    Source: Cox, Risk Analysis 28 (2), 2008, pages 497 to 512 (wording of the axioms from memory).
    """
    red = [cell for cell, colour in colours.items() if colour == "red"]
    green = [cell for cell, colour in colours.items() if colour == "green"]
    least_red = min(((i - 1) * (j - 1) for i, j in red), default=None)
    most_green = max((i * j for i, j in green), default=0)
    return {
        "weak_consistency": least_red is None or least_red >= most_green,
        "betweenness": not any(
            colours.get((i + right, j + up)) == "red"
            for i, j in green
            for right, up in ((1, 0), (0, 1), (1, 1))
        ),
        "consistent_colouring": all(
            colour == "green" if min(cell) == 1 else min(cell) > 2 or colour != "red"
            for cell, colour in colours.items()
        ),
    }
