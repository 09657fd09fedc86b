"""Gas that displaces air: how much oxygen is left when a cylinder or a line leaks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

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
    method,
    require,
    step,
)

OXFORD = Source(
    title="University of Oxford safety policy S4/03, quoting the BCGA worst case",
    place="appendix 1",
)
OSHA_CONFINED = Source(title="29 CFR 1910.146", place="paragraph (b), hazardous atmosphere")
ALARMS = Source(
    title="Guides of British universities on liquid nitrogen",
    place="alarms at 19.5 % and 18 %, common practice",
)
EH40 = Source(title="EH40/2005", edition="fourth edition, 2020", place="table 1", confirmed=False)
IDEAL_GAS = Source(title="Ideal gas law at 20 degC and 101 325 Pa", place="physics")

DEFICIENT = 19.5  # % oxygen; 29 CFR 1910.146(b)

# Carbon dioxide is poisonous long before it displaces enough air: 15 min and 8 h averages.
CARBON_DIOXIDE_SHORT, CARBON_DIOXIDE_DAY = 0.015, 0.005

ATMOSPHERE_BAR = 1.01325
MOLAR_VOLUME = 8.314462618 * 293.15 / 101_325 * 1000  # m3/kmol at 20 degC
MOLAR_MASS = {
    "nitrogen": 28.0134,
    "argon": 39.948,
    "helium": 4.002602,
    "carbon_dioxide": 44.0095,
    "argon_carbon_dioxide": 39.948,  # that of its lighter part: more gas from each kilogram
}

POISONOUS = {"carbon_dioxide", "argon_carbon_dioxide"}

# Litres of gas at room temperature from a litre of liquid.
EXPANSION = {"nitrogen": 700.0, "argon": 840.0}


def _limit(inputs: Mapping[str, Any], _limits: Limits) -> Limit:
    """Return the least oxygen; with carbon dioxide, what is left beside its own short limit.

    A mixture counts as if all of it were carbon dioxide, since its share is not asked for.
    """
    if inputs["gas"] not in POISONOUS:
        name = "Oxygen deficiency begins"
        return Limit(name=name, value=DEFICIENT, unit="%", source=OSHA_CONFINED)
    return Limit(
        name="Oxygen left beside 15 000 ppm of carbon dioxide, which is poisonous by itself",
        value=inputs["initial_oxygen"] * (1 - CARBON_DIOXIDE_SHORT),
        action=inputs["initial_oxygen"] * (1 - CARBON_DIOXIDE_DAY),
        unit="%",
        source=EH40,
    )


@method(
    id="gas.oxygen",
    title="Oxygen left after a release of gas",
    answers="How much oxygen is left in this room if this gas gets out?",
    inputs=(
        Choice(
            "gas",
            {
                "nitrogen": "Nitrogen",
                "argon": "Argon",
                "helium": "Helium",
                "carbon_dioxide": "Carbon dioxide",
                "argon_carbon_dioxide": "Welding mixture of argon with carbon dioxide",
                "other": "Another gas that neither burns nor poisons nor feeds a fire",
            },
            meaning="The gas that gets out",
            example="argon",
        ),
        Number(
            "room_volume",
            "m3",
            0.1,
            1e6,
            meaning="Air in the room: take off about a fifth for furniture and machines",
            example=60,
        ),
        Number(
            "gas_volume",
            "m3",
            0,
            1e5,
            meaning="Gas that can get out, at room temperature and pressure; without it the leak "
            "goes on",
            example=5,
            optional=True,
        ),
        Number(
            "cylinder_litres",
            "l",
            0.01,
            1e5,
            label="Cylinder",
            meaning="Water capacity of the cylinder or bundle",
            example=50,
        ),
        Number("pressure", "bar", 0.01, 700, meaning="Gauge pressure of the cylinder", example=200),
        Number(
            "liquid_litres",
            "l",
            0.001,
            1e5,
            label="Liquid",
            meaning="Cold liquid that can spill",
            example=10,
            optional=True,
        ),
        Number(
            "mass",
            "kg",
            0.001,
            1e5,
            meaning="Mass of gas in the cylinder, as on its label",
            example=6,
            optional=True,
        ),
        Number(
            "leak_rate",
            "m3/s",
            0,
            100,
            meaning="Rate at which the gas gets out; without it all of it is out at once",
            example=0.001,
            optional=True,
        ),
        Number(
            "air_changes",
            "1/h",
            0,
            1000,
            meaning="Changes of air an hour that are certain even with the power off",
            example=0.4,
            default=0,
        ),
        Number(
            "time",
            "s",
            0,
            1e8,
            meaning="Time since the release began; without it the worst moment is taken",
            example=3600,
            optional=True,
        ),
        Number(
            "initial_oxygen", "%", 19.5, 21, meaning="Oxygen before", example=20.9, default=20.9
        ),
    ),
    outputs=(
        Output("oxygen", "%", meaning="Oxygen at the time asked for, were all well mixed"),
        Output("gas_fraction", "%", meaning="Gas in the room at that time"),
        Output("lowest_oxygen", "%", meaning="Least oxygen up to that time; this one is judged"),
    ),
    equation="O2 = C0 (1 - V_gas / V_room) at once; O2 = C0 (1 - L / (N V) (1 - exp(-N t))) "
    "for a leak; V_gas = V_cylinder p / 1.01325 bar",
    sources=(OXFORD, ALARMS, OSHA_CONFINED, EH40, IDEAL_GAS),
    validity="Gas mixed evenly with the whole room, which it never is at first: argon, carbon "
    "dioxide and cold gas lie low, in pits and below benches, helium gathers under the ceiling. "
    "An ideal gas: a full cylinder of argon may hold a tenth more.",
    cautions=(
        "Not for oxygen, which feeds a fire above 23.5 %, nor for gas that burns or poisons.",
        "Alarms are commonly set at 19.5 %, and at 18 % to leave at once; below about 14 % "
        "judgement fails, and nothing warns of it. Where oxygen may run short, alarms on the wall "
        "or on the person decide, not this number.",
        "Never go in after somebody who has collapsed without breathing apparatus.",
        NO_PERMISSION,
    ),
    bands=UNFAVOURABLE,
    one_of=(
        OneOf(
            (
                ("gas_volume", "leak_rate"),
                ("cylinder_litres", "pressure", "leak_rate"),
                ("liquid_litres", "leak_rate"),
                ("mass", "leak_rate"),
            )
        ),
    ),
    judge=Judge("lowest_oxygen", by=_limit, worse="low"),
)
def oxygen(
    *,
    gas: str,
    room_volume: Amount,
    gas_volume: Any,
    cylinder_litres: Any,
    pressure: Any,
    liquid_litres: Any,
    mass: Any,
    leak_rate: Any,
    air_changes: Amount,
    time: Any,
    initial_oxygen: Amount,
) -> Result:
    """Return what oxygen is left after a release, and the least until then.  [%]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "gas": "argon", "room_volume": 60, "gas_volume": 5, "leak_rate": 0.001,
    ...     "air_changes": 0.4, "time": 3600, "initial_oxygen": 20.9,
    ... }
    >>> calculate("gas.oxygen", question).outputs["lowest_oxygen"].value
    19.87
    """
    if gas_volume is None:
        gas_volume = _gas_volume(gas, cylinder_litres, pressure, liquid_litres, mass)
    changes = np.asarray(air_changes) / 3600  # 1/s
    if leak_rate is None:
        peak, ends = _share_at_once(gas_volume, room_volume), 0.0
    else:
        ends = _end_of_leak(gas_volume, leak_rate, time, changes)
        peak = _share_of_leak(leak_rate / room_volume, changes, ends)
    after = 0.0 if time is None else np.maximum(np.asarray(time) - ends, 0.0)
    share = peak * np.exp(-changes * after)
    steps = [step("At the worst moment {:.4g} % of the room is gas", 100 * peak)]
    if gas_volume is not None:
        steps.insert(0, step("{:.4g} m3 of gas into {:g} m3", gas_volume, room_volume))
    return Result(
        {
            "oxygen": initial_oxygen * (1 - share),
            "gas_fraction": 100 * share,
            "lowest_oxygen": initial_oxygen * (1 - peak),
        },
        steps=steps,
        assumptions=["All of the gas is out at once: no leak rate was given."]
        if leak_rate is None
        else [],
        cautions=_poison(gas),
    )


def _poison(gas: str) -> list[str]:
    if gas not in POISONOUS:
        return []
    return [
        "Carbon dioxide is poisonous long before oxygen runs short: measure it by itself, against "
        "its own limits (5000 ppm over 8 h, 15 000 ppm over 15 min in EH40, from memory)."
    ]


def _gas_volume(gas: str, litres: Any, pressure: Any, liquid: Any, mass: Any) -> Amount | None:
    """Return how much gas can get out, at room temperature and pressure.  [m3]"""
    if litres is not None:
        if gas == "carbon_dioxide":
            raise Refused(
                "cylinder_litres says nothing of carbon dioxide, which is liquid in its cylinder: "
                "give its mass in kg, as on the label.",
                field="cylinder_litres",
            )
        return litres / 1000 * pressure / ATMOSPHERE_BAR
    if liquid is not None:
        if gas not in EXPANSION:
            known = " and ".join(EXPANSION)
            raise Refused(
                f"liquid_litres is known here for {known} only: give gas_volume in m3.",
                field="liquid_litres",
            )
        return liquid * EXPANSION[gas] / 1000
    if mass is not None:
        if gas not in MOLAR_MASS:
            raise Refused(
                "mass needs a gas that is named in the list: give gas_volume in m3.", field="mass"
            )
        return mass * MOLAR_VOLUME / MOLAR_MASS[gas]
    return None


def _share_at_once(gas_volume: Any, room_volume: Amount) -> Amount:
    """Return the share of the room that a sudden release takes, air going out before gas.  [1]"""
    if gas_volume is None:
        raise Refused(
            "Give what gets out: gas_volume in m3, a cylinder, a liquid, a mass, or leak_rate in "
            "m3/s.",
            field="gas_volume",
        )
    return np.minimum(gas_volume / room_volume, 1.0)


def _end_of_leak(gas_volume: Any, leak_rate: Any, time: Any, changes: Amount) -> Amount:
    """Return when the worst moment comes: the gas is used up, or the time asked for.  [s]"""
    rate = np.asarray(leak_rate, dtype=float)
    emptied = np.inf if gas_volume is None else np.where(rate > 0, gas_volume / rate, np.inf)
    ends = emptied if time is None else np.minimum(emptied, time)
    require(
        np.isfinite(ends) | (changes > 0) | (rate == 0),
        "time must be a number from 0 to 1e+08 s where a leak goes on without any air changes.",
        field="time",
    )
    return ends


# Air changes below this move nothing, and their quotient would lose its digits.  [1/s]
NO_AIR = 1e-200


def _share_of_leak(into: Amount, changes: Amount, lasts: Amount) -> Amount:
    """Return the share of the room that a leak has taken; ``into`` is L / V.  [1]

    Without ventilation it grows as that of a sudden release, which is the stricter way.
    """
    flows = changes > NO_AIR
    renewed = -np.expm1(-changes * lasts) / np.where(flows, changes, 1.0)
    still = np.where(np.asarray(into) > 0, into * lasts, 0.0)
    return np.minimum(np.where(flows, into * renewed, still), 1.0)
