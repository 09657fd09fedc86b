"""Air in a room: how a contaminant builds up, what is close to the source, how long it lasts."""

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
    Output,
    Result,
    method,
    require,
    step,
)
from assessments.methods.air_common import AGENT, MODELLED, exposure_limit
from assessments.plots.room import course

WELL_MIXED = Source(
    title="Crowl and Louvar, Chemical Process Safety", place="chapter 3, dilution ventilation"
)
NICAS = Source(
    title="Nicas, A decoupling method to compute near field and far field exposure concentrations",
    edition="Annals of Work Exposures and Health 68, 2024",
    place="abstract, doi 10.1093/annweh/wxad064",
)
AIHA = Source(
    title="Keil, Simmons and Anthony, Mathematical Models for Estimating Occupational Exposure "
    "to Chemicals (AIHA)",
    edition="2009",
    place="two-zone model",
    confirmed=False,
)
MMWR = Source(title="CDC MMWR 43 (RR-13)", edition="1994", place="table S3-1")

GENERATION = Number(
    "generation",
    "mg/s",
    0,
    1e6,
    label="Rate of release",
    meaning="How much gets into the air of the room",
    example=5,
)
VENTILATION = Number(
    "ventilation",
    "m3/s",
    1e-5,
    1000,
    meaning="Fresh air that is supplied, or room air that is taken out",
    example=0.05,
)
VOLUME = Number("volume", "m3", 0.1, 1e6, meaning="Air in the room, less what fills it", example=60)
MIXING = Number(
    "mixing_factor",
    "1",
    1,
    20,
    meaning="Divides the ventilation: 1 for ideal mixing, 3 to 10 where air is poorly mixed",
    example=3,
)


def _limit(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    return exposure_limit(inputs["agent"], "twa_8h", "mg/m3", limits, ask=False)


@method(
    id="air.room",
    title="Concentration in a well-mixed room",
    answers="How high does the concentration in this room get, and how fast?",
    inputs=(
        GENERATION,
        VENTILATION,
        VOLUME,
        MIXING,
        Number(
            "time",
            "s",
            0,
            1e7,
            label="Time since the start",
            meaning="Time since the source started",
            example=3600,
        ),
        Number(
            "initial",
            "mg/m3",
            0,
            1e6,
            label="Concentration at the start",
            meaning="Concentration at the start; without it, that of the supply air",
            example=0,
            optional=True,
        ),
        Number(
            "background",
            "mg/m3",
            0,
            1e6,
            label="Concentration in the supply air",
            meaning="Concentration in the supply air",
            example=0,
            optional=True,
        ),
        AGENT,
    ),
    outputs=(
        Output("concentration", "mg/m3", meaning="Concentration at that time"),
        Output("steady_state", "mg/m3", meaning="Concentration that it tends to"),
        Output("average", "mg/m3", meaning="Mean from the start to that time"),
        Output("time_to_90", "s", meaning="Time to nine tenths of the change"),
    ),
    equation="C(t) = Cin + (G / Q') (1 - exp(-Q' t / V)) + (C0 - Cin) exp(-Q' t / V), Q' = Q / K",
    sources=(WELL_MIXED,),
    validity="One room, a steady source, no settling and no reaction.",
    cautions=(
        MODELLED,
        "Near the source it is higher than in the room: air.two_zone tells by how much.",
    ),
    bands=UNFAVOURABLE,
    judge=Judge("concentration", by=_limit),
    plot=course,
)
def room(
    *,
    generation: Amount,
    ventilation: Amount,
    volume: Amount,
    mixing_factor: Amount,
    time: Amount,
    initial: Any,
    background: Any,
    agent: str | None,
) -> Result:
    """Return the concentration in a well-mixed room after a time.  [mg/m3]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "generation": 5, "ventilation": 0.05, "volume": 60, "mixing_factor": 3, "time": 3600,
    ...     "initial": 0, "background": 0, "agent": "propan-2-ol",
    ... }
    >>> calculate("air.room", question).outputs["concentration"].value
    189.6
    """
    supply = 0.0 if background is None else background
    start = supply if initial is None else initial
    effective = ventilation / mixing_factor
    rate = effective / volume
    steady = supply + generation / effective
    gone = -np.expm1(-rate * time)
    # The mean of exp(-a) from 0 to a is (1 - exp(-a)) / a, and 1 where no time has passed.
    passed = np.maximum(rate * time, 1e-12)
    mean_left = -np.expm1(-passed) / passed
    assumed = [] if background is not None else ["Clean supply air."]
    if initial is None:
        assumed.append("The room starts at the concentration of the supply air.")
    return Result(
        {
            "concentration": start + (steady - start) * gone,
            "steady_state": steady,
            "average": steady + (start - steady) * mean_left,
            "time_to_90": np.log(10) / rate,
        },
        steps=[
            step(
                "Effective ventilation {:.4g} m3/s, {:.3g} air changes an hour",
                effective,
                3600 * rate,
            ),
            step("{:.1%} of the way to the steady state", gone),
        ],
        assumptions=assumed,
    )


@method(
    id="air.two_zone",
    title="Near field and far field",
    answers="How much higher is the concentration close to the source than in the room?",
    inputs=(
        GENERATION,
        VENTILATION,
        Number(
            "near_radius",
            "m",
            0.01,
            20,
            label="Radius of the near field",
            meaning="Radius of the half sphere about the source that holds the breathing zone",
            example=0.8,
        ),
        Number(
            "air_speed",
            "m/s",
            0.001,
            10,
            meaning="Mean random air speed there: about 0.05 to 0.3 indoors",
            example=0.1,
        ),
        Number(
            "volume",
            "m3",
            0.1,
            1e6,
            meaning="Air in the whole room, to follow it in time",
            example=60,
            optional=True,
        ),
        Number(
            "time",
            "s",
            0,
            1e7,
            label="Time since the start",
            meaning="Time since the source started, with volume",
            example=900,
            optional=True,
        ),
        AGENT,
    ),
    outputs=(
        Output("near", "mg/m3", meaning="Steady concentration near the source"),
        Output("far", "mg/m3", meaning="Steady concentration in the rest of the room"),
        Output("exchange", "m3/s", meaning="Air exchanged between the two"),
        Output("near_then", "mg/m3", optional=True, meaning="Near the source at that time"),
        Output("far_then", "mg/m3", optional=True, meaning="In the rest at that time"),
    ),
    equation="Cfar = G / Q, Cnear = G / Q + G / beta, beta = (free surface) S / 2 = pi r^2 S",
    sources=(NICAS, AIHA),
    validity="A source on a bench with a half sphere about it; the near field is well within "
    "the room; both zones are well mixed.",
    cautions=(MODELLED, "No published example was found that this could be checked against."),
    bands=UNFAVOURABLE,
    judge=Judge("near", by=_limit),
)
def two_zone(
    *,
    generation: Amount,
    ventilation: Amount,
    near_radius: Amount,
    air_speed: Amount,
    volume: Any,
    time: Any,
    agent: str | None,
) -> Result:
    """Return the concentrations near a source and away from it.  [mg/m3]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "generation": 5, "ventilation": 0.05, "near_radius": 0.8, "air_speed": 0.1,
    ...     "volume": 60, "time": 900, "agent": "propan-2-ol",
    ... }
    >>> calculate("air.two_zone", question).outputs["near"].value
    124.9
    """
    if (volume is None) != (time is None):
        raise Refused(
            "volume and time must be given together, or neither for the steady state.",
            field="time" if time is None else "volume",
        )
    exchange = np.pi * near_radius**2 * air_speed
    far = generation / ventilation
    near = far + generation / exchange
    outputs = {"near": near, "far": far, "exchange": exchange}
    if volume is not None:
        near_volume = 2 / 3 * np.pi * near_radius**3
        require(
            near_volume < volume,
            "volume must be larger than the half sphere of near_radius.",
            field="volume",
        )
        shares = _left(near_volume, volume - near_volume, exchange, ventilation, time)
        outputs |= {
            "near_then": near - generation * shares[0],
            "far_then": far - generation * shares[1],
        }
    return Result(
        outputs,
        steps=[step("Free surface {:.4g} m2", 2 * np.pi * near_radius**2)],
        assumptions=["Clean supply air."],
    )


def _left(
    near: Amount, rest: Amount, exchange: Amount, supply: Amount, time: Amount
) -> tuple[Amount, Amount]:
    """Return what the two zones still lack of their steady state, for a source of 1.  [s/m3]

    The two linear equations of the zones have the solution x(t) = exp(M t) x(0). With the
    half sum m and half difference d of the eigenvalues of M,
    exp(M t) = exp(m t) ( cosh(d t) + (M - m) sinh(d t) / d ).
    """
    out, back, loss = exchange / near, exchange / rest, (exchange + supply) / rest
    middle = -(out + loss) / 2
    half = np.sqrt(((out - loss) / 2) ** 2 + out * back)
    slow, fast = np.exp((middle + half) * time), np.exp((middle - half) * time)
    even, odd = (slow + fast) / 2, (slow - fast) / (2 * half)
    x, y = 1 / supply + 1 / exchange, 1 / supply
    return (
        (even + (-out - middle) * odd) * x + out * odd * y,
        back * odd * x + (even + (-loss - middle) * odd) * y,
    )


@method(
    id="air.purge_time",
    title="Time to clear a room",
    answers="How long after the source has stopped until the air has fallen to this level?",
    inputs=(
        Choice(
            "unit",
            {
                "mg/m3": "Milligrams in a cubic metre",
                "ppm": "Parts per million by volume",
                "%": "Per cent of the start, or of the volume",
            },
            meaning="The unit of the concentrations",
            example="mg/m3",
            default="mg/m3",
        ),
        VOLUME,
        VENTILATION,
        MIXING,
        *(
            Number(
                name,
                "mg/m3",
                1e-9,
                1e6,
                label=meaning,
                meaning=meaning,
                example=example,
                unit_by=("unit", {"mg/m3": "mg/m3", "ppm": "ppm", "%": "%"}),
            )
            for name, meaning, example in (
                ("start", "Concentration at the start", 100),
                ("target", "Concentration to reach", 5),
            )
        ),
    ),
    outputs=(
        Output("time", "s", meaning="Time until the target is reached"),
        Output("air_changes", "1/h", meaning="Air changes, before the mixing factor"),
    ),
    equation="t = (V / Q') ln( C1 / C2 ), Q' = Q / K",
    sources=(MMWR, WELL_MIXED),
    validity="The source has stopped, nothing evaporates after it, and the supply air is clean.",
    cautions=(
        MODELLED,
        "Corners, cupboards, ducts and porous material give off what they hold for longer.",
        NO_PERMISSION,
    ),
)
def purge_time(
    *,
    unit: str,
    volume: Amount,
    ventilation: Amount,
    mixing_factor: Amount,
    start: Amount,
    target: Amount,
) -> Result:
    """Return the time in which a well-mixed room falls to a target.  [s]

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "unit": "mg/m3", "volume": 60, "ventilation": 0.05, "mixing_factor": 3, "start": 100,
    ...     "target": 5,
    ... }
    >>> calculate("air.purge_time", question).outputs["time"].value
    10784.6
    """
    require(target <= start, "target must not be above start.", field="target")
    effective = ventilation / mixing_factor
    return Result(
        {
            "time": volume / effective * np.log(start / target),
            "air_changes": 3600 * ventilation / volume,
        },
        steps=[step("Effective ventilation {:.4g} m3/s", effective)],
    )
