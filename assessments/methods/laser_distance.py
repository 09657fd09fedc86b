"""Laser radiation: how far from a beam, a spot, a lens or a fibre the exposure limit is met."""

from __future__ import annotations

import numpy as np

from assessments.finding import Source
from assessments.light import laser_classes as classes
from assessments.light import laser_limits as limits_of
from assessments.light.laser_pulses import mean_irradiance
from assessments.method import Amount, Choice, Number, Output, Result, method, require, step
from assessments.methods.laser import (
    AVERSION,
    AVERSION_ASSUMED,
    DURATION,
    EDITION,
    LIMITS,
    WAVELENGTH,
)
from assessments.plots.beam import beam

USERS_GUIDE = Source(title="IEC TR 60825-14", edition="2004", confirmed=False)
ANSI = Source(title="ANSI Z136.1", place="appendix B", confirmed=False)
DURATIONS = Source(
    title="TROS Laserstrahlung, part 2", edition="July 2018, GMBl 2018 p. 1000", place="clause 4.1"
)

NO_AVERSION = (
    "0.25 s is the time of turning away from light that is seen, and from 400 to 700 nm only: "
    "give the duration that a person may be exposed."
)
SMALL_SOURCE = "The beam is taken as a small source (at most 1.5 mrad), which is the stricter."
PEAK_WIDTH = (
    "Beam diameters and divergences are those at 1/e of the peak irradiance (63 % of the power); "
    "divide those at 1/e2 by the square root of 2."
)
NOT_IN_AIR = "Weakening by air and enlarging optics such as binoculars are left out."
OPEN_BEAM = (
    "This is the open beam: an enclosure with its interlocks working has no such distance in "
    "normal use."
)
DIFFRACTION = (
    "No beam of this diameter can spread so little (2 x wavelength / pi): check both figures."
)
COMPETENT = "A laser safety officer has to check it before anybody relies on the distance."

POWER = Number(
    "power",
    "W",
    1e-9,
    1e9,
    meaning="Mean power of the beam; of one single pulse its energy over its duration",
    example=5,
)
MODE = Choice(
    "mode",
    {"continuous": "Continuous, on throughout", "pulsed": "A train of equal pulses"},
    label="How the laser emits",
    meaning="How the laser emits",
    example="continuous",
    default="continuous",
)
PULSE = Number(
    "pulse_duration",
    "s",
    1e-13,
    0.25,
    meaning="Length of one pulse",
    example=1e-7,
    when=("mode", ("pulsed",)),
)
RATE = Number(
    "repetition",
    "Hz",
    1e-3,
    1e10,
    label="Pulses a second",
    meaning="Pulses a second",
    example=20_000,
    when=PULSE.when,
)
BEAM_AND_TIME = (POWER, WAVELENGTH, DURATION)
EMISSION = (MODE, PULSE, RATE, EDITION)
MPE = Output("mpe_irradiance", "W/m2", meaning="Exposure limit as (mean) irradiance")
DISTANCE = Output("distance", "m", meaning="Beyond it the exposure limit is not exceeded")


def counts_on_aversion(wavelength: Amount, duration: Amount) -> bool:
    """Say whether 0.25 s was given; refuse it for a beam that nobody sees."""
    quick = np.isclose(duration, AVERSION, rtol=1e-9, atol=0)
    require(~quick | classes.is_visible(wavelength), NO_AVERSION, field="duration")
    return bool(np.any(quick))


def eye_limit(
    wavelength: Amount, duration: Amount, pulse: Amount, rate: Amount, edition: str
) -> Amount:
    """Return the limit of the (mean) irradiance at the eye.  [W/m2]"""
    if pulse is None:
        return limits_of.eye(wavelength, duration, edition=edition) / duration
    require(
        (pulse * rate <= 1) & (pulse <= duration),
        "pulse_duration must not be longer than 1 / repetition, nor than duration.",
        field="pulse_duration",
    )
    return mean_irradiance(wavelength, duration, pulse, rate, edition)


def assumptions_of(wavelength: Amount, duration: Amount, *, peak_width: bool = True) -> list[str]:
    assumed = [SMALL_SOURCE, *([PEAK_WIDTH] if peak_width else ()), NOT_IN_AIR]
    if counts_on_aversion(wavelength, duration):
        assumed.insert(0, AVERSION_ASSUMED)
    return assumed


def width_at(power: Amount, limit: Amount) -> Amount:
    """Return the diameter of a beam that just meets the limit: sqrt(4 P / (pi MPE)).  [m]"""
    return np.sqrt(4 * power / (np.pi * limit))


def averaged_width(width: Amount, aperture: Amount) -> Amount:
    """Return the width at which the limit is met on average over an aperture.  [m, mm]

    A Gaussian beam of diameter d puts 1 - exp(-(D / d)^2) of its power through an aperture D;
    a beam that meets the limit with all its power in the aperture gets the width 0.
    """
    opening = aperture * 1e-3
    through = np.minimum((opening / width) ** 2, 1)
    bare = np.minimum(through, 1 - 1e-12)
    return np.where(through < 1, opening / np.sqrt(-np.log1p(-bare)), 0.0)


@method(
    id="laser.hazard_distance",
    title="Hazard distance of a laser beam",
    answers="How far along the open beam is an eye in danger?",
    inputs=(
        *BEAM_AND_TIME,
        Number(
            "divergence",
            "mrad",
            1e-3,
            1500,
            label="Divergence, full angle",
            meaning="Full angle of divergence, at 1/e of the peak",
            example=2,
        ),
        Number(
            "beam_diameter",
            "mm",
            0,
            1000,
            meaning="Beam diameter where it leaves the laser, at 1/e; 0 leaves it out",
            example=3,
        ),
        *EMISSION,
    ),
    outputs=(
        Output("nohd", "m", meaning="Nominal ocular hazard distance"),
        MPE,
        Output(
            "averaged",
            "m",
            meaning="The same with the beam averaged over the limiting aperture; it is shorter "
            "only where the power is near the limit of class 1 or 2",
        ),
    ),
    equation="NOHD = (sqrt(4 P / (pi MPE)) - a) / phi",
    sources=(*LIMITS, USERS_GUIDE, ANSI, DURATIONS),
    validity="A round beam with a Gaussian profile, looked into with the bare eye.",
    cautions=(OPEN_BEAM, COMPETENT),
    plot=beam,
)
def hazard_distance(
    *,
    power: Amount,
    wavelength: Amount,
    duration: Amount,
    divergence: Amount,
    beam_diameter: Amount,
    mode: str,
    pulse_duration: Amount,
    repetition: Amount,
    edition: str,
) -> Result:
    """Return the nominal ocular hazard distance [m] and the limit it rests on [W/m2].

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "power": 5, "wavelength": 445, "duration": 10, "divergence": 2, "beam_diameter": 3,
    ...     "mode": "pulsed", "pulse_duration": 1e-07, "repetition": 20000,
    ...     "edition": "directive",
    ... }
    >>> calculate("laser.hazard_distance", question).outputs["nohd"].value
    578.6
    """
    assumed = assumptions_of(wavelength, duration)
    limit = eye_limit(wavelength, duration, pulse_duration, repetition, edition)
    angle, start = divergence * 1e-3, beam_diameter * 1e-3
    width = width_at(power, limit)
    one_exposure = duration if pulse_duration is None else pulse_duration
    averaged = averaged_width(width, limits_of.aperture(wavelength, one_exposure, "eye", edition))
    impossible = (start > 0) & (start * angle < 2 * wavelength * 1e-9 / np.pi)
    return Result(
        {
            "nohd": np.maximum(width - start, 0) / angle,
            "mpe_irradiance": limit,
            "averaged": np.maximum(averaged - start, 0) / angle,
        },
        cautions=[DIFFRACTION] if np.any(impossible) else (),
        steps=[
            step("The beam meets the limit of {:.4g} W/m2 at {:.4g} mm across", limit, width * 1e3)
        ],
        assumptions=assumed,
    )


@method(
    id="laser.diffuse_distance",
    title="Hazard distance of scattered laser light",
    answers="How near may an eye come to the spot where the beam is scattered?",
    inputs=(
        *BEAM_AND_TIME,
        Number(
            "reflectance",
            "1",
            0,
            1,
            meaning="Share of the light that the surface scatters back; 1 is the worst",
            example=1,
        ),
        Number(
            "angle",
            "deg",
            0,
            90,
            label="Angle from the normal",
            meaning="Angle of view to the surface's normal",
            example=0,
        ),
        *EMISSION,
    ),
    outputs=(DISTANCE, MPE),
    equation="r = sqrt(rho P cos(theta) / (pi MPE))",
    sources=(*LIMITS, USERS_GUIDE, ANSI),
    validity="A matt surface that scatters evenly (Lambert), seen as a small spot.",
    cautions=(
        "A shiny or wet surface throws the beam on like a mirror: use the distance of the beam.",
        COMPETENT,
    ),
)
def diffuse_distance(
    *,
    power: Amount,
    wavelength: Amount,
    duration: Amount,
    reflectance: Amount,
    angle: Amount,
    mode: str,
    pulse_duration: Amount,
    repetition: Amount,
    edition: str,
) -> Result:
    """Return the distance from a scattering spot [m] and the limit it rests on [W/m2].

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "power": 5, "wavelength": 445, "duration": 10, "reflectance": 1, "angle": 0,
    ...     "mode": "pulsed", "pulse_duration": 1e-07, "repetition": 20000,
    ...     "edition": "directive",
    ... }
    >>> calculate("laser.diffuse_distance", question).outputs["distance"].value
    0.5801
    """
    assumed = assumptions_of(wavelength, duration, peak_width=False)
    limit = eye_limit(wavelength, duration, pulse_duration, repetition, edition)
    towards = reflectance * power * np.maximum(np.cos(np.radians(angle)), 0)
    return Result(
        {"distance": np.sqrt(towards / (np.pi * limit)), "mpe_irradiance": limit},
        steps=[step("{:.4g} W scattered towards the eye, limit {:.4g} W/m2", towards, limit)],
        assumptions=assumed,
    )
