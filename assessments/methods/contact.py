"""Hot surfaces: burns by touch, and waiting for something to cool."""

from __future__ import annotations

from typing import Any

import numpy as np

from assessments.errors import Refused
from assessments.finding import Source
from assessments.method import (
    NO_PERMISSION,
    Amount,
    Choice,
    Number,
    OneOf,
    Output,
    Result,
    Rows,
    method,
    require,
    step,
)

ISO_13732 = Source(
    title="EN ISO 13732-1, burn thresholds",
    edition="2008",
    place="rows of 1 min, 10 min and 8 h",
    confirmed=False,
)
NEWTON = Source(title="Newton's law of cooling", place="physics")

# Burn threshold in degC by contact of up to one minute, ten minutes and eight hours. The rows
# for shorter contact are known from memory only vaguely and are therefore not here.
_ROWS = (60.0, 600.0, 28_800.0)
THRESHOLDS = {
    "metal": (51.0, 48.0, 43.0),
    "coated_metal": (51.0, 48.0, 43.0),
    "ceramic": (56.0, 48.0, 43.0),
    "plastic": (60.0, 48.0, 43.0),
    "wood": (60.0, 48.0, 43.0),
}

NO_BURN, MAY_BURN, BURN = "no burn expected", "may burn", "burn expected"


def threshold(material: str, time: Amount) -> Amount:
    """Return the burn threshold of the next longer row on record.  [degC]

    Thresholds fall with time, so that a longer row is the stricter one.
    """
    return np.select([time <= row for row in _ROWS], THRESHOLDS[material], np.nan)


@method(
    id="contact.burn",
    title="Burn by touching a hot surface",
    answers="Will touching this surface for so long burn bare skin?",
    inputs=(
        Choice(
            "material",
            {
                "metal": "Bare metal",
                "coated_metal": "Metal with paint, enamel or powder coat",
                "ceramic": "Ceramic, glass or stone",
                "plastic": "Plastics",
                "wood": "Wood",
            },
            meaning="What the surface is made of",
            example="metal",
        ),
        Number("temperature", "degC", 0, 1500, meaning="Surface temperature", example=58),
        Number("time", "s", 0.5, 28_800, label="Time", meaning="Length of the touch", example=60),
        Number(
            "lower_threshold",
            "degC",
            43,
            200,
            meaning="Lower burn threshold for this touch, from the site's copy of the standard",
            example=55,
            optional=True,
        ),
        Number(
            "upper_threshold",
            "degC",
            43,
            200,
            meaning="Upper burn threshold for this touch, from the site's copy of the standard",
            example=57,
            optional=True,
        ),
    ),
    outputs=(
        Output("verdict", options=(NO_BURN, MAY_BURN, BURN), meaning="Beside the thresholds"),
        Output("lower", "degC", meaning="Below this no burn is expected"),
        Output("upper", "degC", optional=True, meaning="Above this a burn is expected"),
    ),
    equation="no burn expected below the lower threshold, burn expected above the upper",
    sources=(ISO_13732,),
    validity="Bare, healthy skin of an adult on a small smooth surface that stays hot; less than "
    "10 % of the skin of body or head.",
    cautions=(
        "Thresholds are from memory and are no limits: pain comes earlier, and children and older "
        "people burn sooner.",
    ),
)
def burn(
    *,
    material: str,
    temperature: Amount,
    time: Amount,
    lower_threshold: Any,
    upper_threshold: Any,
) -> Result:
    """Return whether a touch burns, and the thresholds.  [degC]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "material": "metal", "temperature": 58, "time": 60, "lower_threshold": 55,
    ...     "upper_threshold": 57,
    ... }
    >>> calculate("contact.burn", question).outputs["verdict"].value
    'burn expected'
    """
    on_record = threshold(material, time)
    lower = on_record if lower_threshold is None else lower_threshold
    exact = bool(np.all(np.isin(time, _ROWS)))
    upper = on_record if upper_threshold is None and exact else upper_threshold
    if upper is not None:
        require(
            np.asarray(lower) <= upper,
            "upper_threshold must be a number from the lower threshold to 200 degC.",
            field="upper_threshold",
        )
    above = MAY_BURN if upper is None else np.where(temperature > upper, BURN, MAY_BURN)
    note = "Taken from the next longer touch on record, which is stricter: a shorter touch may "
    note += "bear more, but no confirmed threshold is on record for it."
    stricter = lower_threshold is None and not exact
    return Result(
        {
            "verdict": np.where(temperature < lower, NO_BURN, above),
            "lower": lower,
            "upper": upper,
        },
        steps=[step("Threshold {:g} degC for {:g} s", lower, time)],
        assumptions=[note] if stricter else [],
    )


@method(
    id="contact.cooling",
    title="Time to cool down",
    answers="How long until this has cooled to a temperature that can be touched or opened?",
    inputs=(
        Number(
            "start",
            "degC",
            -50,
            1500,
            label="Temperature at the start",
            meaning="Temperature now; without it the last of the readings",
            example=400,
            optional=True,
        ),
        Number(
            "room",
            "degC",
            -30,
            60,
            label="Temperature of the room",
            meaning="Temperature of the room",
            example=20,
        ),
        Number(
            "target",
            "degC",
            -30,
            1500,
            label="Temperature to reach",
            meaning="Temperature to wait for",
            example=45,
        ),
        Number("time_constant", "s", 1, 1e6, meaning="Time constant of cooling", example=7200),
        Rows(
            "readings",
            (
                Number(
                    "time", "s", 0, 1e6, label="Time", meaning="Since the first reading", example=0
                ),
                Number("temperature", "degC", -30, 1500, meaning="Reading", example=400),
            ),
            least=2,
            meaning="Readings while it cools, to find the time constant from",
            example=[[0, 400], [1800, 316], [3600, 250.5]],
        ),
    ),
    outputs=(
        Output("time", "s", meaning="Time from now to the target"),
        Output("time_constant", "s", meaning="Time constant that was used"),
    ),
    equation="t = tau ln( (start - room) / (target - room) ), tau from the slope of ln(T - room)",
    sources=(NEWTON,),
    validity="Cooling in still air of steady temperature. Above about 300 degC radiation cools "
    "faster than this, later the core of a load cools slower.",
    cautions=(
        "A modelled value: put a thermometer on it before touching or opening.",
        NO_PERMISSION,
    ),
    one_of=(OneOf((("time_constant",), ("readings",))),),
)
def cooling(
    *, start: Any, room: Amount, target: Amount, time_constant: Any, readings: Any
) -> Result:
    """Return the time to cool from start to target.  [s]

    >>> from assessments.calculate import calculate
    >>> question = {"start": 400, "room": 20, "target": 45, "time_constant": 7200}
    >>> calculate("contact.cooling", question).outputs["time"].value
    19593.3
    """
    assumptions = []
    if start is None and readings is None:
        raise Refused("start is missing: it must be a number from -50 to 1500 degC.", field="start")
    if start is None:
        start = readings[-1][1]
        assumptions.append("The last of the readings is the temperature now.")
    require(
        np.asarray(target) > room,
        "target must be a number above the room temperature, in degC.",
        field="target",
    )
    require(
        np.asarray(start) >= target,
        "start must be a number from the target temperature up, in degC.",
        field="start",
    )
    if readings is not None:
        time_constant = _time_constant(room, readings)
    return Result(
        {
            "time": time_constant * np.log((start - room) / (target - room)),
            "time_constant": time_constant,
        },
        steps=[step("Time constant {:.4g} s", time_constant)],
        assumptions=assumptions,
    )


def _time_constant(room: Amount, readings: Any) -> Amount:
    """Return the least-squares time constant of ln(T - room) over time.  [s]"""
    count = len(readings)
    require(
        np.all([np.asarray(temperature) > room for _, temperature in readings], axis=0),
        "Every temperature in readings must be a number above the room temperature, in degC.",
        field="readings",
    )
    logs = [np.log(temperature - room) for _, temperature in readings]
    middle, mean = sum(time for time, _ in readings) / count, sum(logs) / count
    spread = sum((time - middle) ** 2 for time, _ in readings)
    slope = sum((t - middle) * (y - mean) for (t, _), y in zip(readings, logs, strict=True))
    require(
        (np.asarray(spread) > 0) & (np.asarray(slope) < 0),
        "The readings must be of a body that cools: later in s, lower in degC.",
        field="readings",
    )
    return -spread / slope
