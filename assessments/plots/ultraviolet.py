"""How much each wavelength of the ultraviolet counts, and where a lamp emits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from assessments.drawing import DOTTED, INK, SHADE, Axis, Drawing
from assessments.finding import Finding
from assessments.light import actinic
from assessments.plots import Plot, Run
from assessments.written import quantity, rounded

_MOST_ROWS = 12

Spectrum = Sequence[tuple[float, float]]


def spectrum(run: Run, values: Mapping[str, Any], finding: Finding) -> Plot:
    """Draw the weighting curve above the spectrum; of the spectrum what counts is black."""
    rows = [(float(nm), float(e)) for nm, e in values["spectrum"]]
    inside = _clipped(rows)
    strongest = max(inside, key=lambda row: row[1] * _weight(row[0]))
    x = Axis(180, 400, 44, 292)
    drawing = Drawing(292)
    _curve(drawing, x, Axis(1e-5, 1, 130, 26, log=True), strongest[0])
    _lamp(drawing, x, Axis(0, 1.15 * max(e for _, e in inside), 256, 172), inside)
    effective = finding.outputs["effective_irradiance"].value
    title = "Weighting curve and spectrum of the lamp"
    desc = (
        f"{rounded(strongest[0])} nm counts most, with a weight of "
        f"{rounded(_weight(strongest[0]))}. Weighted, the spectrum gives "
        f"{quantity(effective, 'W/m2')}."
    )
    return Plot(
        title=title,
        desc=desc,
        svg=drawing.svg(title, desc),
        columns=("Wavelength, nm", "Irradiance, W/m²/nm", "Weight S", "Weighted, W/m²/nm"),
        rows=tuple(
            (rounded(nm), rounded(e), rounded(_weight(nm)), rounded(e * _weight(nm)))
            for nm, e in _told(rows)
        ),
    )


def _weight(wavelength: float) -> float:
    return float(actinic.weight(wavelength))


def _clipped(rows: Spectrum) -> list[tuple[float, float]]:
    """Return the spectrum from 180 to 400 nm at every nanometre and at each of its own rows."""
    first, last = rows[0][0], rows[-1][0]
    own = [nm for nm, _ in rows]
    every = sorted({*own, *(float(nm) for nm in actinic.WAVELENGTHS)})
    low, high = actinic.ACTINIC
    kept = [nm for nm in every if max(first, low) <= nm <= min(last, high)]
    return [(nm, float(np.interp(nm, own, [e for _, e in rows]))) for nm in kept]


def _told(rows: Spectrum) -> Spectrum:
    """Return the rows for the table; of many those that count most."""
    inside = [row for row in rows if actinic.ACTINIC[0] <= row[0] <= actinic.ACTINIC[1]]
    most = sorted(inside, key=lambda row: -row[1] * _weight(row[0]))[:_MOST_ROWS]
    return [row for row in inside if row in most]


def _curve(drawing: Drawing, x: Axis, y: Axis, strongest: float) -> None:
    drawing.up(x, y, "weight S(λ)", most=6)
    drawing.line((x.start, y.start), (x.end, y.start))
    curve = [
        (x.at(float(nm)), y.at(float(weight)))
        for nm, weight in zip(actinic.WAVELENGTHS, actinic.WEIGHTS, strict=True)
    ]
    drawing.path(curve)
    at = (x.at(strongest), y.at(_weight(strongest)))
    drawing.line((at[0], y.start), at, width=1.2)
    drawing.dot(at)
    drawing.label(
        f"{rounded(strongest)} nm counts most",
        [(at[0] + 8, y.start - 8, "start"), (at[0] - 8, y.start - 8, "end")],
        avoid=curve,
        bold=True,
    )


def _lamp(drawing: Drawing, x: Axis, y: Axis, inside: Spectrum) -> None:
    drawing.up(x, y, "lamp, W/m²/nm; black: what counts", most=3)
    ends = [(x.at(inside[-1][0]), y.start), (x.at(inside[0][0]), y.start)]
    drawing.area([*((x.at(nm), y.at(e)) for nm, e in inside), *ends], fill=SHADE)
    drawing.area([*((x.at(nm), y.at(e * _weight(nm))) for nm, e in inside), *ends], fill=INK)
    drawing.path(((x.at(nm), y.at(e)) for nm, e in inside), width=1)
    low, high = (x.at(nm) for nm in actinic.UVA)
    drawing.line((low, y.start), (low, y.end), width=1, dash=DOTTED)
    drawing.label("UV-A", [(high, y.end + 10, "end"), (low + 4, y.end + 10, "start")])
    drawing.across(x, y, "wavelength, nm")
