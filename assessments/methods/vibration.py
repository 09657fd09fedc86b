"""Hand-arm vibration: exposure of a day, and how long a tool may be held."""

from __future__ import annotations

from typing import Any

import numpy as np

from assessments.finding import Source
from assessments.method import (
    ALL_BANDS,
    Amount,
    Judge,
    Number,
    Output,
    Result,
    Rows,
    method,
    require,
    step,
)

DIRECTIVE = Source(title="Directive 2002/44/EC", edition="2002", place="article 3 and annex A")
ISO_5349 = Source(title="ISO 5349-1", edition="2001", place="clause 5", confirmed=False)
POINTS = Source(title="HSE supplier information sheet 246/31", place="paragraphs 23 and 24")

CAUTIONS = (
    "Count the time with the trigger pressed, not the length of the job; take the worse hand.",
    "A maker's declared value alone is often too low in use: the regulator suggests doubling it.",
)

ACTION, LIMIT = 2.5, 5.0  # m/s2 A(8), Directive 2002/44/EC, article 3 (1)


@method(
    id="vibration.daily",
    title="Daily hand-arm vibration exposure",
    answers="How much vibration do these tools put into a hand in one day?",
    inputs=(
        Rows(
            "tools",
            (
                Number(
                    "magnitude",
                    "m/s2",
                    0,
                    100,
                    label="Vibration magnitude",
                    meaning="Vibration total value",
                    example=5,
                ),
                Number("duration", "h", 0, 24, meaning="Trigger time a day", example=2),
            ),
            meaning="Each tool with its vibration and its trigger time",
            example=[[5, 2], [3, 1.5]],
        ),
    ),
    outputs=(
        Output("a8", "m/s2", meaning="Daily exposure A(8)"),
        Output("parts", "m/s2", meaning="What each tool alone would give"),
        Output("points", "1", meaning="Exposure points; 100 are the action value, 400 the limit"),
    ),
    equation="A(8) = sqrt( sum( a^2 t ) / 8 h )",
    sources=(DIRECTIVE, ISO_5349, POINTS),
    validity="Hand-arm vibration as frequency-weighted total values of all three axes.",
    cautions=CAUTIONS,
    bands=ALL_BANDS,
    judge=Judge("a8", by=lambda inputs, limits: limits.physical("vibration.daily")),
)
def daily(*, tools: Any) -> Result:
    """Return the eight-hour vibration exposure of a day's tools.  [m/s2]

    >>> from assessments.calculate import calculate
    >>> calculate("vibration.daily", {"tools": [[5, 2], [3, 1.5]]}).outputs["a8"].value
    2.817
    """
    require(
        sum(hours for _, hours in tools) <= 24,
        "The durations in tools must not add up to more than 24 h.",
        field="tools",
    )
    squares = [magnitude**2 * hours for magnitude, hours in tools]
    total = sum(squares)
    return Result(
        {
            "a8": np.sqrt(total / 8),
            "parts": [np.sqrt(square / 8) for square in squares],
            "points": 2 * total,
        },
        steps=[
            step("{:g} m/s2 for {:g} h is {:.1f} points", *tool, 2 * square)
            for tool, square in zip(tools, squares, strict=True)
        ],
    )


@method(
    id="vibration.time_to",
    title="Trigger time to the action and limit values",
    answers="How long may this tool be held before the action value, and before the limit?",
    inputs=(
        Number(
            "magnitude",
            "m/s2",
            0.5,
            100,
            label="Vibration magnitude",
            meaning="Vibration total value",
            example=5,
        ),
    ),
    outputs=(
        Output("to_action", "h", meaning="Trigger time to 2.5 m/s2 A(8), or 100 points"),
        Output("to_limit", "h", meaning="Trigger time to 5 m/s2 A(8), or 400 points"),
    ),
    equation="t = 8 h x ( A(8) / a )^2",
    sources=(DIRECTIVE, ISO_5349),
    validity="This tool alone, with no other vibration on the same day. More than 24 h means that "
    "a day does not reach the value.",
    cautions=CAUTIONS,
)
def time_to(*, magnitude: Amount) -> Result:
    """Return the trigger times to action value and limit.  [h]

    >>> from assessments.calculate import calculate
    >>> calculate("vibration.time_to", {"magnitude": 5}).outputs["to_action"].value
    2.0
    """
    return Result(
        {"to_action": 8 * (ACTION / magnitude) ** 2, "to_limit": 8 * (LIMIT / magnitude) ** 2},
        steps=[step("{:.1f} points an hour", 2 * magnitude**2)],
    )
