"""Ultraviolet of lamps and arcs: weighting, the fall with distance, and the permitted time."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from assessments.finding import Limit, Source
from assessments.light import actinic
from assessments.limits import Limits
from assessments.method import (
    ALL_BANDS,
    UNFAVOURABLE,
    Amount,
    Judge,
    Number,
    Output,
    Result,
    Rows,
    Step,
    method,
    require,
    step,
)
from assessments.plots import ultraviolet

DIRECTIVE = Source(
    title="Directive 2006/25/EC", edition="2006", place="annex I, table 1.1 rows a and b, table 1.2"
)
BETWEEN_FIVES = Source(
    title="Directive 2006/25/EC",
    edition="2006",
    place="annex I, table 1.2, 330 to 368 nm between whole fives",
    confirmed=False,
)
ICNIRP = Source(
    title="ICNIRP, Guidelines on limits of exposure to ultraviolet radiation",
    edition="Health Physics 87(2):171-186, 2004",
)
OKUNO = Source(
    title="Okuno et al., Annals of Occupational Hygiene 45(7):597", edition="2001", place="abstract"
)

EFFECTIVE_DOSE = 30.0  # J/m2 in 8 h, weighted with S, eyes and skin
UVA_DOSE = 1e4  # J/m2 in 8 h, 315 to 400 nm unweighted, lens of the eye

LOWEST_IN_AIR = 200.0  # nm; what is shorter does not get far through air

SKIN_AND_EYES = (
    "Keep skin covered and eyes shielded even below the limit: people who take medicines that "
    "sensitise to light, or who have lost the eye's lens, are not protected by it."
)
DAY = "All exposures of a day add up; the limits hold for 8 hours."
VISIBLE_APART = "Blue light from 300 to 700 nm and heat have limits of their own, not held here."
UVA_RULE = (
    "The 10 000 J/m2 a day of the Directive is used for UV-A; ICNIRP allows 10 W/m2 beyond 1000 s."
)


def _time(dose: float, irradiance: Amount) -> Amount:
    """Return the time in which an irradiance gives a dose; endless where there is none.  [s]"""
    present = irradiance > 0
    return np.where(present, dose / np.where(present, irradiance, 1.0), np.inf)


def _permitted(effective: Amount, uva: Amount) -> tuple[Amount, Amount]:
    """Return the permitted time [s] and the limit that governs it."""
    by_effective, by_uva = _time(EFFECTIVE_DOSE, effective), _time(UVA_DOSE, uva)
    governing = np.where(by_uva < by_effective, "UV-A", "effective")
    return np.minimum(by_effective, by_uva), governing


def _steps(effective: Amount, uva: Amount) -> list[Step]:
    steps = [
        ("Weighted: 30 J/m2 after {:.4g} s", _time(EFFECTIVE_DOSE, effective)),
        ("UV-A: 10 000 J/m2 after {:.4g} s", _time(UVA_DOSE, uva)),
    ]
    return [step(words, time) for words, time in steps if np.all(np.isfinite(time))]


def _limit(inputs: Mapping[str, Any], limits: Limits) -> Limit | None:
    """The limits of the Directive, in force in Great Britain by SI 2010/1140 and in the EU."""
    if limits.regime not in ("gb", "eu") or inputs["duration"] is None:
        return None
    return Limit(
        name="Daily exposure to ultraviolet, 30 J/m2 weighted and 10 000 J/m2 UV-A",
        value=100,
        unit="%",
        source=DIRECTIVE,
        regime=limits.regime,
    )


def _duration(*, optional: bool) -> Number:
    return Number(
        "duration",
        "s",
        1e-3,
        86_400,
        label="Time of exposure a day",
        meaning="Total time of exposure in a day",
        example=60,
        optional=optional,
    )


TIME = Output("permitted_time", "s", meaning="Time in a day until the first limit is reached")
EFFECTIVE = Output("effective_irradiance", "W/m2", meaning="Irradiance weighted with S(lambda)")
SHARE = "Share of the daily limit used, by the limit that governs"


def _share(duration: Amount, permitted: Amount) -> Amount | None:
    return None if duration is None else 100 * duration / permitted


@method(
    id="uv.weighted",
    title="Ultraviolet spectrum, weighted",
    answers="How much of this spectrum counts, and how long may a person stay in it?",
    inputs=(
        Rows(
            "spectrum",
            (
                Number("wavelength", "nm", 100, 3000, meaning="Wavelength", example=300),
                Number(
                    "spectral_irradiance",
                    "W/m2/nm",
                    0,
                    1e6,
                    meaning="Spectral irradiance there",
                    example=0.01,
                ),
            ),
            meaning="Spectral irradiance by rising wavelength, straight from row to row",
            example=[[240, 0.0], [254, 0.02], [270, 0.0], [310, 0.001], [365, 0.05], [420, 0.0]],
            least=2,
            most=1000,
        ),
        _duration(optional=True),
    ),
    outputs=(
        EFFECTIVE,
        Output("uva_irradiance", "W/m2", meaning="Irradiance from 315 to 400 nm, unweighted"),
        TIME,
        Output("governing", meaning="The limit reached first", options=("effective", "UV-A")),
        Output("share", "%", meaning=SHARE, optional=True),
    ),
    equation="Eeff = integral of E(lambda) S(lambda), 180 to 400 nm; t = 30 J/m2 / Eeff, and "
    "10 000 J/m2 / EUVA",
    sources=(DIRECTIVE, BETWEEN_FIVES, ICNIRP),
    validity="A measured spectrum over all of 180 to 400 nm where the source emits.",
    cautions=(UVA_RULE, DAY, VISIBLE_APART, SKIN_AND_EYES),
    bands=ALL_BANDS,
    judge=Judge("share", by=_limit),
    plot=ultraviolet.spectrum,
)
def weighted(*, spectrum: Any, duration: Amount) -> Result:
    """Return weighted and UV-A irradiance [W/m2], the permitted time [s] and what governs it.

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "spectrum": [[240, 0], [254, 0.02], [270, 0], [310, 0.001], [365, 0.05], [420, 0]],
    ...     "duration": 60,
    ... }
    >>> calculate("uv.weighted", question).outputs["share"].value
    34.01
    """
    require(
        np.all([last > first for (first, _), (last, _) in pairwise(spectrum)], axis=0),
        "The wavelengths in spectrum must rise from row to row.",
        field="spectrum",
    )
    effective, uva = actinic.irradiances(spectrum)
    require(
        effective > 0,
        "The spectrum in spectrum must hold some irradiance from 180 to 400 nm.",
        field="spectrum",
    )
    permitted, governing = _permitted(effective, uva)
    whole = np.all((spectrum[0][0] <= LOWEST_IN_AIR) & (spectrum[-1][0] >= actinic.ACTINIC[1]))
    return Result(
        {
            "effective_irradiance": effective,
            "uva_irradiance": uva,
            "permitted_time": permitted,
            "governing": governing,
            "share": _share(duration, permitted),
        },
        steps=_steps(effective, uva),
        assumptions=("Nothing is emitted below the first and above the last wavelength.",),
        doubts=() if whole else ("Not judged: the spectrum does not run from 200 to 400 nm.",),
    )


@method(
    id="uv.lamp",
    title="Ultraviolet lamp of one wavelength",
    answers="What does this lamp give at another distance, and how long is that permitted?",
    inputs=(
        Number(
            "irradiance",
            "W/m2",
            1e-9,
            1e6,
            label="Measured irradiance",
            meaning="Unweighted irradiance that was measured",
            example=10,
        ),
        Number(
            "at",
            "m",
            0.01,
            100,
            label="Distance of the measurement",
            meaning="Distance at which it was measured",
            example=0.2,
        ),
        Number(
            "wavelength",
            "nm",
            180,
            400,
            meaning="Wavelength of the lamp; of a band its shortest",
            example=365,
        ),
        Number(
            "distance",
            "m",
            0.01,
            1000,
            label="Distance of the person",
            meaning="Distance of the person",
            example=1,
        ),
        _duration(optional=False),
        Number(
            "source_size",
            "m",
            1e-3,
            10,
            meaning="Largest dimension of the source, at most a fifth of both distances",
            example=0.03,
            optional=True,
        ),
    ),
    outputs=(
        EFFECTIVE,
        Output("effective_exposure", "J/m2", meaning="Weighted exposure over the duration"),
        TIME,
        Output("unweighted_irradiance", "W/m2", meaning="Irradiance at the person"),
        Output("governing", meaning="The limit reached first", options=("effective", "UV-A")),
        Output("share", "%", meaning=SHARE),
    ),
    equation="E = E0 (r0 / r)^2, Eeff = E S(lambda), Heff = Eeff t",
    sources=(DIRECTIVE, BETWEEN_FIVES, ICNIRP, OKUNO),
    validity="A bare source that is small against both distances, without a reflector.",
    cautions=(
        "Near the lamp the irradiance falls more slowly than with the square of the distance, so "
        "that a reading taken too near promises too little further away: measure where people are.",
        UVA_RULE,
        DAY,
        VISIBLE_APART,
        SKIN_AND_EYES,
    ),
    bands=UNFAVOURABLE,
    judge=Judge("share", by=_limit),
)
def lamp(
    *,
    irradiance: Amount,
    at: Amount,
    wavelength: Amount,
    distance: Amount,
    duration: Amount,
    source_size: Amount,
) -> Result:
    """Return what a small lamp gives at a distance [W/m2, J/m2] and the permitted time [s].

    >>> from assessments.calculate import calculate
    >>> question = {
    ...     "irradiance": 10, "at": 0.2, "wavelength": 365, "distance": 1, "duration": 60,
    ...     "source_size": 0.03,
    ... }
    >>> calculate("uv.lamp", question).outputs["share"].value
    0.24
    """
    if source_size is not None:
        require(
            np.minimum(at, distance) >= 5 * source_size * (1 - 1e-9),
            "at and distance must both be at least five times source_size.",
            field="at",
        )
    there = irradiance * (at / distance) ** 2
    weight = actinic.weight(wavelength)
    effective = there * weight
    uva = np.where((wavelength >= actinic.UVA[0]), there, 0.0)
    permitted, governing = _permitted(effective, uva)
    return Result(
        {
            "effective_irradiance": effective,
            "effective_exposure": effective * duration,
            "permitted_time": permitted,
            "unweighted_irradiance": there,
            "governing": governing,
            "share": 100 * duration / permitted,
        },
        steps=[step("{:.4g} W/m2 at the person, S = {:.4g}", there, weight)],
        assumptions=()
        if source_size is not None
        else ("The lamp is small: both distances are at least five times its largest dimension.",),
    )


@method(
    id="uv.permitted_time",
    title="Permitted time in ultraviolet",
    answers="How long a day may skin and eyes be in this ultraviolet?",
    inputs=(
        Number(
            "effective_irradiance",
            "W/m2",
            0,
            1e6,
            label="Weighted irradiance",
            meaning="Irradiance weighted with S(lambda), as a meter for it shows",
            example=0.5,
        ),
        Number(
            "uva_irradiance",
            "W/m2",
            0,
            1e6,
            label="UV-A irradiance",
            meaning="Irradiance from 315 to 400 nm, unweighted",
            example=10,
            optional=True,
        ),
        _duration(optional=True),
    ),
    outputs=(
        TIME,
        Output("governing", meaning="The limit reached first", options=("effective", "UV-A")),
        Output("share", "%", meaning=SHARE, optional=True),
    ),
    equation="t = 30 J/m2 / Eeff, and t = 10 000 J/m2 / EUVA: the shorter one",
    sources=(DIRECTIVE, ICNIRP),
    validity="A steady irradiance, measured where the person is.",
    cautions=(UVA_RULE, DAY, VISIBLE_APART, SKIN_AND_EYES),
    bands=ALL_BANDS,
    judge=Judge("share", by=_limit),
)
def permitted_time(
    *, effective_irradiance: Amount, uva_irradiance: Amount, duration: Amount
) -> Result:
    """Return the time in a day until the first of the two limits is reached.  [s]

    >>> from assessments.calculate import calculate
    >>> question = {"effective_irradiance": 0.5, "uva_irradiance": 10, "duration": 60}
    >>> calculate("uv.permitted_time", question).outputs["share"].value
    100.0
    """
    uva = 0.0 if uva_irradiance is None else uva_irradiance
    require(
        (effective_irradiance > 0) | (uva > 0),
        "effective_irradiance or uva_irradiance must be above 0 W/m2.",
        field="effective_irradiance",
    )
    permitted, governing = _permitted(np.asarray(effective_irradiance), np.asarray(uva))
    return Result(
        {
            "permitted_time": permitted,
            "governing": governing,
            "share": _share(duration, permitted),
        },
        steps=_steps(effective_irradiance, uva),
        assumptions=("There is no UV-A: uva_irradiance was not given.",)
        if uva_irradiance is None
        else (),
        doubts=("Not judged: uva_irradiance was not given.",) if uva_irradiance is None else (),
    )
