"""Exposure to what is in the air: averages, mixtures and long shifts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import (
    ALL_BANDS,
    Amount,
    Choice,
    Judge,
    Number,
    Output,
    Result,
    Rows,
    method,
    require,
    step,
)
from assessments.methods.air_common import (
    AGENT,
    BELOW_IS_NO_PROOF,
    BY_UNIT,
    EH40,
    OSHA_AIR,
    UNIT,
    exposure_limit,
    short_term_limit,
)

_CONCENTRATION = Number(
    "concentration",
    "ppm",
    0,
    1_000_000,
    meaning="Mean concentration in the breathing zone over this time",
    example=150,
    unit_by=BY_UNIT,
)
ONE_DAY = "One day says little about other days: EN 689 asks for at least three measurements."


@method(
    id="air.twa",
    title="Eight-hour average exposure",
    answers="How much of a substance did this person breathe in over the day?",
    inputs=(
        UNIT,
        Rows(
            "samples",
            (
                _CONCENTRATION,
                Number("duration", "h", 0, 24, meaning="How long it lasted", example=2),
            ),
            meaning="Each part of the day: its mean concentration and how long it lasted",
            example=[[150, 2], [75, 2], [50, 4]],
        ),
        AGENT,
    ),
    outputs=(
        Output("twa_8h", "ppm", meaning="Exposure averaged over 8 h", unit_by=BY_UNIT),
        Output(
            "average",
            "ppm",
            meaning="Mean over the time that was listed",
            optional=True,
            unit_by=BY_UNIT,
        ),
        Output("parts", "ppm", meaning="What each part adds to it", unit_by=BY_UNIT),
    ),
    equation="TWA = sum( C x t ) / 8 h",
    sources=(OSHA_AIR, EH40),
    validity="The 8 h stay 8 h however long the shift is. Personal samples in the breathing zone.",
    cautions=(ONE_DAY, BELOW_IS_NO_PROOF),
    bands=ALL_BANDS,
    judge=Judge(
        "twa_8h",
        by=lambda inputs, limits: exposure_limit(inputs["agent"], "twa_8h", inputs["unit"], limits),
    ),
)
def twa(*, unit: str, samples: Any, agent: str | None) -> Result:
    """Return the exposure of a day averaged over eight hours.

    >>> from assessments.calculate import calculate
    >>> question = {"unit": "ppm", "samples": [[150, 2], [75, 2], [50, 4]], "agent": "propan-2-ol"}
    >>> calculate("air.twa", question).outputs["twa_8h"].value
    81.25
    """
    listed = sum(hours for _, hours in samples)
    require(
        listed <= 24, "The durations in samples must not add up to more than 24 h.", field="samples"
    )
    parts = [concentration * hours / 8 for concentration, hours in samples]
    total = sum(parts)
    some = bool(np.all(listed > 0))
    return Result(
        {
            "twa_8h": total,
            "average": 8 * total / np.where(listed > 0, listed, 1.0) if some else None,
            "parts": parts,
        },
        steps=[
            step("{:g} for {:g} h adds {:.4g} over 8 h", *sample, part)
            for sample, part in zip(samples, parts, strict=True)
        ],
        assumptions=[]
        if np.all(listed > 8 - 1e-9)
        else ["No exposure in the hours that are not listed."],
    )


def _worst_window(samples: Sequence[tuple[Amount, Amount]], window: float) -> Amount:
    """Return the largest mean over a window that slides along the samples, one after another.

    The mean is largest where an end of the window meets an end of a sample.
    """
    ends = np.cumsum([np.asarray(minutes, dtype=float) + 0.0 for _, minutes in samples], axis=0)
    starts = [end - minutes for end, (_, minutes) in zip(ends, samples, strict=True)]
    openings = [*starts, *(end - window for end in ends)]
    largest: Amount = 0.0
    for opening in openings:
        closing = opening + window
        dose: Amount = 0.0
        for (concentration, _), start, end in zip(samples, starts, ends, strict=True):
            overlap = np.minimum(end, closing) - np.maximum(start, opening)
            dose = dose + concentration * np.maximum(overlap, 0.0)
        largest = np.maximum(largest, dose / window)
    return largest


@method(
    id="air.stel",
    title="Fifteen-minute average exposure",
    answers="How high was the exposure in the worst quarter of an hour?",
    inputs=(
        UNIT,
        Rows(
            "samples",
            (
                _CONCENTRATION,
                Number("duration", "min", 0, 1440, meaning="How long it lasted", example=5),
            ),
            most=40,
            meaning="Concentrations one after another, in the order of time",
            example=[[600, 5], [300, 10]],
        ),
        AGENT,
    ),
    outputs=(
        Output("twa_15min", "ppm", meaning="Largest average over any 15 minutes", unit_by=BY_UNIT),
    ),
    equation="STEL exposure = max over 15 min of sum( C x t ) / 15 min",
    sources=(EH40, OSHA_AIR),
    validity="Samples of at most 15 minutes, listed in the order of time without a gap.",
    cautions=(
        "Where a list has no short-term limit, EH40 takes three times the 8-hour limit as a "
        "guide (from memory); it is not applied here.",
        BELOW_IS_NO_PROOF,
    ),
    bands=ALL_BANDS,
    judge=Judge(
        "twa_15min",
        by=lambda inputs, limits: short_term_limit(inputs["agent"], inputs["unit"], limits),
    ),
)
def stel(*, unit: str, samples: Any, agent: str | None) -> Result:
    """Return the largest average of any fifteen minutes.

    >>> from assessments.calculate import calculate
    >>> question = {"unit": "ppm", "samples": [[600, 5], [300, 10]], "agent": "propan-2-ol"}
    >>> calculate("air.stel", question).outputs["twa_15min"].value
    400.0
    """
    listed = sum(minutes for _, minutes in samples)
    longest = max(float(np.max(minutes)) for _, minutes in samples)
    worst = _worst_window(samples, 15.0)
    return Result(
        {"twa_15min": worst},
        steps=[step("{:g} for {:g} min", *sample) for sample in samples],
        assumptions=[]
        if np.all(listed > 15 - 1e-9)
        else ["No exposure in the minutes of the 15 that are not listed."],
        doubts=["Not judged: a sample longer than 15 minutes hides the peaks in it."]
        if longest > 15
        else [],
    )


def _index_limit(inputs: Mapping[str, Any], limits: Limits) -> Limit:
    return Limit(name="Additive mixture index", value=1.0, unit="1", source=OSHA_AIR)


@method(
    id="air.mixture",
    title="Exposure to several substances together",
    answers="Do several substances that act alike, taken together, pass their limits?",
    inputs=(
        UNIT,
        Rows(
            "components",
            (
                Number(
                    "concentration",
                    "ppm",
                    0,
                    1_000_000,
                    meaning="Average exposure to this substance",
                    example=500,
                    unit_by=BY_UNIT,
                ),
                Number(
                    "limit",
                    "ppm",
                    1e-9,
                    1_000_000,
                    meaning="Its limit, for the same time and in the same unit",
                    example=1000,
                    unit_by=BY_UNIT,
                ),
            ),
            meaning="Each substance with its exposure and its limit, all from one list of limits",
            example=[[500, 1000], [45, 200], [40, 200]],
        ),
    ),
    outputs=(
        Output("index", "1", meaning="Sum of the shares; above 1 the mixture is over the limit"),
        Output("parts", "1", meaning="The share of each substance in its own limit"),
    ),
    equation="E = sum( C / L )",
    sources=(OSHA_AIR,),
    validity="Substances that act on the same organ, with limits for the same time of one list.",
    cautions=(
        "Where effects are not alike each substance is judged apart; where they make each other "
        "worse the sum is too kind.",
        BELOW_IS_NO_PROOF,
    ),
    bands=ALL_BANDS,
    judge=Judge("index", by=_index_limit),
)
def mixture(*, unit: str, components: Any) -> Result:
    """Return the additive index of a mixture.  [1]

    >>> from assessments.calculate import calculate
    >>> question = {"unit": "ppm", "components": [[500, 1000], [45, 200], [40, 200]]}
    >>> calculate("air.mixture", question).outputs["index"].value
    0.925
    """
    parts = [concentration / limit for concentration, limit in components]
    return Result(
        {"index": sum(parts), "parts": parts},
        steps=[
            step("{:g} / {:g} = {:.3f}", *component, part)
            for component, part in zip(components, parts, strict=True)
        ],
        assumptions=["The limits were entered, and not looked up."],
    )


BRIEF_SCALA = Source(
    title="Brief and Scala, Occupational exposure limits for novel work schedules",
    edition="American Industrial Hygiene Association Journal 36, 1975",
    place="daily and weekly reduction factor",
)
LEAD_RULE = Source(title="29 CFR 1910.1025", place="paragraph (c)(2)")


@method(
    id="air.extended_shift",
    title="Limit for a long shift",
    answers="What is an 8-hour limit worth on a day that is longer?",
    inputs=(
        UNIT,
        Number(
            "limit", "ppm", 1e-9, 1_000_000, meaning="The 8-hour limit", example=50, unit_by=BY_UNIT
        ),
        Number(
            "hours_per_day",
            "h",
            0.5,
            24,
            label="Hours a day",
            meaning="Hours worked on the day",
            example=12,
        ),
        Number(
            "hours_per_week",
            "h",
            0.5,
            168,
            label="Hours a week",
            meaning="Hours worked in the week, where they are more than 40",
            example=48,
            optional=True,
        ),
        Choice(
            "rule",
            {
                "brief_scala": "Brief and Scala: for longer uptake and shorter recovery",
                "proportional": "By the hours alone, as the lead standard of the US does",
            },
            meaning="How the limit is lowered",
            example="brief_scala",
            default="brief_scala",
        ),
    ),
    outputs=(
        Output("adjusted_limit", "ppm", meaning="Limit for the long shift", unit_by=BY_UNIT),
        Output("factor", "1", meaning="What the limit was multiplied by"),
    ),
    equation="RF = (8 / h) x (24 - h) / 16, in the week RF = (40 / h) x (168 - h) / 128",
    sources=(BRIEF_SCALA, LEAD_RULE),
    validity="Shifts above 8 h; a short day never raises a limit. The lower factor counts.",
    cautions=(
        "Not for ceilings, for irritants judged by a 15-minute limit, or for limits that state "
        "a shift of their own.",
        "Law in some countries, advice in others: ask the local rules.",
    ),
)
def extended_shift(
    *, unit: str, limit: Amount, hours_per_day: Amount, hours_per_week: Any, rule: str
) -> Result:
    """Return an 8-hour limit lowered for a longer shift, and the factor.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "unit": "ppm", "limit": 50, "hours_per_day": 12, "hours_per_week": 48,
    ...     "rule": "brief_scala",
    ... }
    >>> calculate("air.extended_shift", question).outputs["adjusted_limit"].value
    25.0
    """
    week = 40.0 if hours_per_week is None else hours_per_week
    recovery = (1.0, 1.0)
    if rule == "brief_scala":
        recovery = ((24 - hours_per_day) / 16, (168 - week) / 128)
    day_factor = np.minimum(8 / hours_per_day * recovery[0], 1.0)
    week_factor = np.minimum(40 / week * recovery[1], 1.0)
    factor = np.minimum(day_factor, week_factor)
    return Result(
        {"adjusted_limit": factor * limit, "factor": factor},
        steps=[step("By the day {:.4g}, by the week {:.4g}", day_factor, week_factor)],
        assumptions=["A week of at most 40 h."] if hours_per_week is None else [],
    )
