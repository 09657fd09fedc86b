"""Hearing protectors: how loud it is at the ear under one."""

from __future__ import annotations

from typing import Any

import numpy as np

from assessments.errors import Refused
from assessments.finding import Source
from assessments.method import Amount, Choice, Number, Output, Result, Series, method, require, step

ISO_4869 = Source(title="EN ISO 4869-2", edition="2018", place="clauses 6 to 8")
NRR_PRACTICE = Source(
    title="29 CFR 1910.95, methods for estimating the adequacy of protector attenuation",
    place="appendix B",
    confirmed=False,
)

# A-weighting of the octave bands 63 Hz to 8 kHz, IEC 61672-1 (2013), table 3.
A_WEIGHTING = (-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1)

# No sound has a C-weighted level more than 2 dB below its A-weighted one (IEC 61672-1, table 3,
# 2 to 8 kHz); a decibel more is left to the meter.
LEAST_DIFFERENCE = -3.0  # dB

SWAPPED = "H is nearly always at least M, and M at least L: check that they are not swapped."
ENOUGH, MUCH, LITTLE = "70 to 80 dB", "below 70 dB", "above 80 dB"


def _needed(value: Amount | None, name: str, method_name: str) -> Amount:
    if value is None:
        raise Refused(
            f"{name} is missing: method {method_name} needs it, a number from 0 to 150 dB.",
            field=name,
        )
    return value


def _check_weightings(laeq: Any, lceq: Any) -> None:
    """Refuse a pair of levels that no sound has: most likely they are swapped."""
    if laeq is not None and lceq is not None:
        require(
            np.asarray(lceq) - laeq >= LEAST_DIFFERENCE,
            "lceq must be a number from 3 dB below laeq up, to 150 dB: no sound has a lower "
            "C-weighted level, so check that the two are not swapped.",
            field="lceq",
        )


def _by_snr(laeq: Any, lceq: Any, snr: Any) -> tuple[Amount, Amount, list[Any]]:
    lceq = _needed(lceq, "lceq", "snr")
    at_ear = lceq - snr
    return at_ear, lceq if laeq is None else laeq, [step("{:g} - {:g} dB", lceq, snr)]


def _by_hml(laeq: Any, lceq: Any, h: Any, m: Any, l: Any) -> tuple[Amount, Amount, list[Any]]:  # noqa: E741
    laeq, lceq = _needed(laeq, "laeq", "hml"), _needed(lceq, "lceq", "hml")
    low_frequencies = lceq - laeq - 2
    reduction = np.where(
        low_frequencies <= 0,
        m - (h - m) / 4 * low_frequencies,
        m - (m - l) / 8 * low_frequencies,
    )
    note = step("LC - LA is {:.1f} dB, the predicted reduction {:.1f} dB", lceq - laeq, reduction)
    return laeq - reduction, laeq, [note]


def _by_octave(bands: Any, apv: Any) -> tuple[Amount, Amount, list[Any]]:
    require(len(bands) == len(apv), "apv must hold as many numbers as bands.", field="apv")
    weighting = A_WEIGHTING[-len(bands) :]
    open_ear = [level + a for level, a in zip(bands, weighting, strict=True)]
    at_ear = [level - less for level, less in zip(open_ear, apv, strict=True)]
    total = _sum(open_ear)
    return _sum(at_ear), total, [step("The bands add up to {:.1f} dB(A) at the open ear", total)]


def _sum(levels: list[Amount]) -> Amount:
    return 10 * np.log10(sum(10 ** (level / 10) for level in levels))


def _by_nrr(laeq: Any, lceq: Any, nrr: Any) -> tuple[Amount, Amount, list[Any]]:
    if lceq is not None:
        note = step("{:g} dB(C) - {:g} dB", lceq, nrr)
        return lceq - nrr, lceq if laeq is None else laeq, [note]
    laeq = _needed(laeq, "laeq", "nrr")
    return laeq - (nrr - 7), laeq, [step("{:g} dB(A) - ({:g} - 7) dB", laeq, nrr)]


@method(
    id="noise.protector",
    title="Level under a hearing protector",
    answers="How loud is it at the ear under this protector, and is that too much or too little?",
    inputs=(
        Choice(
            "method",
            {
                "snr": "Single number rating, with the C-weighted level",
                "hml": "High, medium and low values, with both levels",
                "octave": "Octave bands with the assumed protection in each",
                "nrr": "Noise reduction rating of the US label",
            },
            label="The maker's values",
            meaning="Which of the maker's values are at hand",
            example="snr",
        ),
        Number(
            "laeq",
            "dB",
            0,
            150,
            label="A-weighted level, LA",
            meaning="A-weighted level",
            example=98,
            optional=True,
        ),
        Number(
            "lceq",
            "dB",
            0,
            150,
            label="C-weighted level, LC",
            meaning="C-weighted level",
            example=100,
            optional=True,
        ),
        Number(
            "snr",
            "dB",
            0,
            60,
            label="Single number rating, SNR",
            meaning="SNR",
            example=27,
            when=("method", ("snr",)),
        ),
        Number(
            "h",
            "dB",
            0,
            60,
            label="High-frequency value, H",
            meaning="H value",
            example=30,
            when=("method", ("hml",)),
        ),
        Number(
            "m",
            "dB",
            0,
            60,
            label="Medium-frequency value, M",
            meaning="M value",
            example=24,
            when=("method", ("hml",)),
        ),
        Number(
            "l",
            "dB",
            0,
            60,
            label="Low-frequency value, L",
            meaning="L value",
            example=15,
            when=("method", ("hml",)),
        ),
        Series(
            "bands",
            "dB",
            -20,
            150,
            least=7,
            most=8,
            label="Octave band levels",
            meaning="Unweighted octave band levels, 63 or 125 Hz to 8 kHz",
            example=[75, 82, 88, 92, 95, 94, 90, 84],
            when=("method", ("octave",)),
        ),
        Series(
            "apv",
            "dB",
            -5,
            60,
            least=7,
            most=8,
            label="Assumed protection values, APV",
            meaning="Assumed protection value in the same bands: mean less one standard deviation",
            example=[7, 9, 12, 18, 24, 28, 30, 29],
            when=("method", ("octave",)),
        ),
        Number(
            "nrr",
            "dB",
            0,
            40,
            label="Noise reduction rating, NRR",
            meaning="NRR",
            example=29,
            when=("method", ("nrr",)),
        ),
        Number(
            "allowance",
            "dB",
            0,
            30,
            label="Allowance for wear",
            meaning="Added for wear in the real world; 4 dB are usual in Great Britain",
            example=4,
            optional=True,
        ),
    ),
    outputs=(
        Output("at_ear", "dB", meaning="A-weighted level at the ear under the protector"),
        Output("reduction", "dB", meaning="How much lower than at the open ear"),
        Output("verdict", options=(MUCH, ENOUGH, LITTLE), meaning="Beside the range to aim for"),
    ),
    equation="SNR: LC - SNR.  HML: LA - PNR, PNR = M - (H - M)/4 (LC - LA - 2) up to 2 dB, else "
    "M - (M - L)/8 (LC - LA - 2).  Octave: 10 lg sum 10^((L + A - APV)/10).  NRR: LC - NRR, or "
    "LA - (NRR - 7)",
    sources=(ISO_4869, NRR_PRACTICE),
    validity="Steady noise and a protector that is worn and fitted as in the maker's test.",
    cautions=(
        "In Great Britain 4 dB are added for wear in the real world; in the United States half of "
        "the rating is usually taken off.",
        "Below 70 dB alarms and speech may go unheard; above 80 dB the protector is not enough.",
        "A protector taken off for a tenth of the time protects by 10 dB at most.",
    ),
)
def protector(
    *,
    method: str,
    laeq: Any,
    lceq: Any,
    snr: Any,
    h: Any,
    m: Any,
    l: Any,  # noqa: E741 - the standard's own letter
    bands: Any,
    apv: Any,
    nrr: Any,
    allowance: Any,
) -> Result:
    """Return the level at the ear under a protector.  [dB]

    >>> from assessments.calculate import calculate
    >>> question = {"method": "snr", "laeq": 98, "lceq": 100, "snr": 27, "allowance": 4}
    >>> calculate("noise.protector", question).outputs["at_ear"].value
    77.0
    """
    _check_weightings(laeq, lceq)
    if method == "snr":
        at_ear, open_ear, steps = _by_snr(laeq, lceq, snr)
    elif method == "hml":
        at_ear, open_ear, steps = _by_hml(laeq, lceq, h, m, l)
    elif method == "octave":
        at_ear, open_ear, steps = _by_octave(bands, apv)
    else:
        at_ear, open_ear, steps = _by_nrr(laeq, lceq, nrr)
    assumed = [] if allowance is not None else ["No allowance for wear in the real world."]
    at_ear = at_ear + (0.0 if allowance is None else allowance)
    unusual = method == "hml" and not bool(np.all((np.asarray(h) >= m) & (np.asarray(m) >= l)))
    return Result(
        {
            "at_ear": at_ear,
            "reduction": open_ear - at_ear,
            "verdict": np.select([at_ear < 70, at_ear <= 80], [MUCH, ENOUGH], LITTLE),
        },
        steps=steps,
        assumptions=assumed,
        cautions=[SWAPPED] if unusual else (),
    )
