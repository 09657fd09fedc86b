"""What the methods about air share: units, molar volume, and the limit of an agent."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from assessments import agents
from assessments.errors import Refused
from assessments.finding import Limit, Source
from assessments.limits import Limits
from assessments.method import Amount, Choice, Number, Text

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018, exact
ATMOSPHERE = 101.325  # kPa

OSHA_AIR = Source(title="29 CFR 1910.1000", place="paragraph (d), computation formulae")
EH40 = Source(
    title="EH40/2005 Workplace exposure limits (HSE)",
    edition="fourth edition, 2020",
    place="calculation methods",
    confirmed=False,
)
GAS_LAW = Source(
    title="Ideal gas law", edition="CODATA 2018 gas constant", place="equation of state"
)

# How the list of the US names a recommendation of NIOSH beside the legal limit of OSHA.
RECOMMENDED = ", NIOSH recommendation"

UNITS = {"ppm": "ppm", "mg/m3": "mg/m3"}
UNIT = Choice(
    "unit",
    {"ppm": "Parts per million by volume", "mg/m3": "Milligrams in a cubic metre"},
    meaning="The unit of the concentrations",
    example="ppm",
    default="ppm",
)
BY_UNIT = ("unit", UNITS)

AGENT = Text(
    "agent",
    label="Substance",
    meaning="Name or CAS number of the substance, to look up its limit",
    example="propan-2-ol",
    optional=True,
)

SUBSTANCE = Text(
    "agent", label="Substance", meaning="Name or CAS number of the substance", example="propan-2-ol"
)
PERFECT_GAS = "The vapour is an ideal gas at 101.325 kPa."

BELOW_IS_NO_PROOF = (
    "Exposure to carcinogens and sensitisers is to be kept as low as can be, also below a limit; "
    "substances that pass the skin are not covered by what is in the air."
)
MODELLED = (
    "A modelled value: the real room is never mixed like the model. Measure where it matters."
)


def molar_volume(celsius: Amount, kilopascal: Amount = ATMOSPHERE) -> Amount:
    """Return the volume of one mole of an ideal gas.  [l/mol]

    >>> round(molar_volume(25.0), 3)
    24.465
    """
    return GAS_CONSTANT * (celsius + agents.ZERO_CELSIUS) / kilopascal


def temperature(meaning: str, low: float = -50, high: float = 200) -> Number:
    return Number("temperature", "degC", low, high, meaning=meaning, example=20)


def molar_mass_of(agent: str | None, molar_mass: Any) -> Amount:
    """Return the molar mass given, or that on record of the agent.  [g/mol]"""
    return molar_mass if agent is None else agents.find(agent).number("molar_mass")


def exposure_limit(
    agent: str | None, kind: str, unit: str, limits: Limits, *, ask: bool = True
) -> Limit | None:
    """Return the limit of an agent by any of its names, in the unit asked for, or None.

    A limit is compared in its own printed unit and never converted: when there is one in the
    other unit only, the question is refused (or, unless ``ask``, answered without a limit).
    """
    if agent is None:
        return None
    record = agents.known(agent)
    names = [agent, record.name, record.cas] if record else [agent]
    names += [f"{name}{RECOMMENDED}" for name in names]  # stands after what is law
    for name in names:
        found = limits.substance(name, kind, unit)
        if found:
            return found
    other = next((found for name in names if (found := limits.substance(name, kind))), None)
    if other and ask:
        raise Refused(
            f"unit: the limit of {agent} is printed in {other.unit}; give the concentrations "
            f"in {other.unit} with unit={other.unit}.",
            field="unit",
        )
    return None


def short_term_limit(
    agent: str | None, unit: str, limits: Limits, *, ask: bool = True
) -> Limit | None:
    """Return the 15-minute limit; where there is only a ceiling, that one, marked as such."""
    short = exposure_limit(agent, "stel_15min", unit, limits, ask=ask)
    if short:
        return short
    ceiling = exposure_limit(agent, "ceiling", unit, limits, ask=ask)
    return replace(ceiling, notation=(*ceiling.notation, "ceiling")) if ceiling else None
