"""Laser radiation: the exposure limit of a person, and the emission limit of a class."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.light import laser_classes as classes
from assessments.light import laser_limits as limits_of
from assessments.limits import Limits
from assessments.method import (
    ALL_BANDS,
    Amount,
    Choice,
    Judge,
    Number,
    Output,
    Result,
    Step,
    method,
    require,
    step,
)

DIRECTIVE = Source(
    title="Directive 2006/25/EC", edition="2006", place="annex II, tables 2.2, 2.4, 2.5 and 2.6"
)
DIRECTIVE_LONG = Source(
    title="Directive 2006/25/EC", edition="2006", place="annex II, table 2.3", confirmed=False
)
ICNIRP = Source(
    title="ICNIRP, Guidelines on limits of exposure to laser radiation",
    edition="Health Physics 105(3):271-295, 2013",
    confirmed=False,
)
IEC = Source(
    title="IEC 60825-1", edition="2014", place="annex A and tables 3 to 9", confirmed=False
)
LIMITS = (DIRECTIVE, DIRECTIVE_LONG, ICNIRP)

AVERSION = 0.25
AVERSION_ASSUMED = (
    "0.25 s: the person is assumed to turn away from a visible beam; trials show that not "
    "everybody does, and nobody may count on it for a beam that is not seen."
)
EYE_AND_SKIN = (
    "The limits do not hold for people without the eye's lens or with medicines that sensitise "
    "to light; above 1400 nm they are lower where more than 0.01 m2 of skin is exposed."
)

WAVELENGTH = Number("wavelength", "nm", 180, 1e6, meaning="Wavelength of the laser", example=445)
DURATION = Number(
    "duration",
    "s",
    1e-13,
    30_000,
    meaning="How long the beam may meet a person: 0.25 s only for a visible beam by accident, "
    "10 s in the near infrared, 100 s unintended above 400 nm, 30 000 s for a day",
    example=10,
)
EDITION = Choice(
    "edition",
    {
        "directive": "Directive 2006/25/EC, the limits of the law in Europe",
        "icnirp_2013": "ICNIRP 2013 and IEC 60825-1:2014, from memory",
    },
    label="Edition of the limits",
    meaning="Whose limits; they differ for pulses and above 1200 nm",
    example="directive",
    default="directive",
)


def _limit(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    """The limit itself, as 100 %: in force in Great Britain and the EU by the Directive."""
    if limits.regime not in ("gb", "eu") or inputs["irradiance"] is None:
        return None
    source = DIRECTIVE_LONG if inputs["duration"] >= 10 else DIRECTIVE
    return Limit(
        name="Exposure limit for laser radiation",
        value=100,
        unit="%",
        source=ICNIRP if inputs["edition"] == limits_of.ICNIRP_2013 else source,
        regime=limits.regime,
    )


@method(
    id="laser.mpe",
    title="Exposure limit for laser radiation",
    answers="How much of this laser's radiation may meet an eye or the skin, and for how long?",
    inputs=(
        WAVELENGTH,
        DURATION,
        Choice(
            "tissue",
            {"eye": "The eye", "skin": "The skin"},
            label="Eye or skin",
            meaning="What is hit",
            example="eye",
        ),
        Number(
            "source_angle",
            "mrad",
            0,
            1000,
            label="Angle of the source",
            meaning="Angle that the source takes up as seen by the eye; a beam looked into is "
            "a small source of at most 1.5 mrad",
            example=1.5,
            optional=True,
            when=("tissue", ("eye",)),
        ),
        Number(
            "irradiance",
            "W/m2",
            0,
            1e16,
            meaning="Irradiance at the person, averaged over the aperture and the duration, to be "
            "held against the limit",
            example=5,
            optional=True,
        ),
        EDITION,
    ),
    outputs=(
        Output("mpe_exposure", "J/m2", meaning="Exposure limit as radiant exposure"),
        Output("mpe_irradiance", "W/m2", meaning="The same, as mean irradiance over the duration"),
        Output("aperture", "mm", meaning="Diameter over which the beam is averaged"),
        Output("share", "%", meaning="Share of the limit that irradiance reaches", optional=True),
    ),
    equation="the lowest row of the tables that holds, with CA, CB, CC and CE; E = H / t",
    sources=(*LIMITS, IEC),
    validity="One exposure or one pulse from 0.1 ps to 30 000 s, 180 nm to 1 mm.",
    cautions=(
        "Pulses that repeat have lower limits: use a distance or the eyewear for them.",
        EYE_AND_SKIN,
    ),
    bands=ALL_BANDS,
    judge=Judge("share", by=_limit),
)
def mpe(
    *,
    wavelength: Amount,
    duration: Amount,
    tissue: str,
    source_angle: Amount,
    irradiance: Amount,
    edition: str,
) -> Result:
    """Return the limit of one exposure [J/m2, W/m2] and its aperture [mm].

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "wavelength": 445, "duration": 10, "tissue": "eye", "source_angle": 1.5,
    ...     "irradiance": 5, "edition": "directive",
    ... }
    >>> calculate("laser.mpe", question).outputs["share"].value
    50.0
    """
    angle = limits_of.SMALL_SOURCE if source_angle is None else source_angle
    if tissue == "skin":
        exposure = limits_of.skin(wavelength, duration, edition)
        steps = [step("Skin: {:.4g} J/m2", exposure)]
    else:
        exposure = limits_of.eye(wavelength, duration, angle, edition)
        steps = _eye_steps(wavelength, duration, angle, edition)
    quick = np.isclose(duration, AVERSION, rtol=1e-9, atol=0) & classes.is_visible(wavelength)
    counts_on_it = bool(np.any(quick)) and tissue == "eye"
    return Result(
        {
            "mpe_exposure": exposure,
            "mpe_irradiance": exposure / duration,
            "aperture": limits_of.aperture(wavelength, duration, tissue, edition),
            "share": None if irradiance is None else 100 * irradiance * duration / exposure,
        },
        steps=steps,
        assumptions=[AVERSION_ASSUMED] if counts_on_it else (),
        doubts=["Not judged: 0.25 s counts on the person turning away."] if counts_on_it else (),
    )


def _eye_steps(wavelength: Amount, duration: Amount, angle: Amount, edition: str) -> list[Step]:
    thermal = limits_of.eye_thermal(wavelength, duration, angle, edition)
    photochemical = limits_of.eye_photochemical(wavelength, duration)
    other = next(each for each in EDITION.options if each != edition)
    compared = limits_of.eye(wavelength, duration, angle, other)
    steps = [step("From the rows of the table: {:.4g} J/m2", thermal)]
    if np.all((wavelength >= 400) & (wavelength <= 1400)):
        steps = [
            step("CA = {:.4g}", limits_of.factor_a(wavelength)),
            step("CC = {:.4g}", limits_of.factor_c(wavelength, edition)),
            step("CE = {:.4g}", limits_of.factor_e(angle, duration, edition)),
            step("Thermal limit of the retina: {:.4g} J/m2", thermal),
        ]
    if np.all(np.isfinite(photochemical)):
        steps += [
            step("CB = {:.4g}", limits_of.factor_b(wavelength)),
            step(
                "Photochemical limit of the retina: {:.4g} J/m2, measured within {:.3g} mrad",
                photochemical,
                limits_of.field_of_view(duration),
            ),
        ]
    return [*steps, step("For comparison, {}: {:.4g} J/m2", EDITION.options[other], compared)]


@method(
    id="laser.class_limit",
    title="Emission limit of a laser class",
    answers="How much may a continuous laser of this class give out at most?",
    inputs=(
        WAVELENGTH,
        Choice(
            "class",
            {
                "1": "Class 1",
                "2": "Class 2, visible beams only",
                "3R": "Class 3R",
                "3B": "Class 3B; above it lies class 4",
            },
            label="Laser class",
            meaning="Class on the maker's label",
            example="3B",
        ),
    ),
    outputs=(
        Output("ael", "W", meaning="Accessible emission limit of the class"),
        Output("time_base", "s", meaning="Time over which the emission is judged"),
    ),
    equation="AEL of IEC 60825-1 tables 3 to 8, continuous emission, small source",
    sources=(IEC,),
    validity="Continuous emission of a small source through the aperture of the standard.",
    cautions=(
        "This is not a classification: the class is the maker's declaration, by measurement. "
        "Use it only to notice a label that cannot be right.",
        "An edition before 2014 has lower limits between 1200 and 1400 nm.",
    ),
)
def class_limit(*, wavelength: Amount, class_: str) -> Result:
    """Return the emission limit [W] and time base [s] of a class.

    >>> from assessments.calculate import calculate
    >>> calculate("laser.class_limit", {"wavelength": 445, "class": "3B"}).outputs["ael"].value
    0.5
    """
    if class_ == "2":
        require(
            classes.is_visible(wavelength),
            "Class 2 exists only from 400 to 700 nm: wavelength must lie there.",
            field="wavelength",
        )
    time_base = classes.time_base(wavelength, class_)
    return Result(
        {"ael": classes.emission_limit(wavelength, class_), "time_base": time_base},
        steps=[step("Class {} over a time base of {:g} s", class_, time_base)],
        assumptions=[AVERSION_ASSUMED] if np.any(time_base == AVERSION) else (),
    )
