"""Trains of laser pulses: the mean irradiance at which the strictest of three rules is met.

Directive 2006/25/EC, table 2.6: each pulse against the limit of its own length; all of them
together against the limit of the whole time; and, against thermal injury, each pulse against
its limit times N^-0.25, where pulses within Tmin count as one. ICNIRP 2013 and IEC 60825-1:2014
replaced the third rule by the factor C5, here for a small source (from memory).
"""

from __future__ import annotations

import numpy as np

from assessments.light.laser_limits import (
    DIRECTIVE,
    ICNIRP_2013,
    SMALL_SOURCE,
    eye,
    eye_thermal,
    factor_t2,
)
from assessments.method import Amount

_TMIN = (
    (315, 400, 1e-9),
    (400, 1050, 18e-6),
    (1050, 1400, 50e-6),
    (1400, 1500, 1e-3),
    (1500, 1800, 10.0),
    (1800, 2600, 1e-3),
    (2600, 1e6, 1e-7),
)
_TI = ((400, 1050, 5e-6), (1050, 1400, 13e-6))

_GROUPED = {DIRECTIVE: _TMIN, ICNIRP_2013: _TI}


def grouped_within(wavelength: Amount, edition: str = DIRECTIVE) -> Amount:
    """Return Tmin (or Ti), within which pulses count as one; 0 where the rule is silent.  [s]

    Below 315 nm the limit is photochemical, and the number of pulses does not matter.
    """
    rows = _GROUPED[edition]
    inside = [(wavelength > low) & (wavelength <= high) for low, high, _ in rows]
    return np.select(inside, [span for _, _, span in rows], default=0.0)


def _factor_c5(pulse: Amount, time: Amount, number: Amount, group: Amount) -> Amount:
    """C5 of IEC 60825-1:2014 for a small source: 1, but for many pulses of at most Ti."""
    many = (pulse <= group) & (time > 0.25) & (number > 600)
    return np.where(many, np.maximum(5 * number**-0.25, 0.4), 1.0)


def mean_irradiance(
    wavelength: Amount,
    time: Amount,
    pulse: Amount,
    rate: Amount,
    edition: str = DIRECTIVE,
) -> Amount:
    """Return the mean irradiance that a train of equal pulses may have at the eye.  [W/m2]

    ``time`` is the whole exposure, ``pulse`` the length of one pulse (not longer than ``time`` or
    the period), ``rate`` pulses a second.
    """
    single = eye(wavelength, pulse, SMALL_SOURCE, edition) * rate
    together = eye(wavelength, time, SMALL_SOURCE, edition) / time
    group = grouped_within(wavelength, edition)
    window = np.minimum(np.maximum(1 / rate, group), time)
    length = np.where(1 / rate >= group, pulse, np.minimum(group, window))
    counted = np.minimum(time, factor_t2(SMALL_SOURCE)) if edition == ICNIRP_2013 else time
    number = np.maximum(counted / window, 1)
    if edition == ICNIRP_2013:
        factor = _factor_c5(length, time, number, group)
    else:
        factor = number**-0.25
    limit = eye_thermal(wavelength, length, SMALL_SOURCE, edition)
    additive = np.where(group > 0, limit * factor / window, np.inf)
    return np.minimum(np.minimum(single, together), additive)
