"""Exposure limits for laser radiation: the rows of the tables, and the lowest that applies.

Two editions. ``directive`` is Directive 2006/25/EC, annex II (the limits of the law in Europe,
after ICNIRP 1996 and 2000). ``icnirp_2013`` is ICNIRP, Health Physics 105(3):271-295, 2013, with
IEC 60825-1:2014, annex A; it differs for pulses, for large sources and above 1200 nm. Its rows,
and the Directive's table 2.3, are from memory; two readings of each agree where nothing is said.

Wavelengths in nm, times in s, angles in mrad, radiant exposure in J/m2, irradiance in W/m2.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from assessments.method import Amount

DIRECTIVE = "directive"
ICNIRP_2013 = "icnirp_2013"

SMALL_SOURCE = 1.5  # mrad, the angle up to which the eye makes the same image of any source
_LARGEST_SOURCE = 100.0  # mrad, beyond which more width of a source no longer spares the retina
_LONG = 10.0  # s, where the tables of long exposures begin


@dataclass(frozen=True)
class Row:
    """One cell of a table: a limit for a band of wavelengths and a span of times.

    Both wavelengths belong to the band, so that the lower limit holds on a shared edge, as the
    tables ask. The span holds its start and not its end. ``quantity`` is H (J/m2) or E (W/m2),
    ``exponent`` that of the time, ``factors`` letters of the correction factors A, B, C, E.
    """

    low: float
    high: float
    start: float
    end: float
    quantity: str
    value: float
    exponent: float = 0.0
    factors: str = ""

    def covers(self, wavelength: Amount, time: Amount) -> Amount:
        band = (wavelength >= self.low) & (wavelength <= self.high)
        return band & (time >= self.start) & (time < self.end)

    def radiant_exposure(self, time: Amount, factors: dict[str, Amount]) -> Amount:
        limit = self.value * time ** (self.exponent + (self.quantity == "E"))
        for letter in self.factors:
            limit = limit * factors[letter]
        return limit


def _below(edge: float) -> float:
    """The last number before an edge, for bands that do not hold their end."""
    return float(np.nextafter(edge, 0.0))


# Directive 2006/25/EC, tables 2.2 and 2.3: UV-B limits in steps of 1 nm. Between whole
# nanometres the step below holds, which is the lower one.
UVB_STEPS = {303: 40.0, 304: 60.0, 305: 100.0, 306: 160.0, 307: 250.0, 308: 400.0, 309: 630.0}
UVB_STEPS |= {310: 1.0e3, 311: 1.6e3, 312: 2.5e3, 313: 4.0e3, 314: 6.3e3}

# Up to 1 ns the limits of the ultraviolet are the irradiance of 1 ns, to the end of the band.
_UV_PULSE = Row(180, 400, 0, 1e-9, "E", 3e10)
_UV_THERMAL = (303.0, 400.0)

_UV_DIRECTIVE = (
    _UV_PULSE,
    Row(180, _below(303), 1e-9, inf, "H", 30),
    *(Row(nm, _below(nm + 1), 1e-9, inf, "H", limit) for nm, limit in UVB_STEPS.items()),
    Row(*_UV_THERMAL, 1e-9, _LONG, "H", 5.6e3, 0.25),
    # One reading of table 2.3 relaxes this to 10 W/m2 from 1000 s; the stricter one is kept.
    Row(315, 400, _LONG, inf, "H", 1e4),
)

_UV_ICNIRP = (
    _UV_PULSE,
    Row(180, 302.5, 1e-9, inf, "H", 30),
    Row(302.5, 315, 1e-9, inf, "H", 1, 0, "U"),
    Row(302.5, 400, 1e-9, _LONG, "H", 5.6e3, 0.25),
    Row(315, 400, _LONG, 1e3, "H", 1e4),
    Row(315, 400, 1e3, inf, "E", 10),
)

_RETINA_DIRECTIVE = (
    Row(400, 700, 0, 1e-11, "H", 1.5e-4, 0, "E"),
    Row(400, 700, 1e-11, 1e-9, "H", 2.7e4, 0.75, "E"),
    Row(400, 700, 1e-9, 1.8e-5, "H", 5e-3, 0, "E"),
    Row(400, 700, 1.8e-5, _LONG, "H", 18, 0.75, "E"),
    Row(700, 1050, 0, 1e-11, "H", 1.5e-4, 0, "AE"),
    Row(700, 1050, 1e-11, 1e-9, "H", 2.7e4, 0.75, "AE"),
    Row(700, 1050, 1e-9, 1.8e-5, "H", 5e-3, 0, "AE"),
    Row(700, 1050, 1.8e-5, _LONG, "H", 18, 0.75, "AE"),
    Row(1050, 1400, 0, 1e-11, "H", 1.5e-3, 0, "CE"),
    Row(1050, 1400, 1e-11, 1e-9, "H", 2.7e5, 0.75, "CE"),
    Row(1050, 1400, 1e-9, 5e-5, "H", 5e-2, 0, "CE"),
    Row(1050, 1400, 5e-5, _LONG, "H", 90, 0.75, "CE"),
)

_RETINA_ICNIRP = (
    Row(400, 700, 0, 1e-11, "H", 1e-3, 0, "E"),
    Row(400, 700, 1e-11, 5e-6, "H", 2e-3, 0, "E"),
    Row(400, 700, 5e-6, _LONG, "H", 18, 0.75, "E"),
    # Remembered both with and without factor A; without it is the lower limit.
    Row(700, 1050, 0, 1e-11, "H", 1e-3, 0, "E"),
    Row(700, 1050, 1e-11, 5e-6, "H", 2e-3, 0, "AE"),
    Row(700, 1050, 5e-6, _LONG, "H", 18, 0.75, "AE"),
    Row(1050, 1400, 0, 1e-11, "H", 1e-2, 0, "CE"),
    Row(1050, 1400, 1e-11, 1.3e-5, "H", 2e-2, 0, "CE"),
    Row(1050, 1400, 1.3e-5, _LONG, "H", 90, 0.75, "CE"),
)

_PHOTOCHEMICAL = (
    Row(400, 600, _LONG, 100, "H", 100, 0, "B"),
    Row(400, 600, 100, inf, "E", 1, 0, "B"),
)

# Above 1400 nm the front of the eye takes it all, and both editions agree.
_FAR = (
    Row(1400, 1500, 0, 1e-9, "E", 1e12),
    Row(1400, 1500, 1e-9, 1e-3, "H", 1e3),
    Row(1400, 1500, 1e-3, _LONG, "H", 5.6e3, 0.25),
    Row(1500, 1800, 0, 1e-9, "E", 1e13),
    Row(1500, 1800, 1e-9, _LONG, "H", 1e4),
    Row(1800, 2600, 0, 1e-9, "E", 1e12),
    Row(1800, 2600, 1e-9, 1e-3, "H", 1e3),
    Row(1800, 2600, 1e-3, _LONG, "H", 5.6e3, 0.25),
    Row(2600, 1e6, 0, 1e-9, "E", 1e11),
    Row(2600, 1e6, 1e-9, 1e-7, "H", 100),
    Row(2600, 1e6, 1e-7, _LONG, "H", 5.6e3, 0.25),
    Row(1400, 1e6, _LONG, inf, "E", 1000),
)

_SKIN = (
    Row(400, 1400, 0, 1e-9, "E", 2e11, 0, "A"),
    Row(400, 1400, 1e-9, 1e-7, "H", 200, 0, "A"),
    Row(400, 1400, 1e-7, _LONG, "H", 1.1e4, 0.25, "A"),
    Row(400, 1400, _LONG, inf, "E", 2000, 0, "A"),
)

_EYE = {
    DIRECTIVE: (*_UV_DIRECTIVE, *_RETINA_DIRECTIVE, *_FAR),
    ICNIRP_2013: (*_UV_ICNIRP, *_RETINA_ICNIRP, *_FAR),
}
_SKIN_ROWS = {
    DIRECTIVE: (*_UV_DIRECTIVE, *_SKIN, *_FAR),
    ICNIRP_2013: (*_UV_ICNIRP, *_SKIN, *_FAR),
}


def factor_a(wavelength: Amount) -> Amount:
    """CA (C4 in IEC 60825-1): less light reaches the retina's pigment from 700 nm on."""
    rising = 10 ** (0.002 * (np.clip(wavelength, 700, 1050) - 700))
    return np.where(wavelength < 1050, rising, 5.0)


def factor_b(wavelength: Amount) -> Amount:
    """CB (C3): how much weaker the photochemical effect is than at 450 nm."""
    return 10 ** (0.02 * (np.clip(wavelength, 450, 700) - 450))


def factor_c(wavelength: Amount, edition: str = DIRECTIVE) -> Amount:
    """CC (C7): water before the retina absorbs from 1150 nm on."""
    above = 8.0
    if edition == ICNIRP_2013:
        above = 8 + 10 ** (0.04 * (np.clip(wavelength, 1200, 1400) - 1250))
    rising = 10 ** (0.018 * (np.clip(wavelength, 1150, 1200) - 1150))
    return np.where(wavelength < 1200, rising, above)


def factor_e(angle: Amount, time: Amount, edition: str = DIRECTIVE) -> Amount:
    """CE (C6): how much more a source of this angle spares the retina than a small one."""
    width = np.maximum(angle, SMALL_SOURCE)
    if edition == ICNIRP_2013:
        largest = np.clip(200 * np.sqrt(time), 5, _LARGEST_SOURCE)
        return np.minimum(width, largest) / SMALL_SOURCE
    beyond = np.maximum(width / _LARGEST_SOURCE, 1)
    return width / SMALL_SOURCE * beyond


def factor_t2(angle: Amount) -> Amount:
    """T2: the time beyond which the eye's movements keep the image of a source cool.  [s]"""
    width = np.clip(angle, SMALL_SOURCE, _LARGEST_SOURCE)
    return 10 * 10 ** ((width - SMALL_SOURCE) / 98.5)


def _uvb(wavelength: Amount) -> Amount:
    """C2: the smooth UV-B limit of IEC 60825-1 from 302.5 to 315 nm.  [J/m2]"""
    return 10 ** (0.2 * (np.clip(wavelength, 302.5, 315) - 295))


def _steady(
    wavelength: Amount,
    time: Amount,
    angle: Amount,
    factors: dict[str, Amount],
    most: float,
) -> Amount:
    """The thermal limit of the retina from 10 s on, 400 to 1400 nm.  [J/m2]

    Table 2.3 rounds that of a small source to 10 W/m2, so that it lies 1.2 % below the formula.
    ``most`` is the irradiance that larger sources in the infrared never pass.
    """
    base = factors["A"] * factors["C"]
    resting = np.minimum(time, factor_t2(angle))
    larger = 18 * base * factors["E"] * resting**-0.25
    larger = np.where(wavelength > 700, np.minimum(larger, most), larger)
    return np.where(angle <= SMALL_SOURCE, 10 * base, larger) * time


def _lowest(
    rows: tuple[Row, ...], wavelength: Amount, time: Amount, factors: dict[str, Amount]
) -> Amount:
    lowest: Amount = inf
    for row in rows:
        limit = row.radiant_exposure(time, factors)
        lowest = np.minimum(lowest, np.where(row.covers(wavelength, time), limit, inf))
    return lowest


def skin(wavelength: Amount, time: Amount, edition: str = DIRECTIVE) -> Amount:
    """Return the limit for the skin, as radiant exposure.  [J/m2]"""
    factors = {"A": factor_a(wavelength), "U": _uvb(wavelength)}
    return _lowest(_SKIN_ROWS[edition], wavelength, time, factors)


def eye_thermal(
    wavelength: Amount, time: Amount, angle: Amount = SMALL_SOURCE, edition: str = DIRECTIVE
) -> Amount:
    """Return the limit for the eye without the photochemical limit of the retina.  [J/m2]"""
    factors = {
        "A": factor_a(wavelength),
        "C": factor_c(wavelength, edition),
        "E": factor_e(angle, time, edition),
        "U": _uvb(wavelength),
    }
    lowest = _lowest(_EYE[edition], wavelength, time, factors)
    retina = (wavelength >= 400) & (wavelength <= 1400)
    most = 1000 if edition == DIRECTIVE else inf
    steady = _steady(wavelength, time, angle, factors, most)
    lowest = np.minimum(lowest, np.where(retina & (time >= _LONG), steady, inf))
    if edition == DIRECTIVE:
        return lowest
    # Factor C7 grows without bound up to 1400 nm: there the limit of the skin protects the
    # front of the eye.
    front = np.where((wavelength >= 1200) & retina, skin(wavelength, time, edition), inf)
    return np.minimum(lowest, front)


def eye_photochemical(wavelength: Amount, time: Amount) -> Amount:
    """Return the photochemical limit of the retina; infinite where there is none.  [J/m2]"""
    return _lowest(_PHOTOCHEMICAL, wavelength, time, {"B": factor_b(wavelength)})


def eye(
    wavelength: Amount, time: Amount, angle: Amount = SMALL_SOURCE, edition: str = DIRECTIVE
) -> Amount:
    """Return the limit for the eye: the lower one where two hold.  [J/m2]"""
    thermal = eye_thermal(wavelength, time, angle, edition)
    return np.minimum(thermal, eye_photochemical(wavelength, time))


def field_of_view(time: Amount) -> Amount:
    """Return gamma, the cone within which photochemical exposure is measured.  [mrad]"""
    return np.clip(1.1 * np.sqrt(time), 11, 110)


def aperture(
    wavelength: Amount, time: Amount, tissue: str = "eye", edition: str = DIRECTIVE
) -> Amount:
    """Return the diameter over which a beam is averaged before it is compared.  [mm]

    On a shared edge the smaller one holds at 1400 nm and the pupil's at 400 nm.
    """
    far = wavelength >= 1e5
    if tissue == "skin":
        return np.where(far, 11.0, 3.5)
    first = 0.35 if edition == ICNIRP_2013 else 0.3
    cornea = np.where(time < first, 1.0, np.minimum(1.5 * time**0.375, 3.5))
    cornea = np.where(time >= _LONG, 3.5, cornea)
    ultraviolet = 1.0 if edition == ICNIRP_2013 else cornea
    return np.select(
        [wavelength < 400, wavelength < 1400, far], [ultraviolet, 7.0, 11.0], default=cornea
    )
