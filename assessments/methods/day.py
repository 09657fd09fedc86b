"""A person's day at several machines, for exposures that no other family adds up."""

from __future__ import annotations

from typing import Any

from assessments.finding import Limit, Source
from assessments.method import (
    UNFAVOURABLE,
    Judge,
    Number,
    Output,
    Result,
    Rows,
    method,
    require,
    step,
)

DIRECTIVE = Source(
    title="Directive 2006/25/EC", edition="2006", place="annex I, table 1.1, row a", confirmed=False
)
ULTRAVIOLET_LIMIT = Limit(
    name="Effective ultraviolet exposure of one day, 180 to 400 nm",
    value=30.0,
    unit="J/m2",
    source=DIRECTIVE,
)


@method(
    id="day.ultraviolet",
    title="Ultraviolet exposure of a day",
    answers="How much effective ultraviolet do several sources put on eye and skin in one day?",
    inputs=(
        Rows(
            "exposures",
            (
                Number(
                    "effective_irradiance",
                    "W/m2",
                    0,
                    1e4,
                    label="Weighted irradiance",
                    meaning="Effective",
                    example=0.001,
                ),
                Number("duration", "h", 0, 24, meaning="Time a day in it", example=0.5),
            ),
            meaning="Each source with its effective irradiance at the person and the time in it",
            example=[[0.001, 0.5], [0.0004, 2]],
        ),
    ),
    outputs=(Output("effective_exposure", "J/m2", meaning="Effective radiant exposure"),),
    equation="H = sum( E_eff t )",
    sources=(DIRECTIVE,),
    validity="Irradiance weighted by the action spectrum, without eyewear, clothing or screens.",
    cautions=("UVA and blue light have limits of their own and are judged apart.",),
    bands=UNFAVOURABLE,
    judge=Judge("effective_exposure", by=lambda inputs, limits: ULTRAVIOLET_LIMIT),
)
def ultraviolet(*, exposures: Any) -> Result:
    """Return the effective ultraviolet exposure of a day.  [J/m2]

    >>> from assessments.calculate import calculate
    >>> question = {"exposures": [[0.001, 0.5], [0.0004, 2]]}
    >>> calculate("day.ultraviolet", question).outputs["effective_exposure"].value
    4.68
    """
    require(
        sum(hours for _, hours in exposures) <= 24,
        "The durations in exposures must not add up to more than 24 h.",
        field="exposures",
    )
    doses = [irradiance * hours * 3600 for irradiance, hours in exposures]
    return Result(
        {"effective_exposure": sum(doses)},
        steps=[
            step("{:g} W/m2 for {:g} h is {:.3g} J/m2", *row, dose)
            for row, dose in zip(exposures, doses, strict=True)
        ],
    )
