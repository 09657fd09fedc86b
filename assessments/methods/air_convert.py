"""Concentrations from one unit into the other."""

from __future__ import annotations

from typing import Any

from assessments.method import (
    Amount,
    Choice,
    Number,
    OneOf,
    Output,
    Result,
    Text,
    method,
    step,
)
from assessments.methods.air_common import (
    GAS_LAW,
    molar_mass_of,
    molar_volume,
    temperature,
)


@method(
    id="air.convert",
    title="From ppm to mg/m3 and back",
    answers="What is this concentration in the other unit?",
    inputs=(
        Choice(
            "from",
            {"ppm": "Parts per million, to mg/m3", "mg/m3": "Milligrams in a cubic metre, to ppm"},
            label="Convert from",
            meaning="The unit that the value is in",
            example="ppm",
        ),
        Number(
            "value",
            "ppm",
            0,
            1e9,
            meaning="Concentration",
            example=400,
            unit_by=("from", {"ppm": "ppm", "mg/m3": "mg/m3"}),
        ),
        Number("molar_mass", "g/mol", 1, 1000, meaning="Molar mass", example=60.1),
        Text("agent", meaning="Name or CAS number of a gas or vapour", example="propan-2-ol"),
        temperature("Temperature that the volume is for: 20 in Europe, 25 in the US"),
        Number(
            "pressure",
            "kPa",
            50,
            200,
            meaning="Air pressure",
            example=101.325,
            default=101.325,
        ),
    ),
    outputs=(
        Output(
            "value",
            "mg/m3",
            meaning="The concentration in the other unit",
            unit_by=("from", {"ppm": "mg/m3", "mg/m3": "ppm"}),
        ),
    ),
    equation="c [mg/m3] = c [ppm] x M / Vm, Vm = R T / p",
    sources=(GAS_LAW,),
    validity="Gases and vapours, never dust, fume or mist.",
    cautions=("A limit is compared in the unit it is printed in, and not converted.",),
    one_of=(OneOf((("molar_mass",), ("agent",))),),
)
def convert(
    *,
    from_: str,
    value: Amount,
    molar_mass: Any,
    agent: str | None,
    temperature: Amount,
    pressure: Amount,
) -> Result:
    """Return a concentration in the other unit.  [mg/m3 or ppm]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "from": "ppm", "value": 400, "molar_mass": 60.1, "temperature": 20,
    ...     "pressure": 101.325,
    ... }
    >>> calculate("air.convert", question).outputs["value"].value
    999.4
    """
    mass = molar_mass_of(agent, molar_mass)
    volume = molar_volume(temperature, pressure)
    factor = mass / volume
    return Result(
        {"value": value * factor if from_ == "ppm" else value / factor},
        steps=[step("{:.4g} g/mol in {:.5g} l/mol: 1 ppm is {:.4g} mg/m3", mass, volume, factor)],
    )
