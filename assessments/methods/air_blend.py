"""The limit of a hydrocarbon solvent that is a blend, such as white spirit."""

from __future__ import annotations

from typing import Any

import numpy as np

from assessments.finding import Source
from assessments.method import Amount, Number, Output, Result, Rows, method, require, step

RECIPROCAL = Source(
    title="EH40/2005 Workplace exposure limits (HSE)",
    edition="fourth edition, 2020",
    place="mixtures of hydrocarbon solvents, reciprocal calculation procedure",
    confirmed=False,
)


def _rounded(limit: Amount) -> Amount:
    """Return the limit as EH40 rounds it: to 25 below 100, to 50 up to 600, to 200 above."""
    nearest = np.where(limit < 100, 25.0, np.where(limit <= 600, 50.0, 200.0))
    return np.round(limit / nearest) * nearest


@method(
    id="air.blend_limit",
    title="Limit of a hydrocarbon solvent blend",
    answers="What is the 8-hour limit of a solvent that is a blend of hydrocarbons?",
    inputs=(
        Rows(
            "components",
            (
                Number(
                    "mass_fraction",
                    "1",
                    1e-6,
                    1,
                    meaning="Share of the liquid by mass",
                    example=0.52,
                ),
                Number(
                    "guidance_value",
                    "mg/m3",
                    0.01,
                    10_000,
                    meaning="Guidance value of the group, or the limit of the substance",
                    example=1200,
                ),
            ),
            most=50,
            meaning="Each group: alkanes C5-C6 1800, C7 and above 1200, cycloalkanes C5-C6 1800, "
            "C7 and above 800, aromatics without a limit of their own 500 mg/m3 (from memory)",
            example=[[0.52, 1200], [0.27, 800], [0.21, 500]],
        ),
    ),
    outputs=(
        Output("limit", "mg/m3", meaning="Limit of the blend"),
        Output("rounded", "mg/m3", meaning="The same as the list rounds it"),
    ),
    equation="1 / L = sum( w / GV )",
    sources=(RECIPROCAL,),
    validity="The vapour has the composition of the liquid; aliphatic, cycloaliphatic and "
    "aromatic hydrocarbons that act alike.",
    cautions=("Substances with a limit of their own, as hexane, are judged by that as well.",),
)
def blend_limit(*, components: Any) -> Result:
    """Return the limit of a hydrocarbon blend by the reciprocal procedure.  [mg/m3]

    >>> from assessments.calculate import calculate
    >>> question = {"components": [[0.52, 1200], [0.27, 800], [0.21, 500]]}
    >>> calculate("air.blend_limit", question).outputs["limit"].value
    839.7
    """
    total = sum(share for share, _ in components)
    require(
        np.abs(total - 1) <= 0.02,
        "The mass fractions in components must add up to 1.",
        field="components",
    )
    limit = total / sum(share / value for share, value in components)
    return Result(
        {"limit": limit, "rounded": _rounded(limit)},
        steps=[step("{:g} of {:g} mg/m3", *component) for component in components],
    )
