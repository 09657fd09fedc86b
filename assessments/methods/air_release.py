"""What gets into the air, and how much fresh air it takes to keep it below a limit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from assessments import agents
from assessments.errors import Refused
from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import (
    NO_PERMISSION,
    UNFAVOURABLE,
    Amount,
    Choice,
    Judge,
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
    MODELLED,
    PERFECT_GAS,
    SUBSTANCE,
    exposure_limit,
    molar_mass_of,
    molar_volume,
    short_term_limit,
    temperature,
)

PASCAL_PER_MMHG = 133.322387415  # conventional millimetre of mercury, BIPM
SQUARE_FEET = 0.3048**2  # m2
POUNDS_PER_MINUTE = 453.59237 / 60  # g/s
FEET_PER_MINUTE = 0.3048 / 60  # m/s

MOLAR_MASS = Number("molar_mass", "g/mol", 1, 1000, meaning="Molar mass", example=60.1)

EPA_RMP = Source(
    title="US EPA, Risk Management Program Guidance for Offsite Consequence Analysis",
    edition="EPA 550-B-99-009, 1999",
    place="appendix D, equation D-1",
    confirmed=False,
)
EPA_OPEN = Source(
    title="US EPA, open-surface penetration and mass transfer models, after Braun and Caplan",
    edition="EPA 744-R-92-001, 1989",
    place="source generation rates",
    confirmed=False,
)
RMP, OPEN = "rmp", "open_surface"


def _rmp(mass: Amount, pressure: Amount, area: Amount, speed: Amount, kelvin: Amount) -> Amount:
    """Return equation D-1, which is printed in lb/min, ft2, mmHg and m/s.  [g/s]"""
    millimetres = pressure / PASCAL_PER_MMHG
    pounds = 0.284 * speed**0.78 * mass ** (2 / 3) * (area / SQUARE_FEET) * millimetres
    return pounds / (82.05 * kelvin) * POUNDS_PER_MINUTE


def _open_surface(
    mass: Amount, pressure: Amount, area: Amount, speed: Amount, kelvin: Amount
) -> Amount:
    """Return the penetration model up to 100 ft/min and the mass transfer model above.  [g/s]

    The second starts below where the first ends; the first is kept until the second has passed
    it, so that faster air never means a lower rate.
    """
    torr, centimetres2 = pressure / PASCAL_PER_MMHG, area * 1e4
    feet = speed / FEET_PER_MINUTE
    across = 2 * np.sqrt(centimetres2 / np.pi)
    light = 1 / 29 + 1 / mass
    still = 8.24e-8 * mass**0.835 * torr * light**0.25 * np.minimum(feet, 100) ** 0.5
    still = still * centimetres2 / (kelvin**0.05 * across**0.5)
    moving = 1.93e-7 * mass**0.78 * torr * feet**0.78 * light ** (1 / 3) * centimetres2
    moving = moving / (kelvin**0.4 * across**0.11 * (np.sqrt(kelvin) - 5.87) ** (2 / 3))
    return np.where(feet <= 100, still, np.maximum(still, moving))


@method(
    id="air.evaporation",
    title="Evaporation from an open surface",
    answers="How fast does a liquid evaporate from a tray, a tank or a spill?",
    inputs=(
        SUBSTANCE,
        MOLAR_MASS,
        Number(
            "vapour_pressure",
            "Pa",
            0.1,
            200_000,
            meaning="Vapour pressure of the liquid at that temperature",
            example=4400,
        ),
        Number(
            "area",
            "m2",
            1e-4,
            10_000,
            label="Open liquid surface",
            meaning="Open liquid surface",
            example=0.06,
        ),
        Number("air_speed", "m/s", 0.01, 20, meaning="Air speed along the surface", example=0.25),
        temperature("Temperature of the liquid", -20, 80),
        Choice(
            "model",
            {
                "highest": "The highest of the models",
                RMP: "Pool model of the EPA guidance on offsite consequences",
                OPEN: "Open-surface models of the EPA, still air or moving air by the speed",
            },
            meaning="Which model is answered by",
            example="highest",
            default="highest",
        ),
    ),
    outputs=(
        Output("rate", "g/s", meaning="Rate of evaporation"),
        Output("governing", options=(RMP, OPEN), meaning="The model that the rate is of"),
        Output("rmp_rate", "g/s", meaning="By the pool model"),
        Output("open_surface_rate", "g/s", meaning="By the open-surface models"),
        Output("vapour_pressure", "Pa", meaning="Vapour pressure that was used"),
    ),
    equation="G = 0.284 U^0.78 M^(2/3) A p / (82.05 T) lb/min; "
    "G = 8.24e-8 M^0.835 p (1/29 + 1/M)^0.25 v^0.5 A / (T^0.05 D^0.5) g/s to 100 ft/min; "
    "G = 1.93e-7 M^0.78 p v^0.78 (1/29 + 1/M)^(1/3) A / (T^0.4 D^0.11 (T^0.5 - 5.87)^(2/3)) above",
    sources=(EPA_RMP, EPA_OPEN),
    validity="A pure liquid below its boiling point with clean air above it, at 101.325 kPa.",
    cautions=(
        "Models differ by a factor of up to three; the highest is given unless one is asked for.",
        "A mixture gives off the vapour of each of its parts: take the most volatile.",
        MODELLED,
    ),
    one_of=(OneOf((("agent",), ("molar_mass", "vapour_pressure"))),),
)
def evaporation(
    *,
    agent: str | None,
    molar_mass: Any,
    vapour_pressure: Any,
    area: Amount,
    air_speed: Amount,
    temperature: Amount,
    model: str,
) -> Result:
    """Return the rate at which a liquid evaporates from an open surface.  [g/s]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "agent": "propan-2-ol", "area": 0.06, "air_speed": 0.25, "temperature": 20,
    ...     "model": "highest",
    ... }
    >>> calculate("air.evaporation", question).outputs["rate"].value
    0.02375
    """
    mass = molar_mass_of(agent, molar_mass)
    pressure = agents.find(agent).vapour_pressure(temperature) if agent else vapour_pressure
    given = (mass, pressure, area, air_speed, temperature + agents.ZERO_CELSIUS)
    pool, tank = _rmp(*given), _open_surface(*given)
    first = {RMP: np.full_like(pool, True, dtype=bool), OPEN: np.full_like(pool, False, dtype=bool)}
    by_pool = first.get(model, pool >= tank)
    return Result(
        {
            "rate": np.where(by_pool, pool, tank),
            "governing": np.where(by_pool, RMP, OPEN),
            "rmp_rate": pool,
            "open_surface_rate": tank,
            "vapour_pressure": pressure,
        },
        steps=[
            step("{:.4g} g/mol, {:.5g} Pa", mass, pressure),
            step("{:.3g} g/s by the pool model, {:.3g} by the open-surface model", pool, tank),
        ],
    )


STOICHIOMETRY = Source(
    title="IUPAC standard atomic weights", edition="abridged, 2021", place="repeat unit"
)
# What the repeat unit gives off at most: the agent, and its mass in the mass of the polymer.
POLYMERS = {
    "pvc": ("hydrogen chloride", 36.458 / 62.496),  # C2H3Cl loses HCl
    "pmma": ("methyl methacrylate", 1.0),  # falls apart into its monomer
    "pom": ("formaldehyde", 1.0),  # falls apart into its monomer
}
ALSO = {"polyvinyl chloride": "pvc", "acrylic": "pmma", "polyoxymethylene": "pom", "acetal": "pom"}


def _given_off(polymer: str) -> tuple[str, float]:
    name = polymer.casefold()
    found = POLYMERS.get(ALSO.get(name, name))
    if found is None:
        raise Refused(
            f"polymer must be one of {', '.join([*POLYMERS, *ALSO])}; what others give off "
            "differs from case to case.",
            field="polymer",
        )
    return found


def _release_limit(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    gas, _ = _given_off(inputs["polymer"])
    short = short_term_limit(gas, "mg/m3", limits, ask=False)
    return short or exposure_limit(gas, "twa_8h", "mg/m3", limits, ask=False)


@method(
    id="air.polymer_release",
    title="Gas from an overheated polymer",
    answers="How much gas can a burnt or cut piece of plastic give off at most?",
    inputs=(
        Number("mass", "g", 1e-6, 1e6, meaning="Mass of material that is burnt away", example=10),
        Text(
            "polymer",
            meaning="The polymer: pvc gives off hydrogen chloride, pmma (acrylic) methyl "
            "methacrylate, pom (acetal) formaldehyde",
            example="pvc",
        ),
        Number(
            "fraction",
            "1",
            1e-6,
            1,
            label="Share of polymer",
            meaning="Share of the polymer in the material, by mass",
            example=1,
            default=1,
        ),
        Number("volume", "m3", 0.01, 1e6, meaning="Air in the room", example=60),
    ),
    outputs=(
        Output("release", "g", meaning="Gas that is given off at most"),
        Output("concentration", "mg/m3", meaning="That in the whole room, without ventilation"),
        Output("concentration_ppm", "ppm", meaning="The same in ppm, at 20 degC"),
    ),
    equation="m = m(material) x fraction x M(gas) / M(repeat unit), C = m / V",
    sources=(STOICHIOMETRY,),
    validity="An upper bound: all of the polymer gives off this gas, and all of it stays in the "
    "air of the room. Other gases and smoke come with it.",
    cautions=(
        "PVC does not belong in a laser cutter: what it gives off is corrosive and toxic.",
        MODELLED,
        NO_PERMISSION,
    ),
    bands=UNFAVOURABLE,
    judge=Judge("concentration", by=_release_limit),
)
def polymer_release(*, mass: Amount, polymer: str, fraction: Amount, volume: Amount) -> Result:
    """Return the gas that a polymer gives off at most, and its concentration in a room.

    >>> from assessments.calculate import calculate
    >>> question = {"mass": 10, "polymer": "pvc", "fraction": 1, "volume": 60}
    >>> calculate("air.polymer_release", question).outputs["concentration"].value
    97.23
    """
    gas, share = _given_off(polymer)
    release = mass * fraction * share
    concentration = 1000 * release / volume
    molar_mass = agents.find(gas).number("molar_mass")
    return Result(
        {
            "release": release,
            "concentration": concentration,
            "concentration_ppm": concentration * molar_volume(20.0) / molar_mass,
        },
        steps=[step("1 g of the polymer gives {:.4f} g of " + gas, share)],
    )


DILUTION = Source(
    title="ACGIH, Industrial Ventilation", place="dilution ventilation chapter", confirmed=False
)


@method(
    id="air.dilution",
    title="Fresh air that dilutes a vapour",
    answers="How much fresh air keeps an evaporating liquid below a limit?",
    inputs=(
        Number("generation", "g/s", 1e-9, 1e5, meaning="Liquid that evaporates", example=0.26),
        Number("limit", "ppm", 1e-6, 1_000_000, meaning="Concentration to keep", example=350),
        MOLAR_MASS,
        SUBSTANCE,
        Number(
            "mixing_factor",
            "1",
            1,
            20,
            meaning="Multiplies the air: 1 for ideal mixing, 3 to 10 where air is poorly mixed",
            example=5,
        ),
        temperature("Air temperature", -20, 80),
    ),
    outputs=(
        Output("ventilation", "m3/s", meaning="Fresh air that is needed"),
        Output("vapour", "m3/s", meaning="Volume of the vapour"),
    ),
    equation="Q = K (G / M) Vm / L",
    sources=(DILUTION, GAS_LAW),
    validity="A steady source of vapour; the flows of several solvents that act alike are added.",
    cautions=(
        "Not for dust, fume or very toxic vapour: extract those at the source.",
        MODELLED,
    ),
    one_of=(OneOf((("molar_mass",), ("agent",))),),
)
def dilution(
    *,
    generation: Amount,
    limit: Amount,
    molar_mass: Any,
    agent: str | None,
    mixing_factor: Amount,
    temperature: Amount,
) -> Result:
    """Return the fresh air that keeps a vapour at a limit.  [m3/s]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "generation": 0.26, "limit": 350, "molar_mass": 60.1, "mixing_factor": 5,
    ...     "temperature": 20,
    ... }
    >>> calculate("air.dilution", question).outputs["ventilation"].value
    1.487
    """
    mass = molar_mass_of(agent, molar_mass)
    vapour = generation / mass * molar_volume(temperature) / 1000
    ideal = vapour / (limit * 1e-6)
    return Result(
        {"ventilation": mixing_factor * ideal, "vapour": vapour},
        steps=[step("{:.4g} m3/s of vapour; {:.4g} m3/s of air if ideally mixed", vapour, ideal)],
        assumptions=[PERFECT_GAS],
    )
