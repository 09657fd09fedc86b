"""Readings of a check: what was typed as a number, and whether that number passes. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from app.errors import BadInput

# Nobody reads more figures than these from a gauge.
_NUMBER = re.compile(r"[-−+]?[0-9]{1,12}(?:[.,][0-9]{1,9})?|[-−+]?[.,][0-9]{1,9}")


def number(words: str, *, unit: str = "") -> Decimal:
    """Return the number that somebody typed, with a comma or a point, perhaps with its unit.

    A separator is the decimal sign wherever it stands: a thousand is typed without one.

    >>> number(" 0,52 m/s ", unit="m/s")
    Decimal('0.52')
    """
    bare = words.strip()
    if unit and bare.endswith(unit):
        bare = bare[: -len(unit)].rstrip()
    if not _NUMBER.fullmatch(bare):
        wanted = f" in {unit}" if unit else ""
        raise BadInput(
            f"“{words.strip()[:40]}” is not a reading{wanted}. Type one plain number, such as 0.52 "
            "or 0,52.",
            status=422,
        )
    return Decimal(bare.replace(",", ".").replace("−", "-"))


def number_or_none(words: str, *, unit: str = "") -> Decimal | None:
    """Return the number in a reading of any age, or None where it was kept as mere words."""
    try:
        return number(words, unit=unit)
    except BadInput:
        return None


@dataclass(frozen=True, kw_only=True, slots=True)
class Range:
    """From where up to where a reading passes, ends included. None: no bound on that side."""

    unit: str
    low: Decimal | None = None
    high: Decimal | None = None

    @property
    def bounded(self) -> bool:
        """Say whether the number alone decides."""
        return self.low is not None or self.high is not None

    @property
    def words(self) -> str:
        """Return the range as people say it; empty where the number alone decides nothing."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return f"{self.low} to {self.high}{unit}"
        if self.low is not None:
            return f"at least {self.low}{unit}"
        return f"at most {self.high}{unit}" if self.high is not None else ""

    def wanting(self, value: Decimal) -> str:
        """Say by how much a reading lies outside; empty where it passes.

        >>> Range(unit="m/s", low=Decimal("0.50")).wanting(Decimal("0.42"))
        '0.42 m/s is 0.08 m/s under the least, 0.50 m/s'
        """
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and value < self.low:
            return f"{value}{unit} is {self.low - value}{unit} under the least, {self.low}{unit}"
        if self.high is not None and value > self.high:
            return f"{value}{unit} is {value - self.high}{unit} over the most, {self.high}{unit}"
        return ""


def range_of(*, measure: str, low: str, high: str) -> Range | None:
    """Return the range that a check's terms name, or None where nothing is measured.

    A unit alone asks for a reading and lets whoever reads it decide.
    """
    if not (measure or low or high):
        return None
    found = Range(
        unit=measure,
        low=number(low, unit=measure) if low else None,
        high=number(high, unit=measure) if high else None,
    )
    if found.low is not None and found.high is not None and found.low > found.high:
        raise BadInput(
            f"No reading can pass from {found.low} up to {found.high}: the least is over the most.",
            status=422,
        )
    return found
