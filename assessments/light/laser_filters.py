"""Scale numbers of laser eye-protectors: EN 207, table of the resistance to a beam of 1 mm.

A filter of scale number n holds out a power or energy density of ``step`` x 10^(n + ``shift``)
for 5 s or 50 pulses (edition 2017), and lets through less than 10^-n. Modes: D continuous, I
pulses from 1 us to 0.25 s, R from 1 ns to 1 us, M below 1 ns.
"""

from __future__ import annotations

import numpy as np

from assessments.method import Amount

HIGHEST = 10
TEST_TIME = 5.0  # s; the number of pulses counted is that of 5 s

PULSE_LENGTHS = {"I": (1e-6, 0.25), "R": (1e-9, 1e-6), "M": (1e-13, 1e-9)}

# For each band of wavelength, up to 315, 1400 and 1e6 nm: step, shift, and whether the density
# is a radiant exposure (H, J/m2) or an irradiance (E, W/m2).
_PULSED = ((3.0, 1, "H"), (5.0, -3, "H"), (1.0, 2, "H"))
_DENSITY = {
    "D": ((1.0, -3, "E"), (1.0, 1, "E"), (1.0, 3, "E")),
    "I": _PULSED,
    "R": _PULSED,
    "M": ((3.0, 10, "E"), (1.5, -4, "H"), (1.0, 11, "E")),
}


def mode_of(length: float) -> str:
    """Return the mode of a single pulse of this length.  [s]"""
    if length < 1e-9:
        return "M"
    return "R" if length < 1e-6 else "I"


def exact_number(mode: str, wavelength: Amount, exposure: Amount, time: Amount) -> Amount:
    """Return the scale number before it is rounded up.

    ``exposure`` is the radiant exposure of the beam within ``time`` (of one pulse): J/m2, s.
    """
    numbers = [
        np.log10((exposure if kind == "H" else exposure / time) / step) - shift
        for step, shift, kind in _DENSITY[mode]
    ]
    return np.select([wavelength <= 315, wavelength <= 1400], numbers[:2], default=numbers[2])


def train_factor(wavelength: Amount, pulses: Amount) -> Amount:
    """Return N^0.25, by which a train of pulses counts for more from 400 to 1400 nm."""
    heating = (wavelength >= 400) & (wavelength <= 1400)
    return np.where(heating, np.maximum(pulses, 1) ** 0.25, 1.0)


def rounded_up(number: Amount, density: Amount) -> Amount:
    """Return the scale number to ask for: whole, at least the optical density; 0 if none."""
    # A billionth is taken off first, so that exactly 10^6 W/m2 does not ask for one more.
    needed = np.maximum(np.ceil(np.maximum(number, density) - 1e-9), 1)
    return np.where(density > 0, needed, 0.0)
