"""Noise: exposure of a day and a week, dose, sums and distance."""

from __future__ import annotations

from collections.abc import Mapping
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
    Series,
    method,
    require,
    step,
)
from assessments.plots.noisy_day import noisy_day

BIES_HANSEN = Source(title="Bies and Hansen, Engineering Noise Control", place="equation 4.3")
REGULATIONS = Source(
    title="Control of Noise at Work Regulations 2005",
    edition="SI 2005/1643",
    place="schedule 1",
    confirmed=False,
)
OSHA = Source(title="29 CFR 1910.95", place="appendix A and table G-16a")
NIOSH = Source(
    title="NIOSH Criteria for a Recommended Standard: Occupational Noise Exposure",
    edition="DHHS (NIOSH) 98-126, 1998",
    place="chapter 1",
)
MINNESOTA = Source(
    title="Minnesota Pollution Control Agency, A Guide to Noise Control in Minnesota",
    edition="2008",
    place="pages 5 and 6",
)
DIRECTIVE = Source(title="Directive 2003/10/EC", edition="2003", place="article 3 (1) and (2)")

PEAKS_APART = "Peak levels are judged apart, against their own action values."
WITH_AND_WITHOUT = (
    "Action values are judged without hearing protection, the limit at the protected ear."
)

_LEVEL = Number("level", "dB(A)", 0, 150, meaning="Equivalent level at the ear", example=85)
_DURATION = Number("duration", "h", 0, 24, meaning="Time a day at this level", example=4)
TASKS = Rows(
    "tasks",
    (_LEVEL, _DURATION),
    meaning="Each task of the day with its level and how long it lasts",
    example=[[85, 4], [90, 1.5]],
)


def _within_a_day(tasks: Any) -> None:
    require(
        sum(hours for _, hours in tasks) <= 24,
        "The durations in tasks must not add up to more than 24 h.",
        field="tasks",
    )


def _level(energy: Amount) -> Amount | None:
    """Return the level of an energy; a task of no duration adds none and has no level."""
    return 10 * np.log10(energy) if np.any(energy) else None


def _energy_sum(levels: Any) -> Amount:
    return sum(10 ** (level / 10) for level in levels)


@method(
    id="noise.daily",
    title="Daily noise exposure",
    answers="How loud is this person's day, taken over eight hours?",
    inputs=(TASKS,),
    outputs=(
        Output("daily", "dB", meaning="Daily personal noise exposure level, over 8 h"),
        Output("parts", "dB", meaning="What each task alone would give over 8 h"),
        Output("points", "1", meaning="Exposure points; 100 are 85 dB for 8 h"),
    ),
    equation="LEX,8h = 10 lg( sum( t x 10^(L/10) ) / 8 h )",
    sources=(BIES_HANSEN, DIRECTIVE, REGULATIONS),
    validity="Equivalent A-weighted levels. The 8 h stay 8 h however long the shift is.",
    cautions=(PEAKS_APART, WITH_AND_WITHOUT),
    bands=ALL_BANDS,
    judge=Judge("daily", by=lambda inputs, limits: limits.physical("noise.daily")),
    plot=noisy_day,
)
def daily(*, tasks: Any) -> Result:
    """Return the energy average of a day's tasks over eight hours.  [dB]

    >>> from assessments.calculate import calculate
    >>> calculate("noise.daily", {"tasks": [[85, 4], [90, 1.5]]}).outputs["daily"].value
    85.39
    """
    _within_a_day(tasks)
    energies = [hours / 8 * 10 ** (level / 10) for level, hours in tasks]
    total = sum(energies)
    require(
        np.asarray(total) > 0,
        "The durations in tasks must add up to more than 0 h, and to at most 24 h.",
        field="tasks",
    )
    parts = [_level(energy) for energy in energies]
    return Result(
        {"daily": 10 * np.log10(total), "parts": parts, "points": 100 * total / 10**8.5},
        steps=[
            step("{:g} dB(A) for {:g} h gives {:.1f} dB over 8 h", *task, part)
            for task, part in zip(tasks, parts, strict=True)
            if part is not None
        ],
    )


@method(
    id="noise.weekly",
    title="Weekly noise exposure",
    answers="How loud is a week whose days differ, taken over five days?",
    inputs=(
        Series(
            "days",
            "dB",
            0,
            150,
            most=7,
            meaning="Daily noise exposure level of each working day of the week",
            example=[82, 90, 82, 82],
        ),
    ),
    outputs=(
        Output("weekly", "dB", meaning="Weekly personal noise exposure level"),
        Output("points", "1", meaning="Exposure points of the week; 500 are 85 dB on five days"),
    ),
    equation="LEX,w = 10 lg( sum( 10^(LEX,8h / 10) ) / 5 )",
    sources=(REGULATIONS, DIRECTIVE),
    validity="Up to seven days of one week; the sum is always divided by five.",
    cautions=(
        "A week may stand in for the day only where exposure varies markedly from day to day; "
        "in the European Union the authority has to allow it.",
        PEAKS_APART,
        WITH_AND_WITHOUT,
    ),
    bands=ALL_BANDS,
    judge=Judge("weekly", by=lambda inputs, limits: limits.physical("noise.weekly")),
)
def weekly(*, days: Any) -> Result:
    """Return the energy average of up to seven days over five.  [dB]

    >>> from assessments.calculate import calculate
    >>> calculate("noise.weekly", {"days": [82, 90, 82, 82]}).outputs["weekly"].value
    84.7
    """
    total = _energy_sum(days)
    return Result(
        {"weekly": 10 * np.log10(total / 5), "points": 100 * total / 10**8.5},
        steps=[step("{:g} dB is {:.1f} points", day, 100 * 10 ** (day / 10 - 8.5)) for day in days],
    )


# The factors that the two sources print with their own formulas, not the exact 5 / lg 2 = 16.6096
# and 3 / lg 2 = 9.9658: a result has to agree with the tables printed beside them.
_PRINTED_FACTOR = {"5": 16.61, "3": 10.0}
_PAIRS = {("90", "5"), ("85", "3")}


def _dose_limit(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    pair = (inputs["criterion"], inputs["exchange"])
    return limits.physical(f"noise.dose.{pair[0]}") if pair in _PAIRS else None


@method(
    id="noise.dose",
    title="Noise dose",
    answers="What share of the permitted day does this noise use up, by the rules of the US?",
    inputs=(
        TASKS,
        Choice(
            "criterion",
            {"90": "90 dB(A) for 8 h, the OSHA limit", "85": "85 dB(A) for 8 h, as by NIOSH"},
            label="Permitted level",
            meaning="The level that is permitted for eight hours",
            example="90",
        ),
        Choice(
            "exchange",
            {"5": "5 dB halve the time, as by OSHA", "3": "3 dB halve the time, as by NIOSH"},
            label="Exchange rate",
            meaning="How many decibels more halve the permitted time",
            example="5",
        ),
        Number(
            "threshold",
            "dB",
            0,
            90,
            label="Threshold level",
            meaning="Levels below this are left out: 80 for hearing conservation, 90 for the "
            "OSHA limit",
            example=80,
        ),
    ),
    outputs=(
        Output("dose", "%", meaning="Share of the permitted exposure"),
        Output("twa", "dB", optional=True, meaning="The steady level of 8 h with this dose"),
    ),
    equation="D = 100 sum( t / T ), T = 8 h / 2^((L - criterion) / exchange)",
    sources=(OSHA, NIOSH),
    validity="Slow A-weighted levels up to 130 dB(A), the last row of table G-16a.",
    cautions=("By OSHA no exposure above 115 dB(A) is permitted for more than 15 minutes.",),
    bands=ALL_BANDS,
    judge=Judge("dose", by=_dose_limit),
)
def dose(*, tasks: Any, criterion: str, exchange: str, threshold: Amount) -> Result:
    """Return the noise dose in per cent and its eight-hour level.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "tasks": [[85, 4], [90, 1.5]], "criterion": "90", "exchange": "5", "threshold": 80,
    ... }
    >>> calculate("noise.dose", question).outputs["dose"].value
    43.75
    """
    _within_a_day(tasks)
    require(
        np.all([level <= 130 for level, _ in tasks], axis=0),
        "The level in tasks must be a number from 0 to 130 dB(A) for a dose.",
        field="tasks",
    )
    base, rate = float(criterion), float(exchange)
    permitted = [8 / 2 ** ((level - base) / rate) for level, _ in tasks]
    shares = [
        np.where(level >= threshold, hours / allowed, 0.0)
        for (level, hours), allowed in zip(tasks, permitted, strict=True)
    ]
    total = 100 * sum(shares)
    some = bool(np.all(total > 0))
    return Result(
        {
            "dose": total,
            "twa": _PRINTED_FACTOR[exchange] * np.log10(total / 100) + base if some else None,
        },
        steps=[
            step("{:g} dB(A) is permitted for {:.3g} h; {:g} h of it are {:.1%}", level, t, h, s)
            for (level, h), t, s in zip(tasks, permitted, shares, strict=True)
        ],
        doubts=()
        if np.all(threshold <= 80)
        else ("Not judged: the action level asks for a threshold of at most 80 dB.",),
    )


@method(
    id="noise.sum",
    title="Sum of sound levels",
    answers="How loud are several sources running together?",
    inputs=(
        Series(
            "levels",
            "dB",
            0,
            200,
            most=200,
            meaning="The level of each source alone, at the same place",
            example=[85, 85, 79],
        ),
    ),
    outputs=(Output("level", "dB", meaning="The level of all of them together"),),
    equation="L = 10 lg( sum( 10^(Li / 10) ) )",
    sources=(BIES_HANSEN,),
    validity="Sources that are not coherent, all with the same frequency weighting.",
)
def total_level(*, levels: Any) -> Result:
    """Return the level of several incoherent sources together.  [dB]

    >>> from assessments.calculate import calculate
    >>> calculate("noise.sum", {"levels": [85, 85, 79]}).outputs["level"].value
    88.52
    """
    return Result({"level": 10 * np.log10(_energy_sum(levels))})


# Factor of lg(distance ratio): a point source spreads over a sphere, a line over a cylinder.
_SPREADING = {"point": 20.0, "line": 10.0}


@method(
    id="noise.distance",
    title="Sound level at another distance",
    answers="How loud is the same source in the open, further away or closer?",
    inputs=(
        Number("level", "dB", 0, 200, meaning="Level at the first distance", example=95),
        Number(
            "from",
            "m",
            0.01,
            10_000,
            label="Distance of that level",
            meaning="Distance of that level",
            example=1,
        ),
        Number(
            "to",
            "m",
            0.01,
            10_000,
            label="Distance asked for",
            meaning="Distance asked for",
            example=2,
        ),
        Choice(
            "source",
            {"point": "Small beside the distances", "line": "Long beside the distances"},
            label="Shape of the source",
            meaning="Shape of the source",
            example="point",
        ),
    ),
    outputs=(Output("level", "dB", meaning="Level at the second distance"),),
    equation="L2 = L1 - k lg( r2 / r1 ), k = 20 for a point and 10 for a line",
    sources=(MINNESOTA,),
    validity="Free field, outside the near field of the source.",
    cautions=(
        "A modelled value: in a room the sound falls off less, and from about 2 m on in a "
        "workshop hardly at all (common practice). Measure at the place itself.",
    ),
)
def at_distance(*, level: Amount, from_: Amount, to: Amount, source: str) -> Result:
    """Return the free-field level at another distance.  [dB]

    >>> from assessments.calculate import calculate
    >>> question = {"level": 95, "from": 1, "to": 2, "source": "point"}
    >>> calculate("noise.distance", question).outputs["level"].value
    88.98
    """
    change = _SPREADING[source] * np.log10(to / from_)
    return Result({"level": level - change}, steps=[step("The change is {:.2f} dB", -change)])
