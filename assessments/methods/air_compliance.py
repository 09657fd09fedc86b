"""Do several measurements together show that a limit is kept?  The test of EN 689."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import (
    ALL_BANDS,
    Amount,
    Judge,
    Number,
    Output,
    Result,
    Series,
    method,
    require,
    step,
)
from assessments.methods.air_common import BELOW_IS_NO_PROOF, BY_UNIT, UNIT

EN_689 = Source(
    title="EN 689 Workplace exposure, strategy for testing compliance",
    edition="2018",
    place="clause 5.5 and annex F",
    confirmed=False,
)
# By the number of results: the share of the limit below which all of them have to lie.
SCREENING = {3: 0.10, 4: 0.15, 5: 0.20}
# UT by the number of results from 6 on: 70 % confidence that less than 5 % are over the limit.
UT = dict(
    enumerate(
        (
            *(2.187, 2.120, 2.072, 2.035, 2.005, 1.981, 1.961, 1.944, 1.929, 1.917),
            *(1.905, 1.895, 1.886, 1.878, 1.870, 1.863, 1.857, 1.851, 1.846, 1.841),
            *(1.836, 1.832, 1.828, 1.824, 1.820),
        ),
        start=6,
    )
)
COMPLIANT, EXCEEDED, MORE = "compliant", "not compliant", "more measurements needed"


def _en689_limit(inputs: Mapping[str, Any], limits: Limits) -> Limit:
    return Limit(
        name="Share in the limit value entered",
        value=1.0,
        unit="1",
        action=SCREENING.get(len(inputs["results"])),
        source=EN_689,
    )


@method(
    id="air.en689",
    title="Test of compliance by EN 689",
    answers="Do these measurements show that a group keeps to a limit?",
    inputs=(
        UNIT,
        Series(
            "results",
            "ppm",
            1e-9,
            1_000_000,
            most=30,
            meaning="Exposure of people who work alike, each averaged over the limit's own time",
            example=[12, 22, 31, 18, 40, 27],
            unit_by=BY_UNIT,
        ),
        Number(
            "limit",
            "ppm",
            1e-9,
            1_000_000,
            meaning="The limit value, for the same time",
            example=100,
            unit_by=BY_UNIT,
        ),
    ),
    outputs=(
        Output("verdict", options=(COMPLIANT, EXCEEDED, MORE), meaning="What the test says"),
        Output("ratio_max", "1", meaning="Largest result as a share of the limit"),
        Output("exposure_ratio", "1", meaning="The share of the limit that is judged"),
        Output("geometric_mean", "ppm", meaning="Geometric mean", unit_by=BY_UNIT),
        Output("gsd", "1", optional=True, meaning="Geometric standard deviation"),
        Output(
            "percentile_95",
            "ppm",
            optional=True,
            meaning="Estimate of the 95th percentile",
            unit_by=BY_UNIT,
        ),
        Output("ur", "1", optional=True, meaning="Statistic of six or more results"),
        Output("ur_required", "1", optional=True, meaning="What UR has to reach"),
    ),
    equation="UR = ( ln L - ln GM ) / ln GSD >= UT(n); below six results: all below a share of L",
    sources=(EN_689,),
    validity="One group of similar exposure, 1 to 30 results, roughly lognormal, all above the "
    "limit of quantification.",
    cautions=(
        "A result below the limit of quantification is not nought: the annex of the standard "
        "says how it is treated.",
        "Compliance is confirmed again every one to three years, and after any change.",
        BELOW_IS_NO_PROOF,
    ),
    bands=ALL_BANDS,
    judge=Judge("exposure_ratio", by=_en689_limit),
)
def en689(*, unit: str, results: Any, limit: Amount) -> Result:
    """Return the test of compliance of three or more results.

    >>> from assessments.calculate import calculate
    >>> question = {"unit": "ppm", "results": [12, 22, 31, 18, 40, 27], "limit": 100}
    >>> calculate("air.en689", question).outputs["exposure_ratio"].value
    0.5904
    """
    values = np.stack(np.broadcast_arrays(*results))
    logs, largest = np.log(values), np.max(values, axis=0) / limit
    mean = np.mean(logs, axis=0)
    outputs = {"ratio_max": largest, "geometric_mean": np.exp(mean)}
    if len(results) > 1:
        spread = np.std(logs, axis=0, ddof=1)
        outputs |= {"gsd": np.exp(spread), "percentile_95": np.exp(mean + 1.645 * spread)}
    if len(results) < min(UT):
        return _screened(outputs, largest, len(results))
    require(
        spread > 1e-9, "results must differ from each other, for UR is infinite.", field="results"
    )
    return _tested(outputs, limit, mean, spread, UT[len(results)])


def _screened(outputs: dict[str, Amount], largest: Amount, count: int) -> Result:
    share = SCREENING.get(count)
    passed = largest < share if share else np.zeros_like(largest, dtype=bool)
    verdict = np.select([largest > 1, passed], [EXCEEDED, COMPLIANT], MORE)
    return Result(
        outputs | {"verdict": verdict, "exposure_ratio": largest},
        steps=[step("Largest result {:.3g} of the limit", largest)],
        doubts=[] if share else ["Not judged: fewer than three results."],
    )


def _tested(
    outputs: dict[str, Amount], limit: Amount, mean: Amount, spread: Amount, needed: float
) -> Result:
    ur = (np.log(limit) - mean) / spread
    # The upper confidence limit of the 95th percentile is at the limit exactly where UR is UT.
    upper = np.exp(mean + needed * spread) / limit
    largest = outputs["ratio_max"]
    ratio = np.where(largest > 1, np.maximum(upper, largest), upper)
    return Result(
        outputs
        | {
            "verdict": np.where(ratio > 1, EXCEEDED, COMPLIANT),
            "exposure_ratio": ratio,
            "ur": ur,
            "ur_required": np.full_like(ur, needed),
        },
        steps=[
            step("UR {:.3f} against UT {:.3f}", ur, needed),
            step("Upper limit of the 95th percentile: {:.3g} of the limit", upper),
        ],
    )
