"""Lifting by hand: the guideline filter of Great Britain."""

from __future__ import annotations

from typing import Any

import numpy as np

from assessments.finding import Source
from assessments.method import Amount, Choice, Number, Output, Result, Rows, method, step

FILTER = Source(
    title="HSE, Manual Handling Operations Regulations, guidance L23, risk filter",
    edition="4th edition, 2016",
    place="figure of the lifting and lowering filter",
    confirmed=False,
)

# Filter values in kg, close to the body and at arm's length (from memory; L23, 4th edition).
_ZONES = {
    "above_shoulder": "Hands above the shoulder",
    "shoulder_elbow": "Between shoulder and elbow",
    "elbow_knuckle": "Between elbow and knuckle",
    "knuckle_lower_leg": "Between knuckle and the middle of the lower leg",
    "below_lower_leg": "Below the middle of the lower leg",
}
FILTER_VALUES = {
    "male": {
        "above_shoulder": (10, 5),
        "shoulder_elbow": (20, 10),
        "elbow_knuckle": (25, 15),
        "knuckle_lower_leg": (20, 10),
        "below_lower_leg": (10, 5),
    },
    "female": {
        "above_shoulder": (7, 3),
        "shoulder_elbow": (13, 7),
        "elbow_knuckle": (16, 10),
        "knuckle_lower_leg": (13, 7),
        "below_lower_leg": (7, 3),
    },
}

NOT_COMPARED, INSIDE, BEYOND = "no load to compare", "inside the filter", "assess more fully"


def frequency_share(frequency: Amount) -> Amount:
    """Return what repetition leaves of a filter value.

    The guidance takes off 30 % at 1 to 2 lifts a minute, 50 % at 5 to 8 and 80 % above 12, and
    nothing up to 30 an hour; in the gaps between, the larger cut is taken.
    """
    return np.select([frequency <= 0.5, frequency <= 2, frequency <= 8], [1.0, 0.7, 0.5], 0.2)


def twist_share(twist: Amount) -> Amount:
    """Return what twisting leaves: 10 % off beyond 45 degrees, 20 % off beyond 90."""
    return np.select([twist <= 45, twist <= 90], [1.0, 0.9], 0.8)


@method(
    id="lifting.filter",
    title="Guideline filter for lifting",
    answers="Is this lift light enough that nothing more needs to be worked out?",
    inputs=(
        Rows(
            "zones",
            (
                Choice("height", _ZONES, meaning="Where the hands are", example="elbow_knuckle"),
                Choice(
                    "reach",
                    {"near": "Close to the body", "far": "At arm's length"},
                    meaning="How far out",
                    example="near",
                ),
            ),
            most=10,
            label="Zones that the hands pass",
            meaning="Every zone that the hands pass through; the smallest value counts",
            example=[["elbow_knuckle", "near"], ["shoulder_elbow", "near"]],
        ),
        Choice(
            "sex",
            {"male": "Men", "female": "Women; gives the lower values"},
            meaning="Whose filter; where both lift, the lower",
            example="female",
        ),
        Number(
            "frequency",
            "1/min",
            0,
            60,
            label="Lifts a minute",
            meaning="Lifts a minute",
            example=0.5,
        ),
        Number(
            "twist",
            "deg",
            0,
            180,
            label="Twist of the body",
            meaning="Twist of the body to the side",
            example=0,
        ),
        Number(
            "load",
            "kg",
            0.1,
            200,
            label="Weight of the load",
            meaning="Weight to compare",
            example=10,
            optional=True,
        ),
    ),
    outputs=(
        Output("guideline", "kg", meaning="Weight below which the filter asks nothing more"),
        Output("verdict", options=(INSIDE, BEYOND, NOT_COMPARED), meaning="Beside the filter"),
    ),
    equation="guideline = smallest filter value x share left by frequency x share left by twist",
    sources=(FILTER,),
    validity="Two hands, an easy grip, a stable stance, reasonable surroundings, a healthy adult.",
    cautions=(
        "Filter values are from memory and are no limits: beyond them the law asks for a fuller "
        "assessment, below them a risk may remain.",
    ),
)
def guideline(*, zones: Any, sex: str, frequency: Amount, twist: Amount, load: Any) -> Result:
    """Return the filter value of a lift.  [kg]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "zones": [["elbow_knuckle", "near"], ["shoulder_elbow", "near"]], "sex": "female",
    ...     "frequency": 0.5, "twist": 0, "load": 10,
    ... }
    >>> calculate("lifting.filter", question).outputs["guideline"].value
    13.0
    """
    values = [FILTER_VALUES[sex][height][reach == "far"] for height, reach in zones]
    allowed = min(values) * frequency_share(frequency) * twist_share(twist)
    verdict: Amount = NOT_COMPARED
    if load is not None:
        verdict = np.where(np.asarray(load) <= allowed, INSIDE, BEYOND)
    return Result(
        {"guideline": allowed, "verdict": verdict},
        steps=[
            step("Smallest filter value {} kg", min(values)),
            step("Repetition leaves {:.0%}", frequency_share(frequency)),
            step("Twist leaves {:.0%}", twist_share(twist)),
        ],
    )
