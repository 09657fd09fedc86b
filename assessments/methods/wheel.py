"""Abrasive wheels and cutters: peripheral speed and rotation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import ALL_BANDS, Amount, Judge, Number, OneOf, Output, Result, method, step

GEOMETRY = Source(
    title="Machinist's rule: the rim moves one circumference in each turn", place="geometry"
)
HSG17 = Source(title="HSE, Safety in the use of abrasive wheels", edition="HSG17", confirmed=False)


def _marked(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    if inputs["marked"] is None or inputs["rotation"] is None:
        return None
    source = Source(title="The marking on the wheel", place="as entered")
    return Limit(
        name="Speed marked on the wheel", value=inputs["marked"], unit="m/s", source=source
    )


@method(
    id="wheel.speed",
    title="Speed of a wheel or cutter",
    answers="How fast does the rim move, or how fast may the spindle turn?",
    inputs=(
        Number("diameter", "mm", 1, 3000, meaning="Diameter of the new wheel", example=125),
        Number("speed", "m/s", 0.1, 200, label="Rim speed", meaning="Peripheral speed", example=80),
        Number(
            "rotation",
            "1/min",
            1,
            100_000,
            label="Rotation of the spindle",
            meaning="Rotation of the spindle",
            example=11_000,
        ),
        Number(
            "marked",
            "m/s",
            1,
            200,
            label="Speed marked on the wheel",
            meaning="Largest speed marked on the wheel, to judge a rotation by",
            example=80,
            optional=True,
        ),
    ),
    outputs=(
        Output("rotation", "1/min", optional=True, meaning="Rotation at the given speed"),
        Output("speed", "m/s", optional=True, meaning="Peripheral speed at the given rotation"),
    ),
    equation="v = pi d n",
    sources=(GEOMETRY, HSG17),
    validity="A rigid wheel; the diameter is that of the new wheel.",
    cautions=(
        "A wheel is never run above the speed marked on it, and never without the spindle speed "
        "being known. Ring test, flanges, guard and work rest are checked before use.",
    ),
    bands=ALL_BANDS,
    one_of=(OneOf((("speed",), ("rotation",))),),
    judge=Judge("speed", by=_marked),
)
def speed(*, diameter: Amount, speed: Any, rotation: Any, marked: Any) -> Result:
    """Return rotation from speed, or speed from rotation.  [1/min or m/s]

    >>> from assessments.calculate import calculate
    >>> question = {"diameter": 125, "speed": 80, "marked": 80}
    >>> calculate("wheel.speed", question).outputs["rotation"].value
    12223.1
    """
    around = np.pi * diameter / 1000
    note = step("Circumference {:.4g} m", around)
    if rotation is None:
        return Result({"rotation": 60 * speed / around}, steps=[note])
    return Result({"speed": around * rotation / 60}, steps=[note])
