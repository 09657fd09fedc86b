"""Lifting by hand: the revised NIOSH equation and its composite index."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.method import (
    ALL_BANDS,
    Amount,
    Choice,
    Judge,
    Number,
    OneOf,
    Output,
    Result,
    Rows,
    method,
    require,
    step,
)

MANUAL = Source(
    title="NIOSH, Applications Manual for the Revised NIOSH Lifting Equation",
    edition="DHHS (NIOSH) 94-110, revised 9/2021",
    place="pages 7 to 18 and 26 to 28, tables 1 to 7",
)
LOAD_CONSTANT = 23.0  # kg, page 7 of the manual

SCOPE = (
    "Two-handed lifting of a stable load with a smooth motion on a good floor, for at most 8 h, "
    "between 19 and 26 degC and 35 and 50 % humidity; not seated, kneeling or in a narrow space, "
    "not with one hand, a shovel or a barrow."
)
CAUTIONS = (
    "Where the load has to be held or placed with care at the end of the lift, calculate the end "
    "too and take the smaller weight limit.",
    "The equation does not know the person: young, pregnant, older or injured people need an "
    "assessment of their own.",
)

# Table 5 of the manual, page 15: lifts a minute, then the multiplier for hands below 75 cm and
# from 75 cm up, for each duration. Between rows the manual interpolates (page 7); above the last
# row with a number the multiplier runs down to the next row, which is nought.
_FREQUENCIES = (0.2, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
_SHORT = (1.00, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37)
_MODERATE = (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26)
_LONG = (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18)


def _padded(values: Sequence[float]) -> tuple[float, ...]:
    return (*values, *[0.0] * (len(_FREQUENCIES) - len(values)))


FREQUENCY_TABLE = {
    "short": (_padded(_SHORT), _padded((*_SHORT, 0.34, 0.31, 0.28))),
    "moderate": (_padded(_MODERATE), _padded((*_MODERATE, 0.23, 0.21))),
    "long": (_padded(_LONG), _padded((*_LONG, 0.15, 0.13))),
}

# Table 7 of the manual, page 18: hands below 75 cm, and from 75 cm up.
COUPLING_TABLE = {"good": (1.0, 1.0), "fair": (0.95, 1.0), "poor": (0.90, 0.90)}

KNUCKLE = 75.0  # cm; both tables change here

# Tables 1 to 3 end at 63 and 175 cm, and in inches at 25 and 70, which is a little farther: who
# measures in inches is not refused the last printed row.
FARTHEST, HIGHEST = 63.5, 177.8  # cm


def horizontal_multiplier(horizontal: Amount) -> Amount:
    """Return HM = 25 / H; a hand closer than 25 cm counts as 25.  [H in cm, up to 63.5]"""
    return 25 / np.maximum(horizontal, 25)


def vertical_multiplier(vertical: Amount) -> Amount:
    """Return VM = 1 - 0.003 |V - 75|.  [V in cm, up to 177.8]"""
    return 1 - 0.003 * np.abs(vertical - 75)


def distance_multiplier(travel: Amount) -> Amount:
    """Return DM = 0.82 + 4.5 / D; less travel than 25 cm counts as 25.  [D in cm, up to 177.8]"""
    return 0.82 + 4.5 / np.maximum(travel, 25)


def asymmetry_multiplier(angle: Amount) -> Amount:
    """Return AM = 1 - 0.0032 A.  [A in degrees, up to 135]"""
    return 1 - 0.0032 * angle


def frequency_multiplier(frequency: Amount, vertical: Amount, duration: str) -> Amount:
    """Return FM of table 5, with nought above 15 lifts a minute."""
    below, above = (np.interp(frequency, _FREQUENCIES, row) for row in FREQUENCY_TABLE[duration])
    return np.where(frequency > _FREQUENCIES[-1], 0.0, np.where(vertical < KNUCKLE, below, above))


def coupling_multiplier(coupling: str, vertical: Amount) -> Amount:
    """Return CM of table 7."""
    below, above = COUPLING_TABLE[coupling]
    return np.where(vertical < KNUCKLE, below, above)


_LOAD = Number("load", "kg", 0.1, 200, meaning="Weight of the load", example=12)
_HORIZONTAL = Number(
    "horizontal",
    "cm",
    0,
    FARTHEST,
    label="Horizontal distance",
    meaning="From the middle of the ankles to the middle of the hands",
    example=40,
)
_VERTICAL = Number(
    "vertical",
    "cm",
    0,
    HIGHEST,
    label="Height of the hands",
    meaning="Hands above the floor",
    example=60,
)
_TRAVEL = Number(
    "travel",
    "cm",
    0,
    HIGHEST,
    label="Vertical travel",
    meaning="How far up or down the load moves",
    example=50,
)
_ANGLE = Number(
    "angle",
    "deg",
    0,
    135,
    label="Angle to the side",
    meaning="How far to the side the load is",
    example=30,
)
_FREQUENCY = Number(
    "frequency",
    "1/min",
    0,
    15,
    label="Lifts a minute",
    meaning="Lifts a minute, as the mean of 15 minutes",
    example=2,
)
_COUPLING = Choice(
    "coupling",
    {
        "good": "Handles or cut-outs of a good shape, or a load easily wrapped by the hands",
        "fair": "Poor handles, or fingers bent by a right angle under the load",
        "poor": "Bulky, slippery, sagging or sharp",
    },
    label="Grip",
    meaning="How well the hands hold the load; in doubt the poorer one",
    example="fair",
)
_DURATION = Choice(
    "duration",
    {
        "short": "At most 1 h of lifting, then at least as long light work",
        "moderate": "More than 1 h and at most 2 h, then at least 0.3 times as long light work",
        "long": "More than 2 h and at most 8 h with the usual breaks",
    },
    meaning="How long the lifting goes on",
    example="moderate",
)

_GEOMETRY = ("horizontal", "vertical", "travel", "angle", "frequency", "duration", "coupling")
_MULTIPLIERS = ("hm", "vm", "dm", "am", "fm", "cm")


def _multiplier(name: str, meaning: str, example: float) -> Number:
    label = f"{meaning}, {name.upper()}"
    return Number(name, "1", 0, 1, label=label, meaning=meaning, example=example)


# The manual's text has a goal of 1.0 or less (page 20), its glossary calls 1.0 or more a hazard
# to some (page 74): at exactly 1.0 there is something to be done, above it the limit is passed.
INDEX_LIMIT = Limit(
    name="Recommended weight limit, as lifting index",
    value=1.0,
    action=1.0,
    unit="1",
    source=Source(title=MANUAL.title, edition=MANUAL.edition, place="pages 20 and 74"),
)

_HIGHLY_STRESSFUL = "An index above 3 is a raised risk for nearly all people."


def _refuse_no_load(index: Amount) -> None:
    require(
        np.isfinite(index),
        "For this frequency, duration and height the equation recommends no load at all "
        "(frequency must be lower, from 0 to 15 1/min).",
        field="frequency",
    )


@method(
    id="lifting.niosh",
    title="Recommended weight limit of a lift",
    answers="How heavy may this lift be, and how far from it is the load?",
    inputs=(
        _LOAD,
        _HORIZONTAL,
        _VERTICAL,
        _TRAVEL,
        _ANGLE,
        _FREQUENCY,
        _DURATION,
        _COUPLING,
        _multiplier("hm", "Horizontal multiplier", 0.83),
        _multiplier("vm", "Vertical multiplier", 0.93),
        _multiplier("dm", "Distance multiplier", 0.91),
        _multiplier("am", "Asymmetry multiplier", 0.9),
        _multiplier("fm", "Frequency multiplier", 0.84),
        _multiplier("cm", "Coupling multiplier", 0.95),
    ),
    outputs=(
        Output("rwl", "kg", meaning="Recommended weight limit"),
        Output("li", "1", meaning="Lifting index: load over recommended weight limit"),
        Output("multipliers", "1", meaning="HM, VM, DM, AM, FM and CM, in this order"),
    ),
    equation="RWL = 23 kg x HM x VM x DM x AM x FM x CM, LI = load / RWL",
    sources=(MANUAL,),
    validity=SCOPE,
    cautions=(*CAUTIONS, _HIGHLY_STRESSFUL),
    bands=ALL_BANDS,
    one_of=(OneOf((_GEOMETRY, _MULTIPLIERS)),),
    judge=Judge("li", by=lambda inputs, limits: INDEX_LIMIT),
)
def niosh(
    *,
    load: Amount,
    horizontal: Any,
    vertical: Any,
    travel: Any,
    angle: Any,
    frequency: Any,
    duration: Any,
    coupling: Any,
    hm: Any,
    vm: Any,
    dm: Any,
    am: Any,
    fm: Any,
    cm: Any,
) -> Result:
    """Return recommended weight limit and lifting index of one task.  [kg, 1]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "load": 12, "horizontal": 40, "vertical": 60, "travel": 50, "angle": 30,
    ...     "frequency": 2, "duration": "moderate", "coupling": "fair",
    ... }
    >>> calculate("lifting.niosh", question).outputs["li"].value
    1.332
    """
    multipliers = [hm, vm, dm, am, fm, cm]
    if hm is None:
        multipliers = [
            horizontal_multiplier(horizontal),
            vertical_multiplier(vertical),
            distance_multiplier(travel),
            asymmetry_multiplier(angle),
            frequency_multiplier(frequency, vertical, duration),
            coupling_multiplier(coupling, vertical),
        ]
    limit = LOAD_CONSTANT * np.prod(np.broadcast_arrays(*multipliers), axis=0)
    index = np.divide(load, limit)
    _refuse_no_load(index)
    template = "HM {:.3f}, VM {:.3f}, DM {:.3f}, AM {:.3f}, FM {:.3f}, CM {:.3f}"
    return Result(
        {"rwl": limit, "li": index, "multipliers": multipliers},
        steps=[
            step(template, *multipliers),
            step("RWL {:.2f} kg for a load of {:g} kg", limit, load),
        ],
    )


def composite_index(
    *, loads: Amount, free_limits: Amount, frequencies: Amount, low: Amount, duration: str
) -> Amount:
    """Return the composite lifting index of tasks done in turn.

    Each argument has the tasks along its first axis: load [kg], frequency-independent weight
    limit [kg], frequency [1/min], and whether the hands start below 75 cm. The manual leaves open
    which height chooses the column of table 5 for tasks together; here one low task among them is
    enough for the stricter column.

    Source: NIOSH 94-110, page 28: CLI = STLI1 + sum FILIn (1/FM1..n - 1/FM1..n-1), the tasks in
    falling order of their single-task index, of equal ones the more frequent first (page 57).
    """
    height = np.where(low, 0.0, KNUCKLE)
    alone = loads / free_limits / frequency_multiplier(frequencies, height, duration)
    order = np.lexsort((-frequencies, -alone), axis=0)

    def sort(values: Amount) -> Amount:
        return np.take_along_axis(values, order, axis=0)

    together = np.cumsum(sort(frequencies), axis=0)
    lowest = np.minimum.accumulate(sort(height), axis=0)
    inverse = 1 / frequency_multiplier(together, lowest, duration)
    added = sort(loads / free_limits)[1:] * np.diff(inverse, axis=0)
    return sort(alone)[0] + np.sum(added, axis=0)


@method(
    id="lifting.composite",
    title="Composite lifting index",
    answers="How heavy is a job of several lifting tasks done in turn?",
    inputs=(
        Rows(
            "tasks",
            (_LOAD, _HORIZONTAL, _VERTICAL, _TRAVEL, _ANGLE, _FREQUENCY, _COUPLING),
            least=1,
            most=20,
            meaning="Each lifting task of the job",
            example=[[10, 30, 60, 40, 0, 1, "good"], [6, 40, 20, 80, 30, 2, "fair"]],
        ),
        _DURATION,
    ),
    outputs=(
        Output("cli", "1", meaning="Composite lifting index of the job"),
        Output("indices", "1", meaning="Lifting index of each task alone, in the given order"),
    ),
    equation="CLI = STLI1 + sum( FILIn x (1/FM1..n - 1/FM1..n-1) ), heaviest task first",
    sources=(MANUAL,),
    validity=SCOPE,
    cautions=(*CAUTIONS, _HIGHLY_STRESSFUL),
    bands=ALL_BANDS,
    judge=Judge("cli", by=lambda inputs, limits: INDEX_LIMIT),
)
def composite(*, tasks: Any, duration: str) -> Result:
    """Return the composite lifting index of several tasks.  [1]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "tasks": [[10, 30, 60, 40, 0, 1, "good"], [6, 40, 20, 80, 30, 2, "fair"]],
    ...     "duration": "moderate",
    ... }
    >>> calculate("lifting.composite", question).outputs["cli"].value
    0.8349
    """
    columns = list(zip(*tasks, strict=True))
    grip = columns.pop()
    size = max(np.size(cell) for column in columns for cell in column)
    load, horizontal, vertical, travel, angle, frequency = (
        np.array([np.broadcast_to(np.asarray(cell, dtype=float), (size,)) for cell in column])
        for column in columns
    )
    coupling = np.array([coupling_multiplier(*each) for each in zip(grip, vertical, strict=True)])
    free = LOAD_CONSTANT * horizontal_multiplier(horizontal) * vertical_multiplier(vertical)
    free = free * distance_multiplier(travel) * asymmetry_multiplier(angle) * coupling
    index = composite_index(
        loads=load,
        free_limits=free,
        frequencies=frequency,
        low=vertical < KNUCKLE,
        duration=duration,
    )
    _refuse_no_load(index)
    alone = load / free / frequency_multiplier(frequency, vertical, duration)
    return Result(
        {"cli": index if size > 1 else index[0], "indices": [_single(each) for each in alone]},
        steps=[
            step("Task {}: {:g} kg, {:.2f} kg without regard to frequency, index {:.2f}", *each)
            for each in zip(
                range(1, len(tasks) + 1), load[:, 0], free[:, 0], alone[:, 0], strict=True
            )
        ],
    )


def _single(values: Amount) -> Amount:
    return values[0] if len(values) == 1 else values
