"""Welding: the shade of filter for a process, and what a shade lets through."""

from __future__ import annotations

import numpy as np

from assessments.errors import Refused
from assessments.finding import Source
from assessments.light import shades
from assessments.method import Amount, Choice, Number, OneOf, Output, Result, method, require, step

EN_169 = Source(
    title="EN 169",
    edition="2002, since replaced by EN ISO 16321",
    place="as given for ANSI Z87.1 and in Patty's Industrial Hygiene",
)

BY_CURRENT = {
    "mma": "Covered electrodes (MMA, SMAW)",
    "mag": "Active gas, steel (MAG, GMAW)",
    "mig": "Inert gas, steel and other heavy metals (MIG, GMAW)",
    "mig_light": "Inert gas, aluminium and light alloys (MIG, GMAW)",
    "flux_cored": "Flux-cored wire (FCAW)",
    "tig": "Tungsten electrode (TIG, GTAW)",
    "gouging": "Air carbon arc gouging and cutting (CAC-A)",
    "plasma_cutting": "Plasma cutting, arc in sight (PAC)",
    "plasma_welding": "Plasma welding (PAW)",
}
BY_FLOW = {
    "gas_welding": "Gas welding and brazing, by flow of acetylene",
    "oxygen_cutting": "Oxygen cutting, by flow of oxygen",
}
BY_PLATE = {
    "gas_welding_plate": "Gas welding, by thickness of the plate",
    "oxygen_cutting_plate": "Oxygen cutting, by thickness of the plate",
}
BY_NAME = {
    "brazing": "Torch brazing",
    "soldering": "Torch soldering",
    "carbon_arc": "Carbon arc welding",
    "plasma_spraying": "Plasma spraying",
}
PROCESSES = BY_CURRENT | BY_FLOW | BY_PLATE | BY_NAME
TABLE_NAMES = {
    "en_169": "EN 169, recommended in Europe",
    "osha": "29 CFR 1910.133, the least that the law of the US asks",
    "ansi": "ANSI Z49.1, least and comfort shade",
    "as_nzs": "AS/NZS 1338.1, the least",
}
_LIGHTER = (
    "The 2002 edition of EN 169, from memory, is one number lighter here; the darker print is used."
)
OTHER_READING = {
    "mma": _LIGHTER,
    "tig": _LIGHTER,
    "mag": "Another reading of EN 169, from memory, is one number darker from 175 to 275 A and "
    "from 300 to 350 A; the print is used.",
}
WELL_LIT = (
    "Start with a darker shade and go lighter until the weld is seen, never below the least "
    "of the local rule; EN 169 allows one number either way for the conditions."
)
BYSTANDERS = (
    "A shade is for the welder's eyes: skin must be covered, and others kept behind screens."
)


def _table(process: str, table: str | None) -> str:
    """Return the table to use: the one asked for, else the first that has the process."""
    having = [name for name, rows in shades.TABLES.items() if process in rows]
    if table is not None and table not in having:
        raise Refused(
            f"{process} is not in {shades.SOURCES[table].title}; table must be one of "
            f"{', '.join(having)}.",
            field="table",
        )
    return table or having[0]


@method(
    id="welding.shade",
    title="Shade of a welding filter",
    answers="Which shade does this process ask for?",
    inputs=(
        Choice("process", PROCESSES, meaning="What is done", example="mma"),
        Number(
            "current",
            "A",
            1,
            2000,
            meaning="Welding current",
            example=120,
            when=("process", tuple(BY_CURRENT)),
        ),
        Number(
            "flow",
            "l/h",
            1,
            20_000,
            label="Flow of gas",
            meaning="Flow of acetylene (welding) or oxygen (cutting)",
            example=1000,
            when=("process", tuple(BY_FLOW)),
        ),
        Number(
            "plate",
            "mm",
            0.1,
            1000,
            label="Thickness of the plate",
            meaning="Thickness of the plate",
            example=5,
            when=("process", tuple(BY_PLATE)),
        ),
        Choice(
            "table",
            TABLE_NAMES,
            label="Table of shades",
            meaning="Whose table; without it EN 169, or the first that has the process",
            example="osha",
            optional=True,
            when=("process", (*BY_CURRENT, *BY_PLATE)),
        ),
    ),
    outputs=(
        Output("shade", "1", meaning="Scale number that the table gives"),
        Output("suggested", "1", meaning="Comfort shade to start with", optional=True),
    ),
    equation="the row of the table that holds the current, flow or plate; the darker at an edge",
    sources=tuple(shades.SOURCES.values()),
    validity="Currents, flows and plates that the chosen table lists.",
    cautions=(WELL_LIT, BYSTANDERS),
)
def shade(
    *, process: str, current: Amount, flow: Amount, plate: Amount, table: str | None
) -> Result:
    """Return the scale number that a table gives for a process.

    >>> from assessments.calculate import calculate
    >>> question = {"process": "mma", "current": 120, "table": "osha"}
    >>> calculate("welding.shade", question).outputs["shade"].value
    8.0
    """
    chosen = _table(process, table)
    rows = shades.TABLES[chosen][process]
    value, name, unit = _asked(current, flow, plate)
    number, suggested, confirmed = shades.darkest(rows, value)
    lowest, highest = rows[0].low, rows[-1].high
    require(
        ~np.isnan(number),
        f"{name} for {process} must be from {lowest:g} to {highest:g} {unit} in "
        f"{shades.SOURCES[chosen].title}.",
        field=name,
    )
    comfort = None if np.any(np.isnan(suggested)) else suggested
    return Result(
        {"shade": number, "suggested": comfort},
        steps=[
            step("{}: {}", TABLE_NAMES[chosen], PROCESSES[process]),
            *([step("{} {:g} {}", name, value, unit)] if unit else ()),
        ],
        assumptions=_assumptions(chosen, process, bool(np.all(confirmed))),
    )


def _asked(current: Amount, flow: Amount, plate: Amount) -> tuple[Amount, str, str]:
    """Return what the table is asked by, with its name and unit."""
    given = ((current, "current", "A"), (flow, "flow", "l/h"), (plate, "plate", "mm"))
    return next((each for each in given if each[0] is not None), (0, "process", ""))


def _assumptions(table: str, process: str, confirmed: bool) -> list[str]:
    assumed = []
    if not confirmed:
        assumed.append("This row of the table is from memory: look it up before relying on it.")
    if table == "en_169" and process in OTHER_READING:
        assumed.append(OTHER_READING[process])
    return assumed


@method(
    id="welding.transmittance",
    title="Shade and transmittance",
    answers="How much light does this shade let through, or which shade does that make?",
    inputs=(
        Number(
            "shade", "1", 1, 20, label="Shade number", meaning="Shade, or scale number", example=11
        ),
        Number(
            "transmittance",
            "1",
            1e-9,
            1,
            meaning="Luminous transmittance, as a share; of stacked filters their product",
            example=5e-5,
        ),
    ),
    outputs=(
        Output("transmittance", "1", meaning="Luminous transmittance", optional=True),
        Output("shade", "1", meaning="Shade", optional=True),
        Output(
            "scale_number", "1", meaning="Number that EN 169 marks it with, to 16", optional=True
        ),
    ),
    equation="N = 1 + (7 / 3) lg(1 / tau)",
    sources=(EN_169,),
    validity="Nominal luminous transmittance; the most that a shade may let through is another.",
    cautions=(
        "The transmittance for light says nothing of ultraviolet and infrared: only a filter "
        "marked for welding holds those back.",
    ),
    one_of=(OneOf((("shade",), ("transmittance",))),),
)
def transmittance(*, shade: Amount, transmittance: Amount) -> Result:
    """Return the transmittance of a shade, or the shade of a transmittance.

    >>> from assessments.calculate import calculate
    >>> calculate("welding.transmittance", {"shade": 11}).outputs["transmittance"].value
    5.179e-05
    """
    if shade is not None:
        through = shades.transmittance(shade)
        return Result(
            {"transmittance": through}, steps=[step("Shade {:g}: {:.3g} %", shade, through * 100)]
        )
    exact = shades.shade(transmittance)
    known = bool(np.all(exact <= 16.5))
    return Result(
        {"shade": exact, "scale_number": shades.scale_number(exact) if known else None},
        steps=[step("{:.3g} %: shade {:.3f}", transmittance * 100, exact)],
    )
