"""A finding as a page shows it: only here are its numbers rounded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assessments.calculate import plot_of
from assessments.finding import Band, Finding, Limit, Quantity
from assessments.limits import whose
from assessments.plots import Plot

# How a band is said on a page. None of these says that something is harmless.
BANDS = {
    Band.BELOW_ACTION: "Below action",
    Band.ACTION: "Action needed",
    Band.OVER_LIMIT: "Over the limit",
    Band.NO_LIMIT: "No limit on record",
    Band.NOT_JUDGED: "Not judged",
}
_UNITS = {"degC": "°C", "degF": "°F", "um": "µm", "uJ": "µJ", "ug": "µg", "*": "·"}
_UNITS |= {"m2": "m²", "m3": "m³"}
NARROW = "\N{NARROW NO-BREAK SPACE}"  # between thousands
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


@dataclass(frozen=True, kw_only=True)
class Line:
    """One output."""

    meaning: str
    value: str
    spread: str
    judged: bool


@dataclass(frozen=True, kw_only=True)
class Against:
    """The limit, and where the result stands on a scale that ends at twice the limit."""

    limit: str
    action: str
    source: str
    times: str
    within: float  # of the scale up to the limit, 0 to 1
    beyond: float  # of the scale from there to twice the limit, 0 to 1
    off_scale: bool


@dataclass(frozen=True, kw_only=True)
class Shown:
    finding: Finding
    band: str
    lines: tuple[Line, ...]
    against: Against | None
    plot: Plot | None


def shown(finding: Finding, described: Mapping[str, Any]) -> Shown:
    """Return what a page shows of a finding."""
    return Shown(
        finding=finding,
        band=BANDS[finding.band],
        lines=tuple(
            _line(each, finding.outputs[each["name"]], finding, described["judged"])
            for each in described["outputs"]
            if each["name"] in finding.outputs
        ),
        against=_against(finding.limit, finding.ratio) if finding.limit else None,
        plot=plot_of(finding),
    )


def _line(
    output: Mapping[str, Any], quantity: Quantity, finding: Finding, judged: str | None
) -> Line:
    spread = finding.uncertainty.get("outputs", {}).get(output["name"], {})
    between = ""
    if "p05" in spread:
        between = f"5th percentile {number(spread['p05'])}, 95th {number(spread['p95'])}"
    return Line(
        meaning=output["meaning"] or output["name"].replace("_", " ").capitalize(),
        value=f"{number(quantity.value)} {unit(quantity.unit)}".rstrip(),
        spread=between,
        judged=output["name"] == judged,
    )


def _against(limit: Limit, ratio: float | None) -> Against:
    energy = " in energy" if limit.unit.startswith("dB") else ""
    actions = [a for a in (limit.action, limit.upper_action) if a is not None]
    share = ratio or 0.0
    return Against(
        limit=f"{limit.name}: {number(limit.value)} {unit(limit.unit)}".rstrip(),
        action=" and ".join(f"{number(a)} {unit(limit.unit)}".rstrip() for a in actions),
        source=f"{limit.source}{f', {whose(limit.regime)}' if limit.regime else ''}",
        times="" if ratio is None else f"{ratio:.3g} times the limit{energy}",
        within=min(share, 1.0),
        beyond=min(max(share - 1.0, 0.0), 1.0),
        off_scale=share > 2,
    )


def number(value: Any) -> str:
    """Write a value with four figures, and a list of them with commas.

    >>> number(13.9333), number(0.0000123), number([1.0, None])
    ('13.93', '1.23 × 10⁻⁵', '1, none')
    """
    if value is None:
        return "none"
    if isinstance(value, list | tuple):
        return ", ".join(number(each) for each in value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    if value and not 1e-4 <= abs(value) < 1e9:
        digits, power = f"{value:.3e}".split("e")
        return f"{float(digits):g} × 10{str(int(power)).translate(_RAISED)}"
    return f"{value:,.0f}".replace(",", NARROW) if abs(value) >= 10_000 else f"{value:.4g}"


def unit(text: str) -> str:
    """Write a unit as it is printed; a plain ratio has none.

    >>> unit("W/m2/nm"), unit("degC"), unit("1")
    ('W/m²/nm', '°C', '')
    """
    if text == "1":
        return ""
    for written, printed in _UNITS.items():
        text = text.replace(written, printed)
    return text
