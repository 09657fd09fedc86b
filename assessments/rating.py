"""Rating a hazard by severity and likelihood on the site's own scale.

A matrix orders risks roughly and can mislead; it is printed with its scale so that a
reader can judge it, and it never replaces a number held against a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assessments.errors import OutOfRange, Refused


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


# A site's own scale, as it is kept and read back.

MOST_RANKS = 6
MOST_WORDS = 80
MOST_MEANING = 200


def scale_from(tree: object) -> Scale:
    """Return the scale that a tree of words and whole numbers describes.

    ``{"severity": [words], "likelihood": [words], "steps": [{"name", "low", "meaning"}]}``, as
    `scale_written` writes it.  Refused, in one sentence: fewer than three or more than six
    ranks on a side, an empty or doubled word, steps that do not rise from 1 or lie above the
    highest score.
    """
    if not isinstance(tree, Mapping):
        raise Refused("A scale is made of severity, likelihood and steps.", field="scale")
    severity, likelihood = (_ranks(tree, side) for side in ("severity", "likelihood"))
    steps = _steps(tree.get("steps"), top=len(severity) * len(likelihood))
    return Scale(severity=severity, likelihood=likelihood, steps=steps)


def scale_written(scale: Scale) -> dict[str, Any]:
    """Return the tree of a scale, which `scale_from` reads back as an equal one."""
    return {
        "severity": list(scale.severity),
        "likelihood": list(scale.likelihood),
        "steps": [{"name": s.name, "low": s.low, "meaning": s.meaning} for s in scale.steps],
    }


def _ranks(tree: Mapping[Any, Any], side: str) -> tuple[str, ...]:
    given = tree.get(side)
    if not isinstance(given, (list, tuple)) or not 3 <= len(given) <= MOST_RANKS:
        # Cox's theorem: nothing smaller than three by three keeps his axioms.
        raise Refused(f"{side} has 3 to {MOST_RANKS} words, the mildest first.", field=side)
    return tuple(_distinct([_word(each, side, MOST_WORDS) for each in given], side))


def _steps(given: object, *, top: int) -> tuple[Step, ...]:
    if not isinstance(given, (list, tuple)) or not 2 <= len(given) <= MOST_RANKS:
        raise Refused(f"A scale has 2 to {MOST_RANKS} steps, the lowest first.", field="steps")
    steps = tuple(_step(each) for each in given)
    _distinct([step.name for step in steps], "steps")
    lows = [step.low for step in steps]
    if lows[0] != 1:
        raise Refused("The lowest step begins at 1: every score falls in a step.", field="steps")
    if lows != sorted(set(lows)):
        raise Refused("Each step begins at a higher score than the one before.", field="steps")
    if lows[-1] > top:
        raise Refused(
            f"The step “{steps[-1].name}” begins at {lows[-1]}, and the highest score is {top}.",
            field="steps",
        )
    return steps


def _step(given: object) -> Step:
    if not isinstance(given, Mapping):
        raise Refused("A step has a name, its lowest score and its meaning.", field="steps")
    low = given.get("low")
    if isinstance(low, bool) or not isinstance(low, int) or low < 1:
        raise Refused("A step begins at a whole number from 1.", field="steps")
    return Step(
        name=_word(given.get("name"), "steps", MOST_WORDS),
        low=low,
        meaning=_word(given.get("meaning"), "steps", MOST_MEANING),
    )


def _word(given: object, side: str, most: int) -> str:
    word = given.strip() if isinstance(given, str) else ""
    if not 1 <= len(word) <= most or not word.isprintable():
        raise Refused(f"Each word of {side} has 1 to {most} characters on one line.", field=side)
    return word


def _distinct(words: list[str], side: str) -> list[str]:
    if len({word.casefold() for word in words}) != len(words):
        raise Refused(f"A word stands twice in {side}.", field=side)
    return words


def departures(scale: Scale) -> tuple[str, ...]:
    """Say, one sentence each, where a scale departs from Cox's axioms; nothing if nowhere.

    The lowest step is taken as green, the highest as red and those between as amber, and the
    ranks as equal steps on both sides.  Source: as `check_colours`.
    """
    highest = scale.steps[-1].name
    colours = {
        (i, j): _colour(scale, Rating(severity=i, likelihood=j), highest)
        for i in range(1, len(scale.severity) + 1)
        for j in range(1, len(scale.likelihood) + 1)
    }
    return tuple(_DEPARTS[name] for name, keeps in check_colours(colours).items() if not keeps)


def _colour(scale: Scale, rating: Rating, highest: str) -> str:
    name = scale.step(rating).name
    return "red" if name == highest else "green" if name == scale.steps[0].name else "amber"


_DEPARTS = {
    "weak_consistency": "Weak consistency is not kept: a rating in the highest step can stand for "
    "less risk than one in the lowest.",
    "betweenness": "Betweenness is not kept: one rank more leads from the lowest step straight to "
    "the highest.",
    "consistent_colouring": "Consistent colouring is not kept: equal risks can fall in different "
    "steps (the lowest row and column would all lie in the lowest step, the second ones outside "
    "the highest).",
}
