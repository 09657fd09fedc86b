"""Noise: exposure of a day and a week, dose, sums, distance and hearing protectors."""

from __future__ import annotations

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
    Rows,
    method,
    require,
    step,
)

REGULATIONS = Source(
    title="Control of Noise at Work Regulations 2005",
    edition="SI 2005/1643",
    place="Schedule 1",
    confirmed=False,
)
BIES_HANSEN = Source(title="Bies and Hansen, Engineering Noise Control", place="equation 4.3")

TASKS = Rows(
    "tasks",
    (
        Number("level", "dB(A)", 0, 150, meaning="Equivalent level at the ear", example=85),
        Number("duration", "h", 0, 24, meaning="Time a day at this level", example=4),
    ),
    meaning="Each task of the day with its level and how long it lasts",
    example=[[85, 4], [90, 1.5]],
)


def _daily_limit(inputs: Any, limits: Limits) -> Limit | None:
    return limits.physical("noise.daily")


@method(
    id="noise.daily",
    title="Daily noise exposure",
    answers="How loud is this person's day, taken over eight hours?",
    inputs=(TASKS,),
    outputs=(
        Output("daily", "dB", meaning="Daily personal noise exposure level, over 8 h"),
        Output("parts", "dB", meaning="What each task adds, over 8 h"),
        Output("points", "1", meaning="Exposure points; 100 are 85 dB for 8 h"),
    ),
    equation="LEX,8h = 10 lg( sum( t x 10^(L/10) ) / 8 h )",
    sources=(BIES_HANSEN, REGULATIONS),
    validity="Equivalent A-weighted levels; peaks are judged apart. The 8 h stay 8 h "
    "however long the shift is.",
    cautions=(
        "Action values are judged without hearing protection, the limit at the protected ear.",
    ),
    bands=ALL_BANDS,
    judge=Judge("daily", by=_daily_limit),
)
def daily(*, tasks: Any) -> Result:
    """Return the energy average of a day's tasks over eight hours.  [dB]"""
    require(sum(hours for _, hours in tasks) <= 24, "The tasks must fit into 24 h.", field="tasks")
    energies = [hours / 8 * 10 ** (level / 10) for level, hours in tasks]
    total = sum(energies)
    parts = [_level(energy) for energy in energies]
    return Result(
        {
            "daily": 10 * np.log10(total),
            "parts": parts,
            "points": 100 * total / 10**8.5,
        },
        steps=[
            step("{:g} dB(A) for {:g} h gives {:.1f} dB over 8 h", *task, part)
            for task, part in zip(tasks, parts, strict=True)
            if part is not None
        ],
    )


def _level(energy: Amount) -> Amount | None:
    """Return the level of an energy; a task of no duration adds none and has no level."""
    return 10 * np.log10(energy) if np.any(energy) else None
