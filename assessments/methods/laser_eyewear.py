"""Laser radiation: what eyewear has to hold back, and for how long it has to stand the beam."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assessments.errors import Refused
from assessments.finding import Source
from assessments.light import laser_filters as filters
from assessments.light import laser_limits as limits_of
from assessments.light.laser_pulses import mean_irradiance
from assessments.method import Amount, Choice, Number, OneOf, Output, Result, method, require, step
from assessments.methods.laser import (
    AVERSION_ASSUMED,
    DURATION,
    EDITION,
    LIMITS,
    WAVELENGTH,
)
from assessments.methods.laser_distance import counts_on_aversion

EN_207 = Source(
    title="EN 207",
    edition="2017",
    place="table of scale numbers, as printed in the encyclopaedia article EN 207",
)
LARGE_BEAM = (
    "For a beam wider than 1 mm EN 207 adds a factor that depends on the filter's material: "
    "it is not in this number, so ask the maker."
)


@dataclass(frozen=True)
class _Beam:
    """A beam at the eyewear: what the eye would get, and what the filter has to stand."""

    at_eye: Amount  # J/m2 within ``time``, averaged over the limiting aperture
    at_filter: Amount  # J/m2 within ``time``, over the beam's own area
    time: Amount  # s: the exposure, or one pulse
    assumptions: tuple[str, ...] = ()


def _from_power(
    power: Amount, diameter: Amount, wavelength: Amount, duration: Amount, edition: str
) -> _Beam:
    aperture = limits_of.aperture(wavelength, duration, "eye", edition)
    widest = np.maximum(diameter, aperture) * 1e-3
    energy = power * duration
    return _Beam(
        at_eye=4 * energy / (np.pi * widest**2),
        at_filter=4 * energy / (np.pi * (diameter * 1e-3) ** 2),
        time=duration,
        assumptions=("All the power is taken to fall into the limiting aperture, if that fits.",),
    )


def _mode_of_one(duration: Amount, exposure: Amount) -> str:
    """Return the mode of EN 207 where none was given: an exposure is that of a single pulse."""
    length = float(np.median(duration))
    return "D" if exposure is None or length > 0.25 else filters.mode_of(length)


def _check_continuous(pulses: int | None) -> None:
    if pulses is not None and pulses > 1:
        raise Refused(
            "pulses above 1 need mode I, R or M: by their length they are taken as one.",
            field="mode",
        )


def _check_pulsed(mode: str, duration: Amount, exposure: Amount, pulses: int | None) -> None:
    shortest, longest = filters.PULSE_LENGTHS[mode]
    require(
        (duration >= shortest) & (duration <= longest),
        f"In mode {mode} duration is the length of one pulse, from {shortest:g} to {longest:g} s.",
        field="duration",
    )
    if pulses is None:
        raise Refused(
            f"pulses is missing: mode {mode} needs the number of pulses within 5 s, at least 1.",
            field="pulses",
        )
    if exposure is None:
        raise Refused(
            f"In mode {mode} give exposure, the radiant exposure of one pulse: a mean power or "
            "irradiance does not tell how strong a pulse is.",
            field="exposure",
        )


def _train_limit(
    wavelength: Amount, pulse: Amount, pulses: int, edition: str
) -> tuple[Amount, Amount]:
    """Return the limit of one pulse of the train [J/m2] and of one pulse alone."""
    alone = limits_of.eye(wavelength, pulse, edition=edition)
    if pulses == 1:
        return alone, alone
    rate = pulses / filters.TEST_TIME
    require(
        pulse * rate <= 1,
        "So many pulses of this duration do not fit into 5 s.",
        field="pulses",
    )
    mean = mean_irradiance(wavelength, filters.TEST_TIME, pulse, rate, edition)
    return np.minimum(alone, mean / rate), alone


@method(
    id="laser.eyewear",
    title="Laser eyewear",
    answers="Which optical density and scale number must eyewear have against this laser?",
    inputs=(
        Number("power", "W", 1e-9, 1e6, meaning="Power of a continuous beam", example=5),
        Number(
            "beam_diameter",
            "mm",
            0.01,
            1000,
            meaning="Beam diameter at the eyewear, at 1/e of the peak (63 % of the power)",
            example=3,
        ),
        Number(
            "irradiance",
            "W/m2",
            1e-9,
            1e16,
            meaning="Irradiance of a continuous beam at the eyewear",
            example=26_000,
        ),
        Number(
            "exposure",
            "J/m2",
            1e-9,
            1e12,
            label="Radiant exposure",
            meaning="Radiant exposure at the eyewear: of one pulse, or over the duration",
            example=5,
        ),
        WAVELENGTH,
        DURATION,
        Choice(
            "mode",
            {
                "D": "Continuous, over 0.25 s",
                "I": "Pulses from 1 us to 0.25 s",
                "R": "Pulses from 1 ns to 1 us",
                "M": "Pulses below 1 ns",
            },
            label="Mode of EN 207",
            meaning="Mode of EN 207; without it a single pulse or a continuous beam is taken",
            example="D",
            optional=True,
        ),
        Number(
            "pulses",
            "1",
            1,
            1e10,
            label="Number of pulses",
            meaning="Pulses within 5 s, needed in modes I, R and M; 1 for a single one",
            example=1,
            whole=True,
            optional=True,
        ),
        EDITION,
    ),
    outputs=(
        Output("optical_density", "1", meaning="Attenuation needed, as a power of ten"),
        Output("scale_number", "1", meaning="Scale number LB of EN 207; 0: no eyewear needed"),
    ),
    equation="OD = lg( H / MPE ); n from the table of EN 207, rounded up, and n >= OD",
    sources=(EN_207, *LIMITS),
    validity="Scale numbers up to 10. Filter and frame stand the beam for 5 s or 50 pulses.",
    cautions=(
        "Eyewear is not for looking into the beam: it is the last defence, after enclosure, "
        "interlocks and beam stops.",
        "It holds only for the wavelengths and modes printed on it; look for damage before use.",
        LARGE_BEAM,
    ),
    one_of=(OneOf((("power", "beam_diameter"), ("irradiance",), ("exposure",))),),
)
def eyewear(
    *,
    power: Amount,
    beam_diameter: Amount,
    irradiance: Amount,
    exposure: Amount,
    wavelength: Amount,
    duration: Amount,
    mode: str | None,
    pulses: int | None,
    edition: str,
) -> Result:
    """Return the optical density and the scale number of EN 207 that eyewear needs.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "power": 5, "beam_diameter": 3, "wavelength": 445, "duration": 10, "mode": "D",
    ...     "pulses": 1, "edition": "directive",
    ... }
    >>> calculate("laser.eyewear", question).outputs["optical_density"].value
    4.114
    """
    number = 1 if pulses is None else pulses
    single = mode is None
    mode = mode or _mode_of_one(duration, exposure)
    if mode == "D" or single:
        _check_continuous(pulses)
    if mode != "D":
        _check_pulsed(mode, duration, exposure, number if single else pulses)
    if power is not None:
        beam = _from_power(power, beam_diameter, wavelength, duration, edition)
    else:
        given = exposure if exposure is not None else irradiance * duration
        beam = _Beam(given, given, duration)
    assumptions = list(beam.assumptions)
    if mode == "D":
        limit = alone = limits_of.eye(wavelength, duration, edition=edition)
        if counts_on_aversion(wavelength, duration):
            assumptions.append(AVERSION_ASSUMED)
    else:
        limit, alone = _train_limit(wavelength, duration, number, edition)
        if single:
            assumptions.append(
                "One single pulse is taken: if it repeats, give mode and pulses, which asks for "
                "more."
            )
    density = np.maximum(np.log10(beam.at_eye / limit), 0)
    scale = _scale_number(mode, wavelength, beam, number)
    rounded = filters.rounded_up(scale, density)
    require(
        rounded <= filters.HIGHEST,
        "EN 207 has no scale number above 10: no eyewear can be relied on here, enclose the beam.",
    )
    return Result(
        {"optical_density": density, "scale_number": rounded},
        steps=[
            step("{:.4g} J/m2 at the eye, limit {:.4g} J/m2", beam.at_eye, limit),
            step("Limit of one such exposure or pulse alone: {:.4g} J/m2", alone),
            step(
                "{:.4g} J/m2 ({:.4g} W/m2) at the filter, mode {}: n = {:.3f}",
                beam.at_filter,
                beam.at_filter / beam.time,
                mode,
                scale,
            ),
        ],
        assumptions=assumptions,
    )


def _scale_number(mode: str, wavelength: Amount, beam: _Beam, pulses: int) -> Amount:
    """Return the scale number before rounding; a train must also pass as a continuous beam."""
    if mode == "D":
        return filters.exact_number("D", wavelength, beam.at_filter, beam.time)
    train = beam.at_filter * filters.train_factor(wavelength, pulses)
    as_pulses = filters.exact_number(mode, wavelength, train, beam.time)
    if pulses == 1:
        return as_pulses
    total = beam.at_filter * pulses
    return np.maximum(as_pulses, filters.exact_number("D", wavelength, total, filters.TEST_TIME))
