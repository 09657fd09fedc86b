"""A site's own scale: what is read as one, and where it departs from the axioms."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.errors import Refused
from assessments.rating import (
    FIVE_BY_FIVE,
    Rating,
    Scale,
    Step,
    departures,
    scale_from,
    scale_written,
)

WRITTEN = scale_written(FIVE_BY_FIVE)


def steps(*lows: int) -> list[dict[str, Any]]:
    return [{"name": f"Step {n}", "low": low, "meaning": "Do."} for n, low in enumerate(lows)]


@st.composite
def scales(draw: st.DrawFn) -> Scale:
    ranks = st.integers(3, 6).map(lambda n: tuple(f"rank {i}" for i in range(n)))
    severity, likelihood = draw(ranks), draw(ranks)
    top = len(severity) * len(likelihood)
    lows = draw(st.lists(st.integers(2, top), min_size=1, max_size=5, unique=True).map(sorted))
    named = tuple(Step(name=f"s{n}", low=n, meaning="Act.") for n in (1, *lows))
    return Scale(severity=severity, likelihood=likelihood, steps=named)


@given(scales())
def test_a_scale_reads_back_as_it_was_written_and_every_rating_has_a_step(scale: Scale) -> None:
    assert scale_from(scale_written(scale)) == scale
    for s in range(1, len(scale.severity) + 1):
        for k in range(1, len(scale.likelihood) + 1):
            step = scale.step(Rating(severity=s, likelihood=k))
            assert step.low <= s * k


@pytest.mark.parametrize(
    ("tree", "words"),
    [
        (None, "made of severity"),
        ([], "made of severity"),
        (WRITTEN | {"severity": ["a", "b"]}, "severity has 3 to 6"),
        (WRITTEN | {"likelihood": "abc"}, "likelihood has 3 to 6"),
        (WRITTEN | {"severity": ["a", "b", "A"]}, "twice in severity"),
        (WRITTEN | {"severity": ["a", "b", " "]}, "1 to 80 characters"),
        (WRITTEN | {"severity": ["a", "b", "c\nd"]}, "on one line"),
        (WRITTEN | {"severity": ["a", "b", "c" * 81]}, "1 to 80 characters"),
        (WRITTEN | {"steps": steps(1)}, "2 to 6 steps"),
        (WRITTEN | {"steps": steps(2, 5)}, "begins at 1"),
        (WRITTEN | {"steps": steps(1, 5, 5)}, "higher score"),
        (WRITTEN | {"steps": steps(1, 26)}, "highest score is 25"),
        (WRITTEN | {"steps": [*steps(1), {"name": "x", "low": True, "meaning": "y"}]}, "whole"),
        (WRITTEN | {"steps": [*steps(1), {"name": "x", "low": 5}]}, "1 to 200"),
        (WRITTEN | {"steps": [1, 2]}, "A step has a name"),
    ],
)
def test_what_is_no_scale_is_refused_in_one_sentence(tree: Any, words: str) -> None:
    with pytest.raises(Refused, match=words) as refusal:
        scale_from(tree)
    assert "\n" not in refusal.value.sentence


def named(severity: int, likelihood: int, *lows: int) -> Scale:
    """Return a scale of so many ranks with steps from these scores."""
    return scale_from(
        {
            "severity": [f"s{n}" for n in range(severity)],
            "likelihood": [f"k{n}" for n in range(likelihood)],
            "steps": steps(*lows),
        }
    )


# Cox, Risk Analysis 28 (2), 2008, pages 497 to 512; the verdicts on common bands of a five by
# five matrix are those of tests/published/test_rating.py, worked out by hand from the cells.
@pytest.mark.parametrize(
    ("scale", "departs"),
    [
        (named(5, 5, 1, 8, 15), []),
        (named(5, 5, 1, 6, 15), []),
        (named(5, 5, 1, 5, 15), ["Consistent colouring"]),
        (FIVE_BY_FIVE, ["Consistent colouring"]),  # cells (1, 5) and (5, 1) are not the lowest
        # Two steps alone put green beside red: he shows that three colours are the fewest. And
        # cell (2, 2), red from 1/9 of the whole, overlaps the green (1, 3) up to 3/9.
        (named(3, 3, 1, 4), ["Weak consistency", "Betweenness", "Consistent colouring"]),
        # Green up to 9 and red from 10: cell (2, 5) stands for less than cell (3, 3).
        (named(5, 5, 1, 10), ["Weak consistency", "Betweenness", "Consistent colouring"]),
    ],
)
def test_the_departures_from_the_axioms_are_said(scale: Scale, departs: list[str]) -> None:
    said = departures(scale)
    assert [sentence.split(" is not kept")[0] for sentence in said] == departs
