"""Laser radiation behind a lens or a fibre: how far from it the exposure limit is met."""

from __future__ import annotations

import numpy as np

from assessments.method import Amount, Number, OneOf, Result, method, step
from assessments.methods.laser import LIMITS
from assessments.methods.laser_distance import (
    ANSI,
    BEAM_AND_TIME,
    COMPETENT,
    DISTANCE,
    EMISSION,
    MPE,
    USERS_GUIDE,
    assumptions_of,
    eye_limit,
    width_at,
)


@method(
    id="laser.focused_distance",
    title="Hazard distance beyond a lens",
    answers="How far beyond the focus of a lens is an eye in danger?",
    inputs=(
        *BEAM_AND_TIME,
        Number("focal_length", "mm", 0.1, 1e5, meaning="Focal length of the lens", example=50.8),
        Number(
            "beam_diameter",
            "mm",
            0.01,
            1000,
            meaning="Beam diameter at the lens, at 1/e",
            example=6,
        ),
        *EMISSION,
    ),
    outputs=(DISTANCE, MPE),
    equation="r = (f / b) sqrt(4 P / (pi MPE)), from the focus",
    sources=(*LIMITS, ANSI),
    validity="A thin lens; the beam spreads from its focus as it came together.",
    cautions=("The distance counts from the focus, not from the lens.", COMPETENT),
)
def focused_distance(
    *,
    power: Amount,
    wavelength: Amount,
    duration: Amount,
    focal_length: Amount,
    beam_diameter: Amount,
    mode: str,
    pulse_duration: Amount,
    repetition: Amount,
    edition: str,
) -> Result:
    """Return the distance from the focus [m] and the limit it rests on [W/m2].

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "power": 5, "wavelength": 445, "duration": 10, "focal_length": 50.8,
    ...     "beam_diameter": 6, "mode": "pulsed", "pulse_duration": 1e-07, "repetition": 20000,
    ...     "edition": "directive",
    ... }
    >>> calculate("laser.focused_distance", question).outputs["distance"].value
    9.824
    """
    assumed = assumptions_of(wavelength, duration)
    limit = eye_limit(wavelength, duration, pulse_duration, repetition, edition)
    width = width_at(power, limit)
    return Result(
        {"distance": focal_length / beam_diameter * width, "mpe_irradiance": limit},
        steps=[
            step("The beam meets the limit of {:.4g} W/m2 at {:.4g} mm across", limit, width * 1e3)
        ],
        assumptions=assumed,
    )


@method(
    id="laser.fibre_distance",
    title="Hazard distance from the end of a fibre",
    answers="How near may an eye come to the open end of a fibre?",
    inputs=(
        *BEAM_AND_TIME,
        Number(
            "numerical_aperture",
            "1",
            0.01,
            0.99,
            meaning="Numerical aperture of a multimode fibre, at 5 % of the peak",
            example=0.22,
        ),
        Number(
            "mode_field_diameter",
            "um",
            0.5,
            100,
            meaning="Mode field diameter of a single-mode fibre, at 1/e2",
            example=6,
        ),
        *EMISSION,
    ),
    outputs=(DISTANCE, MPE),
    equation="multimode r = (1.7 / NA) sqrt(P / (pi MPE)); "
    "single-mode r = (pi w / (2 sqrt(2) lambda)) sqrt(4 P / (pi MPE))",
    sources=(*LIMITS, USERS_GUIDE, ANSI),
    validity="A bare, clean end without a lens; far from it compared with the fibre's width.",
    cautions=("Never look into a fibre or its connector to see whether it is lit.", COMPETENT),
    one_of=(OneOf((("numerical_aperture",), ("mode_field_diameter",))),),
)
def fibre_distance(
    *,
    power: Amount,
    wavelength: Amount,
    duration: Amount,
    numerical_aperture: Amount,
    mode_field_diameter: Amount,
    mode: str,
    pulse_duration: Amount,
    repetition: Amount,
    edition: str,
) -> Result:
    """Return the distance from the end of a fibre [m] and the limit it rests on [W/m2].

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "power": 5, "wavelength": 445, "duration": 10, "numerical_aperture": 0.22,
    ...     "mode": "pulsed", "pulse_duration": 1e-07, "repetition": 20000,
    ...     "edition": "directive",
    ... }
    >>> calculate("laser.fibre_distance", question).outputs["distance"].value
    4.483
    """
    assumed = assumptions_of(wavelength, duration, peak_width=False)
    limit = eye_limit(wavelength, duration, pulse_duration, repetition, edition)
    if mode_field_diameter is None:
        length = 1.7 / numerical_aperture / 2
    else:
        waist = mode_field_diameter * 1e-6
        length = np.pi * waist / (2 * np.sqrt(2) * wavelength * 1e-9)
    return Result(
        {"distance": length * width_at(power, limit), "mpe_irradiance": limit},
        steps=[step("The light spreads to 1 m across within {:.4g} m", length)],
        assumptions=assumed,
    )
