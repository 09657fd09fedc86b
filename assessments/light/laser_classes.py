"""Accessible emission limits of laser classes, continuous emission, small source.

IEC 60825-1:2014, tables 3 to 8; from memory but for class 1 at 500 to 700 nm and the limits of
classes 2, 3R and 3B of visible beams, which are printed as 0.39 mW, 1 mW, 5 mW and 500 mW.
Wavelengths in nm, power in W.
"""

from __future__ import annotations

from math import pi

import numpy as np

from assessments.light.laser_limits import ICNIRP_2013, factor_a, factor_b, factor_c
from assessments.method import Amount

TIME_BASE_UV = 30_000.0  # s, up to 400 nm: effects of the ultraviolet add up over a day
TIME_BASE = 100.0  # s, above 400 nm where nobody means to look into the beam
TIME_BASE_AVERSION = 0.25  # s, visible beams of the classes that count on turning away

_CLASS_3B = 0.5
# The powers below are energies of the standard over its time base of 30 000 s.
_BELOW_302 = {"1": 2.4e-5 / TIME_BASE_UV, "3R": 1.2e-4 / TIME_BASE_UV, "3B": 1.5e-3}
_BELOW_315 = {"1": 7.9e-7 / TIME_BASE_UV, "3R": 4.0e-6 / TIME_BASE_UV, "3B": 5.0e-5}
_BELOW_400 = {"1": 7.9e-6, "3R": 4.0e-5}
_INFRARED = {"1": 3.9e-4, "3R": 2.0e-3}
_BELOW_4000 = {"1": 1.0e-2, "3R": 5.0e-2}
_FAR = {"1": 1000.0, "3R": 5000.0}  # W/m2, averaged over the aperture


def is_visible(wavelength: Amount) -> Amount:
    """Say where a beam is seen, so that a person may turn away from it (400 to 700 nm)."""
    return (wavelength >= 400) & (wavelength <= 700)


def time_base(wavelength: Amount, class_: str) -> Amount:
    """Return the time over which the class of a product is judged.  [s]"""
    quick = is_visible(wavelength) & (class_ in ("2", "3R"))
    return np.select(
        [quick, wavelength <= 400], [TIME_BASE_AVERSION, TIME_BASE_UV], default=TIME_BASE
    )


def _visible(wavelength: Amount, class_: str) -> Amount:
    if class_ == "1":
        blue = np.where(wavelength <= 500, 3.9e-5 * factor_b(wavelength), np.inf)
        return np.minimum(blue, 3.9e-4)
    return {"2": 1e-3, "3R": 5e-3, "3B": _CLASS_3B}[class_]


def emission_limit(wavelength: Amount, class_: str) -> Amount:
    """Return the emission that a continuous laser of this class may make accessible.  [W]

    Class 2 is defined from 400 to 700 nm only; ask ``is_visible`` first.
    """
    uvb = _BELOW_315.get(class_, np.nan) * 10 ** (0.2 * (np.clip(wavelength, 302.5, 315) - 295))
    factors = factor_a(wavelength) * factor_c(wavelength, ICNIRP_2013)
    area = pi / 4 * np.where(wavelength >= 1e5, 11e-3, 3.5e-3) ** 2
    limit = np.select(
        [
            wavelength < 302.5,
            wavelength < 315,
            wavelength < 400,
            wavelength <= 700,
            wavelength <= 1400,
            wavelength <= 4000,
        ],
        [
            _BELOW_302.get(class_, np.nan),
            uvb,
            _BELOW_400.get(class_, _CLASS_3B),
            _visible(wavelength, class_),
            _INFRARED.get(class_, _CLASS_3B) * factors,
            _BELOW_4000.get(class_, _CLASS_3B),
        ],
        default=_FAR.get(class_, _CLASS_3B / area) * area,
    )
    return np.minimum(limit, _CLASS_3B)
