"""S(lambda): how much each wavelength of the ultraviolet counts, and its integrals.

Directive 2006/25/EC, annex I, table 1.2 (after ICNIRP 2004), every nanometre from 180 to 400.
Each line below starts with a wavelength and holds the ten values from there on. The values from
330 to 368 nm between whole fives are from memory; those at the fives agree with a library.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from assessments.method import Amount

_TABLE = """
180 0.0120 0.0126 0.0132 0.0138 0.0144 0.0151 0.0158 0.0166 0.0173 0.0181
190 0.0190 0.0199 0.0208 0.0218 0.0228 0.0239 0.0250 0.0262 0.0274 0.0287
200 0.0300 0.0334 0.0371 0.0412 0.0459 0.0510 0.0551 0.0595 0.0643 0.0694
210 0.0750 0.0786 0.0824 0.0864 0.0906 0.0950 0.0995 0.1043 0.1093 0.1145
220 0.1200 0.1257 0.1316 0.1378 0.1444 0.1500 0.1583 0.1658 0.1737 0.1819
230 0.1900 0.1995 0.2089 0.2188 0.2292 0.2400 0.2510 0.2624 0.2744 0.2869
240 0.3000 0.3111 0.3227 0.3347 0.3471 0.3600 0.3730 0.3865 0.4005 0.4150
250 0.4300 0.4465 0.4637 0.4815 0.5000 0.5200 0.5437 0.5685 0.5945 0.6216
260 0.6500 0.6792 0.7098 0.7417 0.7751 0.8100 0.8449 0.8812 0.9192 0.9587
270 1.0000 0.9919 0.9838 0.9758 0.9679 0.9600 0.9434 0.9272 0.9112 0.8954
280 0.8800 0.8568 0.8342 0.8122 0.7908 0.7700 0.7420 0.7151 0.6891 0.6641
290 0.6400 0.6186 0.5980 0.5780 0.5587 0.5400 0.4984 0.4600 0.3989 0.3459
300 0.3000 0.2210 0.1629 0.1200 0.0849 0.0600 0.0454 0.0344 0.0260 0.0197
310 0.0150 0.0111 0.0081 0.0060 0.0042 0.0030 0.0024 0.0020 0.0016 0.0012
320 0.0010 0.000819 0.000670 0.000540 0.000520 0.000500 0.000479 0.000459 0.000440 0.000425
330 0.000410 0.000396 0.000383 0.000370 0.000355 0.000340 0.000327 0.000315 0.000303 0.000291
340 0.000280 0.000271 0.000263 0.000255 0.000248 0.000240 0.000231 0.000223 0.000215 0.000207
350 0.000200 0.000191 0.000183 0.000175 0.000167 0.000160 0.000153 0.000147 0.000141 0.000136
360 0.000130 0.000126 0.000122 0.000118 0.000114 0.000110 0.000106 0.000103 0.000099 0.000096
370 0.000093 0.000090 0.000086 0.000083 0.000080 0.000077 0.000074 0.000072 0.000069 0.000066
380 0.000064 0.000062 0.000059 0.000057 0.000055 0.000053 0.000051 0.000049 0.000047 0.000046
390 0.000044 0.000042 0.000041 0.000039 0.000037 0.000036 0.000035 0.000033 0.000032 0.000031
400 0.000030
"""


def _values() -> list[float]:
    return [float(cell) for line in _TABLE.split("\n") for cell in line.split()[1:]]


WAVELENGTHS: NDArray[np.float64] = np.arange(180.0, 401.0)
WEIGHTS: NDArray[np.float64] = np.array(_values())

ACTINIC = (180.0, 400.0)
UVA = (315.0, 400.0)


def weight(wavelength: Amount) -> Amount:
    """Return S at a wavelength in nm, between two whole ones on the straight line; 0 outside."""
    return np.interp(wavelength, WAVELENGTHS, WEIGHTS, left=0.0, right=0.0)


def _cumulative(values: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.concatenate(([0.0], np.cumsum(values)))


_SLOPES = np.diff(WEIGHTS)
_STARTS = WAVELENGTHS[:-1]
# The integrals of S and of lambda x S from 180 nm to each whole wavelength, exact for a weight
# that runs straight from one to the next.
_AREA = _cumulative(WEIGHTS[:-1] + _SLOPES / 2)
_MOMENT = _cumulative(_STARTS * WEIGHTS[:-1] + (_STARTS * _SLOPES + WEIGHTS[:-1]) / 2 + _SLOPES / 3)


def _integrals(wavelength: Amount) -> tuple[Amount, Amount]:
    """Return the integrals of S and of lambda x S from 180 nm to a wavelength."""
    inside = np.clip(wavelength, *ACTINIC)
    place = np.minimum((inside - ACTINIC[0]).astype(int), len(_SLOPES) - 1)
    start, value, slope = _STARTS[place], WEIGHTS[place], _SLOPES[place]
    past = inside - start
    area = value * past + slope * past**2 / 2
    moment = start * value * past + (start * slope + value) * past**2 / 2 + slope * past**3 / 3
    return _AREA[place] + area, _MOMENT[place] + moment


def _plain_integrals(wavelength: Amount) -> tuple[Amount, Amount]:
    inside = np.clip(wavelength, *UVA)
    return inside, inside**2 / 2


def irradiances(spectrum: tuple[tuple[Amount, Amount], ...]) -> tuple[Amount, Amount]:
    """Return effective and UV-A irradiance of a spectrum of [nm, W/m2/nm] rows.  [W/m2]

    The spectrum runs straight from row to row and is 0 outside them; the wavelengths rise.
    """
    return _integral(spectrum, weighted=True), _integral(spectrum, weighted=False)


def _integral(spectrum: tuple[tuple[Amount, Amount], ...], *, weighted: bool) -> Amount:
    total: Amount = 0.0
    integrals = _integrals if weighted else _plain_integrals
    for (first, start), (last, end) in pairwise(spectrum):
        from_area, from_moment = integrals(np.asarray(first, dtype=float))
        to_area, to_moment = integrals(np.asarray(last, dtype=float))
        area = to_area - from_area
        moment = to_moment - from_moment - first * area
        total = total + start * area + (end - start) / (last - first) * moment
    # Subtraction leaves a trace where a spectrum is 0; an irradiance is never below 0.
    return np.maximum(total, 0.0)
