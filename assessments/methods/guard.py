"""Guards: how far away a light curtain stands, and how far a hand reaches through an opening."""

from __future__ import annotations

from typing import Any

import numpy as np

from assessments.errors import Refused
from assessments.finding import Source
from assessments.method import (
    Amount,
    Choice,
    Number,
    Output,
    Result,
    method,
    require,
    step,
)

ISO_13855 = Source(
    title="ISO 13855", edition="2010", place="clauses 6 and 7, as in makers' manuals"
)
ISO_13857 = Source(title="ISO 13857", edition="2008", place="table 4")

HAND, BODY = 2000.0, 1600.0  # mm/s
NEAR, FAR = 100.0, 500.0  # mm: the least distance, and where the slower speed takes over
SINGLE_BEAM, BEAMS = 1200.0, 850.0  # mm

Distance = tuple[Amount, Amount, Amount]  # separation, speed, constant


def _walking(total: Amount, constant: Amount) -> Distance:
    return BODY * total + constant, BODY + 0 * total, constant + 0 * total


def _reaching(total: Amount, constant: Amount) -> Distance:
    """Return the distance for a hand: 2000 mm/s up to 500 mm, else 1600 mm/s but at least 500."""
    fast, slow = HAND * total + constant, BODY * total + constant
    near = fast <= FAR
    separation = np.where(near, np.maximum(fast, NEAR), np.maximum(slow, FAR))
    return separation, np.where(near, HAND, BODY), constant + 0 * total


def _chosen(condition: Amount, one: Distance, other: Distance) -> Distance:
    first, second, third = (np.where(condition, a, b) for a, b in zip(one, other, strict=True))
    return first, second, third


def _normal(total: Amount, resolution: Any, beams: Any, constant: Any) -> Distance:
    if beams is not None and constant is None:
        return _walking(total, SINGLE_BEAM if beams == 1 else BEAMS)
    if beams is not None or resolution is None:
        return _walking(total, constant)
    if constant is not None:
        fine = _reaching(total, constant)
        return _chosen(np.asarray(resolution) <= 40, fine, _walking(total, constant))
    fine = _reaching(total, np.maximum(8 * (resolution - 14), 0))
    coarse = _walking(total, np.where(np.asarray(resolution) <= 70, BEAMS, SINGLE_BEAM))
    return _chosen(np.asarray(resolution) <= 40, fine, coarse)


def _parallel(total: Amount, resolution: Any, height: Any, constant: Any) -> Distance:
    if constant is not None:
        return _walking(total, constant)
    lowest = 0.0 if resolution is None else np.maximum(15 * (resolution - 50), 0)
    require(
        np.asarray(0.0 if height is None else height) >= lowest,
        "height must be a number of at least 15 (resolution - 50), and up to 1000 mm: a lower "
        "field can be crept under.",
        field="height",
    )
    rise = 0.0 if height is None else height
    return _walking(total, np.maximum(1200 - 0.4 * rise, BEAMS))


@method(
    id="guard.distance",
    title="Distance of a light curtain from the danger",
    answers="How far from the dangerous place must this protective device stand?",
    inputs=(
        Number(
            "resolution",
            "mm",
            1,
            200,
            label="Resolution of the device",
            meaning="Smallest thing that the device sees anywhere; not needed for single beams",
            example=30,
            optional=True,
        ),
        Number(
            "constant",
            "mm",
            0,
            2000,
            label="Reach constant, C",
            meaning="Reach before it is seen, where the maker or a standard gives it",
            example=250,
            optional=True,
        ),
        Number("stop_time", "s", 0.001, 60, meaning="Time the machine takes to stop", example=0.2),
        Number("response_time", "s", 0, 10, meaning="Response time of the device", example=0.02),
        Choice(
            "approach",
            {
                "normal": "Straight through the field",
                "parallel": "Along a flat field over the floor",
                "angled": "Through a slanting field",
            },
            label="Direction of approach",
            meaning="How the body meets the field",
            example="normal",
        ),
        Number(
            "beams",
            "1",
            1,
            4,
            whole=True,
            label="Number of beams",
            meaning="Number of single beams, where it is no light curtain",
            example=3,
            optional=True,
            when=("approach", ("normal",)),
        ),
        Number(
            "height",
            "mm",
            0,
            1000,
            label="Height of the field",
            meaning="Height of a flat field over the floor",
            example=300,
            optional=True,
            when=("approach", ("parallel", "angled")),
        ),
        Number(
            "angle",
            "deg",
            0,
            90,
            label="Angle of approach",
            meaning="Angle between field and approach; up to 30 counts as parallel",
            example=45,
            optional=True,
            when=("approach", ("angled",)),
        ),
    ),
    outputs=(
        Output("separation", "mm", meaning="Least distance from the dangerous place"),
        Output("speed", "mm/s", meaning="Approach speed that was used"),
        Output("constant", "mm", meaning="Reach before it is seen that was used"),
    ),
    equation="S = K T + C. Resolution d up to 40 mm: K = 2000 mm/s, C = 8 (d - 14 mm), at least "
    "100 mm; above 500 mm K = 1600 mm/s, at least 500 mm. Up to 70 mm and 2 to 4 beams: K = 1600, "
    "C = 850. Coarser, and 1 beam: C = 1200. Flat field: C = 1200 - 0.4 H, at least 850",
    sources=(ISO_13855,),
    validity="Edition 2010; the 2024 edition adds terms. Nobody can reach over, under or around.",
    cautions=(
        "Use the longest measured stopping time, and measure it again each year and after work on "
        "the brake.",
        "Reaching over the field, and standing between field and danger, are judged apart.",
    ),
)
def distance(
    *,
    resolution: Any,
    constant: Any,
    stop_time: Amount,
    response_time: Amount,
    approach: str,
    beams: Any,
    height: Any,
    angle: Any,
) -> Result:
    """Return the separation distance with speed and constant.  [mm, mm/s, mm]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "resolution": 30, "constant": 250, "stop_time": 0.2, "response_time": 0.02,
    ...     "approach": "normal", "beams": 3,
    ... }
    >>> calculate("guard.distance", question).outputs["separation"].value
    602.0
    """
    if resolution is None and beams is None and constant is None:
        raise Refused(
            "resolution is missing: it must be a number from 1 to 200 mm, or give the beams or "
            "the constant.",
            field="resolution",
        )
    total = stop_time + response_time
    straight = _normal(total, resolution, beams, constant)
    if approach == "normal":
        found = straight
    else:
        flat = _parallel(total, resolution, height, constant)
        found = _chosen(_is_straight(approach, angle, straight, flat), straight, flat)
    floor = approach != "normal" and height is None and constant is None
    notes = ["The field lies on the floor, which is the worst height."] if floor else []
    if beams is not None and resolution is not None:
        notes.append("Single beams count; the resolution is not used.")
    return Result(
        dict(zip(("separation", "speed", "constant"), found, strict=True)),
        steps=[step("T = {:g} s, K = {:g} mm/s, C = {:g} mm", total, *found[1:])],
        assumptions=notes,
    )


def _is_straight(approach: str, angle: Any, straight: Distance, flat: Distance) -> Amount:
    """Return whether the normal approach counts; without an angle the longer distance does."""
    if approach == "parallel":
        return False
    return straight[0] > flat[0] if angle is None else np.asarray(angle) > 30


# ISO 13857, table 4, people of 14 years and above: opening up to so many mm, and the distance
# that a slot, a square and a round hole need.
OPENINGS = (4.0, 6.0, 8.0, 10.0, 12.0, 20.0, 30.0, 40.0, 120.0)
REACH = {
    "slot": (2, 10, 20, 80, 100, 120, 850, 850, 850),
    "square": (2, 5, 15, 25, 80, 120, 120, 200, 850),
    "round": (2, 5, 5, 20, 80, 120, 120, 120, 850),
}
SHORT_SLOT = 200.0  # mm; a slot of 20 to 30 mm that is at most 65 mm long stops the thumb
WITHIN, BEYOND = "within reach", "beyond reach"


@method(
    id="guard.opening",
    title="Reach through an opening in a guard",
    answers="Is the danger beyond the reach of a finger, hand or arm through this opening?",
    inputs=(
        Number(
            "opening",
            "mm",
            0.1,
            120,
            label="Size of the opening",
            meaning="Width, side or diameter",
            example=10,
        ),
        Choice(
            "shape",
            {"slot": "Longer than wide", "square": "Square", "round": "Round"},
            meaning="Shape of the opening; an odd one counts as the narrowest that holds it",
            example="slot",
        ),
        Number(
            "distance",
            "mm",
            0,
            10_000,
            label="Distance to the danger",
            meaning="From the guard to the danger",
            example=100,
        ),
        Number(
            "length",
            "mm",
            0.1,
            10_000,
            label="Length of the slot",
            meaning="Length of the slot, where it is short",
            example=60,
            optional=True,
            when=("shape", ("slot",)),
        ),
    ),
    outputs=(
        Output("needed", "mm", meaning="Least distance from the guard to the danger"),
        Output("verdict", options=(WITHIN, BEYOND), meaning="Beside the least distance"),
    ),
    equation="needed = table value of the row whose upper end is not below the opening",
    sources=(ISO_13857,),
    validity="Arms of people of 14 years and above; openings wider than 120 mm and legs apart.",
    cautions=(
        "Children reach further and need another table. A guard lower than 1000 mm does not count.",
    ),
)
def opening(*, opening: Amount, shape: str, distance: Amount, length: Any) -> Result:
    """Return the distance that an opening needs.  [mm]

    >>> from assessments.calculate import calculate
    >>> question = {"opening": 10, "shape": "slot", "distance": 100, "length": 60}
    >>> calculate("guard.opening", question).outputs["needed"].value
    80.0
    """
    needed = np.asarray(REACH[shape], dtype=float)[np.searchsorted(OPENINGS, opening)]
    if length is not None:
        middle = (np.asarray(opening) > 20) & (np.asarray(opening) <= 30)
        needed = np.where(middle & (np.asarray(length) <= 65), SHORT_SLOT, needed)
    return Result(
        {"needed": needed, "verdict": np.where(distance >= needed, BEYOND, WITHIN)},
        steps=[step("Needed {:g} mm for an opening of {:g} mm", needed, opening)],
    )
