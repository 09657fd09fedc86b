"""Local exhaust: the flow a hood needs, and the speed that keeps a duct clear."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from assessments.errors import Refused
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
    method,
    step,
)

VENTILATION_MANUAL = Source(
    title="ACGIH, Industrial Ventilation", edition="2009", place="tables 2.3 and 2.4"
)
DELLA_VALLE = Source(
    title="Della Valle, Exhaust Hoods", place="centreline velocity of plain and flanged openings"
)
HOODS = Source(
    title="ACGIH, Industrial Ventilation",
    place="chapter on hoods: slots, canopies, booths",
    confirmed=False,
)
HSG258 = Source(
    title="HSE, Controlling airborne contaminants at work",
    edition="HSG258",
    place="table of duct velocities",
)

# Capture velocities by how the contaminant is released, m/s: the manual's table 2.3.
CAPTURE = {"still": (0.25, 0.5), "slow": (0.5, 1.0), "active": (1.0, 2.5), "fast": (2.5, 10.0)}

# What each hood needs beside the capture velocity.
NEEDS = {
    "plain": ("distance", "area"),
    "flanged": ("distance", "area"),
    "slot": ("distance", "length"),
    "flanged_slot": ("distance", "length"),
    "booth": ("area",),
    "canopy": ("distance", "perimeter"),
    "downdraught": ("area",),
}


_SIZES = {
    "distance": "Distance from the hood",
    "area": "Open area of the hood",
    "length": "Length of the slot",
    "perimeter": "Perimeter of the source",
}


def _flow(hood: str, size: Mapping[str, Amount], velocity: Amount) -> Amount:
    if hood in ("booth", "downdraught"):
        return size["area"] * velocity
    if hood == "canopy":
        return 1.4 * size["perimeter"] * size["distance"] * velocity
    if hood in ("slot", "flanged_slot"):
        factor = 3.7 if hood == "slot" else 2.6
        return factor * size["length"] * velocity * size["distance"]
    factor = 1.0 if hood == "plain" else 0.75
    return factor * velocity * (10 * size["distance"] ** 2 + size["area"])


def _size(name: str, unit: str, high: float, meaning: str, example: float) -> Number:
    label = _SIZES[name]
    return Number(
        name, unit, 1e-4, high, label=label, meaning=meaning, example=example, optional=True
    )


@method(
    id="air.hood_flow",
    title="Air flow of an exhaust hood",
    answers="How much air must this hood take in to catch what is released in front of it?",
    inputs=(
        Choice(
            "hood",
            {
                "plain": "Opening without a flange; needs distance and area",
                "flanged": "Opening with a flange as wide as the root of its area; same needs",
                "slot": "Slot, five times as long as wide or more; needs distance and length",
                "flanged_slot": "Slot with a flange; needs distance and length",
                "booth": "Booth or enclosure; needs the area of its open face",
                "canopy": "Canopy over a cold source; needs its height and perimeter",
                "downdraught": "Bench with air drawn down through it; needs its area",
            },
            label="Kind of hood",
            meaning="The kind of hood",
            example="plain",
        ),
        _size("distance", "m", 10, "From the hood to the source; the height of a canopy", 0.3),
        _size("area", "m2", 100, "Open area of the hood", 0.04),
        _size("length", "m", 20, "Length of the slot", 0.6),
        _size("perimeter", "m", 100, "Perimeter of the source under a canopy", 4),
        Number(
            "capture_velocity",
            "m/s",
            0.05,
            20,
            meaning="Air speed that is needed at the source, or in the open face",
            example=0.5,
        ),
        Choice(
            "release",
            {
                "still": "With almost no speed into still air: evaporation, degreasing",
                "slow": "At low speed into fairly still air: welding, filling, plating",
                "active": "Actively into moving air: shallow spray booth, crusher",
                "fast": "At high speed into fast air: grinding, blasting",
            },
            label="How it is released",
            meaning="How the contaminant is released, to compare the speed with",
            example="slow",
            optional=True,
        ),
    ),
    outputs=(
        Output("flow", "m3/s", meaning="Air flow into the hood"),
        Output("capture_low", "m/s", optional=True, meaning="Lowest usual capture velocity"),
        Output("capture_high", "m/s", optional=True, meaning="Highest usual capture velocity"),
    ),
    equation="plain Q = V (10 x^2 + A); flanged 0.75 of it; slot 3.7 L V x; flanged slot "
    "2.6 L V x; canopy 1.4 P x V; booth and downdraught V A",
    sources=(DELLA_VALLE, HOODS, VENTILATION_MANUAL),
    validity="On the axis of the hood, up to about one and a half diameters away, without "
    "draughts across it.",
    cautions=(
        "Smoke tells whether the hood catches what is released; a number does not.",
        "A person never stands between the source and the hood, nor under the canopy.",
    ),
)
def hood_flow(
    *,
    hood: str,
    distance: Any,
    area: Any,
    length: Any,
    perimeter: Any,
    capture_velocity: Amount,
    release: str | None,
) -> Result:
    """Return the air flow that gives a hood its capture velocity.  [m3/s]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "hood": "plain", "distance": 0.3, "area": 0.04, "length": 0.6, "perimeter": 4,
    ...     "capture_velocity": 0.5, "release": "slow",
    ... }
    >>> calculate("air.hood_flow", question).outputs["flow"].value
    0.47
    """
    sizes = {"distance": distance, "area": area, "length": length, "perimeter": perimeter}
    for name in NEEDS[hood]:
        if sizes[name] is None:
            raise Refused(
                f"{name} is missing: hood {hood} needs {' and '.join(NEEDS[hood])}.", field=name
            )
    unused = [
        name for name, value in sizes.items() if value is not None and name not in NEEDS[hood]
    ]
    low, high = CAPTURE.get(release or "", (None, None))
    cautions = []
    if low is not None and np.any(capture_velocity < low):
        cautions.append("The capture velocity is below the usual range for this release.")
    if hood in ("plain", "flanged") and np.any(distance > 1.5 * np.sqrt(4 * area / np.pi)):
        cautions.append(
            "The source is further away than one and a half diameters of the hood, where the "
            "equation no longer holds and the hood will hardly catch anything."
        )
    return Result(
        {
            "flow": _flow(hood, sizes, capture_velocity),
            "capture_low": low,
            "capture_high": high,
        },
        steps=[step("Capture velocity {:g} m/s", capture_velocity)],
        assumptions=[f"Not used for this hood: {', '.join(unused)}."] if unused else [],
        cautions=cautions,
    )


# Lowest duct velocity of each table, m/s. HSG258 sets none for gas and vapour; 5 is the lower
# end of what is usual.
TRANSPORT = {
    "hsg258": {
        "vapour": 5.0,
        "fume": 10.0,
        "fine_dust": 12.5,
        "light_dust": 15.0,
        "average_dust": 20.0,
        "heavy_dust": 25.0,
        "moist_dust": 25.0,
    },
    "industrial_ventilation": {
        "vapour": 5.0,
        "fume": 10.0,
        "fine_dust": 12.0,
        "light_dust": 15.0,
        "average_dust": 18.0,
        "heavy_dust": 20.0,
        "moist_dust": 23.0,
    },
}
TABLES = {"hsg258": HSG258, "industrial_ventilation": VENTILATION_MANUAL}


def _transport_limit(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    if inputs["contaminant"] == "vapour":
        return None
    return Limit(
        name="Lowest transport velocity",
        value=TRANSPORT[inputs["table"]][inputs["contaminant"]],
        unit="m/s",
        source=TABLES[inputs["table"]],
    )


@method(
    id="air.duct_velocity",
    title="Air speed in a duct",
    answers="Is the air in this duct fast enough to carry what is in it?",
    inputs=(
        Number("flow", "m3/s", 1e-5, 1000, meaning="Air flow in the duct", example=0.35),
        Number("diameter", "mm", 5, 5000, meaning="Inside diameter of the duct", example=150),
        Choice(
            "contaminant",
            {
                "vapour": "Gas and vapour, which settle nowhere",
                "fume": "Smoke, fume, welding",
                "fine_dust": "Very fine light dust, wood flour",
                "light_dust": "Dry powder, light shavings, sawdust, plastic dust",
                "average_dust": "Grinding dust, average industrial dust",
                "heavy_dust": "Metal turnings, heavy or wet sawdust, lead",
                "moist_dust": "Heavy and moist or clinging dust",
            },
            meaning="What the air carries",
            example="light_dust",
        ),
        Choice(
            "table",
            {
                "hsg258": "HSE guidance HSG258",
                "industrial_ventilation": "Industrial Ventilation manual, lower end of its ranges",
            },
            label="Table of velocities",
            meaning="The table that the transport velocity is from",
            example="hsg258",
            default="hsg258",
        ),
    ),
    outputs=(
        Output("velocity", "m/s", meaning="Mean air speed in the duct"),
        Output("transport_velocity", "m/s", meaning="Speed below which dust settles in it"),
    ),
    equation="v = 4 Q / (pi d^2)",
    sources=(HSG258, VENTILATION_MANUAL),
    validity="A round duct that runs full; the tables differ, so the table is always named.",
    cautions=(
        "Settled dust blocks the duct and feeds a fire or an explosion: look into it.",
        "A sound speed in one duct says nothing about the hood at its end.",
    ),
    bands=ALL_BANDS,
    judge=Judge("velocity", by=_transport_limit, worse="low"),
)
def duct_velocity(*, flow: Amount, diameter: Amount, contaminant: str, table: str) -> Result:
    """Return the air speed in a round duct, and the one it should have.  [m/s]

    >>> from assessments.calculate import calculate
    >>> question = {"flow": 0.35, "diameter": 150, "contaminant": "light_dust", "table": "hsg258"}
    >>> calculate("air.duct_velocity", question).outputs["velocity"].value
    19.81
    """
    area = np.pi * (diameter / 1000) ** 2 / 4
    return Result(
        {"velocity": flow / area, "transport_velocity": TRANSPORT[table][contaminant]},
        steps=[step("Cross-section {:.4g} m2", area)],
    )
