"""Words and figures of the print: how a date, a number, a band or a mark is shown."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from numbers import Real
from typing import Any

from assessments.document.content import Conditions, ControlLine, HazardLine, RiskAssessment
from assessments.document.names import label
from assessments.finding import Band, Finding, Limit, Quantity
from assessments.rating import Rating, Scale, Step

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

_POWERS = {"2": "²", "3": "³"}

SIGNIFICANT = 4  # digits shown; the frozen content keeps every digit

_BANDS = {
    Band.BELOW_ACTION: "Below the limit and any action value",
    Band.ACTION: "Action value reached",
    Band.OVER_LIMIT: "Over the limit",
    Band.NO_LIMIT: "No limit on record",
    Band.NOT_JUDGED: "Not judged",
}


def day(value: date) -> str:
    """Return a date that no country reads in another order.

    >>> day(date(2026, 11, 5))
    '5 November 2026'
    """
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


def weekday(value: date) -> str:
    """Return the name of the day of the week.

    >>> weekday(date(2026, 11, 5))
    'Thursday'
    """
    return _WEEKDAYS[value.weekday()]


def unbroken(value: date) -> str:
    """Return a date that no line break can part."""
    return day(value).replace(" ", "\N{NO-BREAK SPACE}")


def cell(value: str | int | date | None) -> str:
    """Return a cell of a table as it is printed; nothing is empty."""
    if value is None:
        return ""
    if isinstance(value, date):
        return f"{value.day} {_MONTHS[value.month - 1][:3]} {value.year}".replace(
            " ", "\N{NO-BREAK SPACE}"
        )
    return str(value)


def moment(value: datetime) -> str:
    """Return a date and time with its zone; a time without a zone is shown without one."""
    zone = value.tzname() or ""
    return f"{day(value)}, {value:%H:%M} {zone}".rstrip()


def number(value: float, significant: int = SIGNIFICANT) -> str:
    """Return a number to its first significant digits, without needless noughts.

    >>> number(2.181818), number(208.0), number(0.0000123), number(1234567.0)
    ('2.182', '208', '1.23 × 10^−5', '1235000')
    """
    if value == 0:
        return "0"
    if not 1e-4 <= abs(value) < 1e7:
        mantissa, power = f"{value:.{significant - 1}e}".split("e")
        return f"{_plain(mantissa)} × 10^{_plain(str(int(power)))}"
    digits = significant - 1 - int(f"{value:e}".split("e")[1])
    return _plain(f"{round(value, digits):.{max(digits, 0)}f}")


def _plain(digits: str) -> str:
    """Drop noughts after the point, and write the true minus sign."""
    kept = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return kept.replace("-", "−")


def sentence(words: str) -> str:
    """Return words with a capital at the front and every other letter as it was written."""
    return words[:1].upper() + words[1:]


def ended(words: str) -> str:
    """Return words with a full stop, unless they already end in a mark of their own.

    >>> ended("out of use"), ended("out of use."), ended("ask first!")
    ('out of use.', 'out of use.', 'ask first!')
    """
    words = words.rstrip()
    return words if words.endswith((".", "!", "?", "…")) else f"{words}."


def value_words(value: Any) -> str:
    """Return any value of a finding on one line: a row of rows where the standard wants rows."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value).replace("-", "−")
    if isinstance(value, Real):
        return number(float(value))
    if isinstance(value, Mapping):
        return ", ".join(f"{label(key)} {value_words(item)}" for key, item in value.items())
    if isinstance(value, (list, tuple)):
        return "; ".join(value_words(item) for item in value)
    return "not given" if value is None else str(value)


def spread_words(uncertainty: Mapping[str, Any]) -> str:
    """Return how far the outputs of a finding spread; the chances stand in its working.

    >>> spread_words({"outputs": {"near": {"median": 2, "p05": 1.25, "p95": 3}}})
    'from the 5th to the 95th percentile: near 1.25 to 3'
    """
    outputs = uncertainty.get("outputs")
    if not isinstance(outputs, Mapping):
        return value_words(uncertainty)
    ranges = "; ".join(f"{label(key)} {_range_words(each)}" for key, each in outputs.items())
    return f"from the 5th to the 95th percentile: {ranges}"


def _range_words(spread: Mapping[str, Any]) -> str:
    if "shares" in spread:
        return " or ".join(
            f"{word} ({number(100 * share, 3)} %)" for word, share in spread["shares"].items()
        )
    low, high = spread["p05"], spread["p95"]
    if not isinstance(low, (list, tuple)):
        return f"{value_words(low)} to {value_words(high)}"
    pairs = zip(low, high, strict=True)
    return ", ".join(f"{value_words(a)} to {value_words(b)}" for a, b in pairs)


def unit_words(unit: str) -> str:
    """Return a unit as it is printed, from the plain letters in which it is computed.

    >>> [unit_words(unit) for unit in ("1", "degC", "W/m2", "um", "1/min")]
    ['', '°C', 'W/m²', 'µm', 'per min']
    """
    if unit == "1":
        return ""
    unit = re.sub(r"^1/", "per ", unit)
    unit = re.sub(r"\bdeg(?=C?\b)", "°", unit)
    unit = re.sub(r"\bu(?=[mgJWTVA]\b)", "µ", unit)
    return re.sub(r"(?<=[a-z])[23]\b", lambda power: _POWERS[power[0]], unit)


def quantity(value: Quantity) -> str:
    """Return a value with its unit; each figure of a row with the unit of its column."""
    columns = value.unit.split(", ")
    if len(columns) > 1 and isinstance(value.value, (list, tuple)):
        return "; ".join(_row(row, columns) for row in value.value)
    return f"{value_words(value.value)} {unit_words(value.unit)}".rstrip()


def _row(row: Any, columns: list[str]) -> str:
    figures = list(row.values()) if isinstance(row, Mapping) else row
    if not isinstance(figures, (list, tuple)) or len(figures) != len(columns):
        return f"{value_words(row)} ({', '.join(map(unit_words, columns))})"
    cells = (quantity(Quantity(value=v, unit=u)) for v, u in zip(figures, columns, strict=True))
    return ", ".join(cells)


def results(finding: Finding) -> str:
    """Return every output of a finding by its name, and the ratio to its limit."""
    found = [f"{label(key)} {quantity(each)}" for key, each in finding.outputs.items()]
    if finding.limit is not None and finding.ratio is not None:
        found.append(f"{number(finding.ratio, 3)} of the limit")
    return "; ".join(found)


def level(limit: Limit, value: float) -> str:
    """Return a value of a limit, such as its action value, in the unit of the limit."""
    return quantity(Quantity(value=value, unit=limit.unit))


def band(value: Band) -> str:
    """Return the words of a band."""
    return _BANDS[value]


def in_order(controls: Iterable[ControlLine]) -> list[ControlLine]:
    """Return controls in the order of the hierarchy; equals keep the order they were given."""
    return sorted(controls, key=lambda control: control.level)


def conditions_words(content: RiskAssessment) -> list[str]:
    """Return the conditions of use, one sentence each; nothing where none were set."""
    set_here = content.conditions
    if set_here is None:
        return []
    sentences = [
        _lone(set_here),
        "Cleared people may use it in hours without a technician."
        if set_here.unstaffed
        else "Only while the area is staffed.",
    ]
    if set_here.first_aider:
        sentences.append("Only while a first aider is present.")
    if set_here.supervised_under is not None:
        sentences.append(
            f"Under the age of {set_here.supervised_under} only with a supervisor in sight."
        )
    if set_here.disuse_months is not None:
        sentences.append(f"After {set_here.disuse_months} months without use, supervised again.")
    sentences.extend(f"Issued or fitted to the person first: {e}." for e in set_here.equipment)
    return sentences


def _lone(conditions: Conditions) -> str:
    others = conditions.companions
    if not others:
        return f"Alone: {conditions.lone}."
    return (
        f"Alone: {conditions.lone}; at least {others} other "
        f"{'person is' if others == 1 else 'people are'} present meanwhile."
    )


def shared_cautions(content: RiskAssessment) -> list[str]:
    """Return the cautions that each of two or more findings carries: said once for all."""
    findings = [finding for hazard in content.hazards for finding in hazard.findings]
    if len(findings) < 2:
        return []
    first, *others = findings
    return [words for words in first.cautions if all(words in f.cautions for f in others)]


def signs_shown(content: RiskAssessment) -> list[str]:
    """Return the numbers of all signs once: what to wear and do first, then the warnings."""
    warnings = (hazard.sign for hazard in content.hazards if hazard.sign)
    return list(dict.fromkeys((*content.signs, *warnings)))


@dataclass(frozen=True)
class Judged:
    """A rating in words: its score, its step, and how high that step stands among all."""

    rating: Rating
    score: int
    step: Step
    rank: int  # from 1
    ranks: int


def judged(scale: Scale, rating: Rating) -> Judged:
    """Return a rating with its score and step on the scale."""
    step = scale.step(rating)
    ladder = ladder_of(scale)
    return Judged(rating, scale.score(rating), step, ladder.index(step) + 1, len(ladder))


def ladder_of(scale: Scale) -> list[Step]:
    """Return the steps of a scale, lowest first."""
    return sorted(scale.steps, key=lambda step: step.low)


def step_scores(scale: Scale, step: Step) -> str:
    """Return the scores of a step, such as ``5 to 9``."""
    above = [other.low for other in scale.steps if other.low > step.low]
    top = min(above) - 1 if above else len(scale.severity) * len(scale.likelihood)
    return str(step.low) if top == step.low else f"{step.low} to {top}"


@dataclass(frozen=True)
class Cell:
    """One square of the matrix, with the numbers of the hazards that stand on it."""

    judged: Judged
    before: tuple[int, ...]
    after: tuple[int, ...]


def matrix(scale: Scale, hazards: tuple[HazardLine, ...]) -> list[list[Cell]]:
    """Return the squares of the scale, most likely row first, least severe column first."""
    return [
        [_cell(scale, hazards, Rating(severity=s, likelihood=k)) for s in _count(scale.severity)]
        for k in reversed(_count(scale.likelihood))
    ]


def _count(names: tuple[str, ...]) -> range:
    return range(1, len(names) + 1)


def _cell(scale: Scale, hazards: tuple[HazardLine, ...], rating: Rating) -> Cell:
    numbered = list(enumerate(hazards, start=1))
    return Cell(
        judged(scale, rating),
        tuple(n for n, hazard in numbered if hazard.before == rating),
        tuple(n for n, hazard in numbered if hazard.after == rating),
    )


@dataclass(frozen=True)
class Gauge:
    """A bar of a result against its limit, in millimetres from the left."""

    width: float
    filled: float
    limit: float
    action: float | None
    over: bool  # the result runs out of the bar


GAUGE_MM = 60.0
_GAUGE_TOP = 1.5  # the bar ends at one and a half limits


def gauge(finding: Finding) -> Gauge | None:
    """Return the bar of a finding, or None where there is no limit or no ratio.

    The action value is marked only where the ratio is the plain quotient of the limit's
    own unit, which a logarithmic unit such as the decibel is not.
    """
    if finding.limit is None or finding.ratio is None:
        return None
    limit = GAUGE_MM / _GAUGE_TOP
    action = finding.limit.action
    linear = action is not None and "dB" not in finding.limit.unit and finding.limit.value > 0
    return Gauge(
        width=GAUGE_MM,
        filled=min(max(finding.ratio, 0.0) * limit, GAUGE_MM),
        limit=limit,
        action=action / finding.limit.value * limit if linear and action is not None else None,
        over=finding.ratio > _GAUGE_TOP,
    )
