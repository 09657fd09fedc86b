"""Welding filters: scale number and transmittance, and the tables that recommend a shade.

A row holds the current (A), the flow (l/h) or the plate (mm) it is for, both ends included; where
two rows meet, the darker one holds. ``suggested`` is the comfort shade of ANSI Z49.1. Rows that
are not ``confirmed`` are from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf, nextafter

import numpy as np

from assessments.finding import Source
from assessments.method import Amount

_Cell = tuple[float, float, float] | tuple[float, float, float, float]

# EN 169, scale numbers that are made.
SCALE_NUMBERS = (1.2, 1.4, 1.7, 2.0, 2.5, *(float(number) for number in range(3, 17)))


def transmittance(shade: Amount) -> Amount:
    """Return the luminous transmittance of a shade: 10^(-3 (N - 1) / 7).  [1]"""
    return 10 ** (-3 * (shade - 1) / 7)


def shade(transmitted: Amount) -> Amount:
    """Return the shade of a luminous transmittance: 1 + 7/3 lg(1 / tau)."""
    return 1 + 7 / 3 * np.log10(1 / transmitted)


def scale_number(exact: Amount) -> Amount:
    """Return the scale number that a filter of this exact shade is marked with."""
    # On the edge between two numbers, half-way between them, the lighter one is marked.
    edges = [(lighter + darker) / 2 for lighter, darker in pairwise(SCALE_NUMBERS)]

    return np.asarray(SCALE_NUMBERS)[np.searchsorted(edges, exact)]


@dataclass(frozen=True)
class Row:
    low: float
    high: float
    shade: float
    suggested: float | None = None
    confirmed: bool = True


def _rows(*cells: _Cell) -> tuple[Row, ...]:
    return tuple(Row(*cell) for cell in cells)


def _memory(low: float, high: float, number: float) -> Row:
    return Row(low, high, number, confirmed=False)


def _above(edge: float) -> float:
    """The next number after an edge, for rows that begin only above it."""
    return nextafter(edge, inf)


# EN 169, recommended by current, as printed in the manuals of three welding machines (Helvi
# Compact 400 p. 21 and Compact 211 p. 71, which names the columns, and Globus 199 p. 4). They print
# 40-79 A and so on, which is 40 A up to 80 A here.
_EN_169 = {
    "mma": _rows(
        *((20, 40, 9), (40, 80, 10), (80, 175, 11), (175, 300, 12), (300, 500, 13), (500, 600, 14))
    ),
    "tig": _rows(
        *((5, 20, 9), (20, 40, 10), (40, 100, 11), (100, 175, 12), (175, 250, 13), (250, 400, 14))
    ),
    "mig": _rows((80, 100, 10), (100, 175, 11), (175, 300, 12), (300, 500, 13), (500, 550, 14)),
    "mig_light": _rows(
        (80, 100, 10), (100, 175, 11), (175, 250, 12), (250, 350, 13), (350, 500, 14)
    ),
    "mag": (
        *_rows((40, 80, 10), (80, 125, 11), (125, 275, 12), (275, 350, 13), (350, 450, 14)),
        _memory(450, 600, 15),
    ),
    "gouging": _rows(
        (125, 175, 10), (175, 225, 11), (225, 275, 12), (275, 350, 13), (350, 450, 14)
    ),
    "plasma_cutting": _rows((50, 150, 11), (150, 250, 12), (250, 400, 13)),
    "gas_welding": (
        _memory(1, 70, 4),
        _memory(_above(70), 200, 5),
        _memory(200, 800, 6),
        _memory(_above(800), 5000, 7),
    ),
    "oxygen_cutting": (_memory(900, 2000, 5), _memory(2000, 4000, 6), _memory(4000, 8000, 7)),
}

_GMAW = _rows((1, 60, 7), (60, 160, 10), (160, 250, 10), (250, 500, 10))
_GMAW_ANSI = _rows((1, 60, 7), (60, 160, 10, 11), (160, 250, 10, 12), (250, 550, 10, 14))
_OSHA = {
    "mma": _rows((1, 60, 7), (60, 160, 8), (160, 250, 10), (250, 550, 11)),
    "mig": _GMAW,
    "mig_light": _GMAW,
    "mag": _GMAW,
    "flux_cored": _GMAW,
    "tig": _rows((1, 50, 8), (50, 150, 8), (150, 500, 10)),
    "gouging": _rows((1, 500, 10), (500, 1000, 11)),
    "plasma_welding": _rows((1, 20, 6), (20, 100, 8), (100, 400, 10), (400, 800, 11)),
    "plasma_cutting": _rows((1, 300, 8), (300, 400, 9), (400, 800, 10)),
    "brazing": _rows((0, 0, 3)),
    "soldering": _rows((0, 0, 2)),
    "carbon_arc": _rows((0, 0, 14)),
    "gas_welding_plate": _rows((0.1, 3.2, 4), (3.2, 12.7, 5), (_above(12.7), 1000, 6)),
    "oxygen_cutting_plate": _rows((0.1, 25, 3), (25, 150, 4), (_above(150), 1000, 5)),
}

_ANSI = {
    "mma": _rows((1, 60, 7), (60, 160, 8, 10), (160, 250, 10, 12), (250, 550, 11, 14)),
    "mig": _GMAW_ANSI,
    "mig_light": _GMAW_ANSI,
    "mag": _GMAW_ANSI,
    "flux_cored": _GMAW_ANSI,
    "tig": _rows((1, 50, 8, 10), (50, 150, 8, 12), (150, 500, 10, 14)),
    "gouging": _rows((1, 500, 10, 12), (500, 1000, 11, 14)),
    "plasma_welding": _rows(
        (1, 20, 6, 8), (20, 100, 8, 10), (100, 400, 10, 12), (400, 800, 11, 14)
    ),
    # Reprints give 40 to 60 A as shade 6 or 8: the darker one is kept.
    "plasma_cutting": _rows(
        (1, 20, 4, 4),
        (20, 40, 5, 5),
        (40, 60, 8, 8),
        (60, 80, 8, 8),
        (80, 300, 8, 9),
        (300, 400, 9, 12),
        (400, 800, 10, 14),
    ),
    "brazing": _rows((0, 0, 3, 4)),
    "soldering": _rows((0, 0, 2, 2)),
    "carbon_arc": _rows((0, 0, 14, 14)),
    "gas_welding_plate": _rows((0.1, 3.2, 4, 5), (3.2, 12.7, 5, 6), (_above(12.7), 1000, 6, 8)),
    "oxygen_cutting_plate": _rows((0.1, 25, 3, 4), (25, 150, 4, 5), (_above(150), 1000, 5, 6)),
}


def _up_to(*cells: tuple[float, float]) -> tuple[Row, ...]:
    """Rows whose upper end belongs to them, and each next one begins above it."""
    starts = (1.0, *(_above(high) for high, _ in cells))
    return tuple(Row(low, high, number) for low, (high, number) in zip(starts, cells, strict=False))


_AS_NZS = {
    "mma": _up_to((100, 8), (200, 10), (300, 11), (400, 12), (600, 13)),
    "mig": _up_to((150, 10), (250, 11), (300, 12), (400, 13), (600, 14)),
    "mig_light": _up_to((250, 12), (350, 13)),
    "mag": _up_to((150, 10), (250, 11), (300, 12), (400, 13), (600, 14)),
    "flux_cored": _up_to((300, 11), (400, 12), (500, 13), (600, 14)),
    "tig": _up_to((100, 10), (200, 11), (250, 12), (350, 13), (500, 14)),
    "gouging": _up_to((400, 12)),
    "plasma_cutting": _rows((50, 100, 10), (_above(100), 400, 12), (_above(400), 800, 14)),
    "plasma_welding": _up_to((20, 8), (100, 10), (400, 12), (800, 14)),
    "plasma_spraying": _rows((0, 0, 15)),
}

TABLES = {"en_169": _EN_169, "osha": _OSHA, "ansi": _ANSI, "as_nzs": _AS_NZS}

SOURCES = {
    "en_169": Source(
        title="EN 169",
        place="recommended use, as printed in three welder manuals; flows of gas by memory",
    ),
    "osha": Source(title="29 CFR 1910.133", place="paragraph (a)(5), filter lenses"),
    "ansi": Source(title="ANSI Z49.1", edition="2012", place="guide for shade numbers"),
    "as_nzs": Source(
        title="AS/NZS 1338.1", place="recommended protective filters, as in a welder manual"
    ),
}


def darkest(rows: tuple[Row, ...], value: Amount) -> tuple[Amount, Amount, Amount]:
    """Return shade, comfort shade (nan: none) and whether the row is confirmed.

    The shade is nan where no row holds the value.
    """
    found: Amount = np.nan
    comfort: Amount = np.nan
    confirmed: Amount = True
    for row in rows:
        inside = (value >= row.low) & (value <= row.high)
        darker = inside & ~(np.asarray(found) > row.shade)
        found = np.where(darker, row.shade, found)
        comfort = np.where(darker, np.nan if row.suggested is None else row.suggested, comfort)
        confirmed = np.where(darker, row.confirmed, confirmed)
    return found, comfort, confirmed
