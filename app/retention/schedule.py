"""The schedule: how long each kind of record is kept, by regime, with its source. Pure.

The data are in `schedule.toml`. A site may keep longer, with a history of its own; it may not keep
for less than the law of its regime asks. Where no regime is chosen, the longest of them holds.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any

from app.dates import add_months
from app.errors import Refused

_SPAN = re.compile(r"([1-9][0-9]{0,3}) (years|months|days)")
MOST_YEARS = 100


class Counted(StrEnum):
    """From which day the time is counted."""

    RECORDED = "recorded"
    LEFT = "left"
    CLOSED = "closed"
    REPLACED = "replaced"
    NEVER = "never"


class Then(StrEnum):
    """What is done when the time is over."""

    REMOVE = "remove"
    ERASE = "erase"
    KEEP = "keep"


@dataclass(frozen=True, kw_only=True)
class Span:
    """So many years, months or days."""

    count: int
    unit: str

    def after(self, day: date) -> date:
        """Return the first day on which a record of that day is kept no longer."""
        if self.unit == "days":
            return day + timedelta(days=self.count)
        return add_months(day, self.count * (12 if self.unit == "years" else 1))

    def before(self, day: date) -> date:
        """Return the last day whose records are kept no longer on that day.

        Months have different lengths: it is sought, so that it agrees with `after`.
        """
        if self.unit == "days":
            return day - timedelta(days=self.count)
        found = add_months(day, -self.count * (12 if self.unit == "years" else 1))
        while self.after(found) > day:
            found -= timedelta(days=1)
        while self.after(found + timedelta(days=1)) <= day:
            found += timedelta(days=1)
        return found

    @property
    def _days(self) -> float:
        return self.count * {"years": 365.2425, "months": 30.436875, "days": 1.0}[self.unit]

    def __ge__(self, other: Span) -> bool:
        return self._days >= other._days

    def __str__(self) -> str:
        return f"{self.count} {self.unit[:-1] if self.count == 1 else self.unit}"


def span(words: str) -> Span:
    """Read a span such as "6 years".

    >>> span("90 days").after(date(2026, 1, 1))
    datetime.date(2026, 4, 1)
    """
    found = _SPAN.fullmatch(words)
    if found is None:
        raise Refused(
            f"“{words[:30]}” is no length of time, such as 6 years, 18 months or 90 days.",
            code="span",
            status=422,
        )
    read = Span(count=int(found[1]), unit=found[2])
    if read._days > MOST_YEARS * 366:
        raise Refused(f"At most {MOST_YEARS} years.", code="span", status=422)
    return read


@dataclass(frozen=True, kw_only=True)
class Law:
    """The least that a law asks for."""

    span: Span
    source: str
    status: str


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One kind of record, as the schedule has it."""

    key: str
    title: str
    what: str
    counted: Counted
    then: Then
    span: Span | None  # None: kept without a term
    source: str
    status: str
    law: Mapping[str, Law]
    minors: Span | None  # counted from the day that a person turned 18, where that is later
    minors_source: str
    names: bool  # the law asks that the record names people: it goes before they are erased
    frozen: str  # why what is frozen keeps the names in it

    def least(self, regime: str | None) -> Law | None:
        """Return what the law asks for there; without a regime, the longest of all."""
        if regime is not None:
            return self.law.get(regime)
        return max(self.law.values(), key=lambda law: law.span._days, default=None)


@dataclass(frozen=True, kw_only=True)
class Term:
    """How long a kind of record is kept here, and why."""

    kind: Kind
    span: Span | None
    source: str
    status: str
    least: Law | None
    own: Span | None  # what the site set, even where the law asks for more


def term(kind: Kind, regime: str | None, own: Span | None) -> Term:
    """Return what holds: the site's own, else the default; never less than the law asks."""
    least = kind.least(regime)
    held = Term(
        kind=kind, span=kind.span, source=kind.source, status=kind.status, least=least, own=own
    )
    if kind.span is None:
        return held
    chosen = own or kind.span
    if least is not None and (not chosen >= least.span or (own is None and least.span >= chosen)):
        return _with(held, least.span, least.source, least.status)
    if own is not None:
        return _with(held, own, "Set by the site", "the site’s own")
    return held


def _with(held: Term, span: Span, source: str, status: str) -> Term:
    return Term(
        kind=held.kind, span=span, source=source, status=status, least=held.least, own=held.own
    )


@cache
def kinds() -> dict[str, Kind]:
    """Return every kind of record, in the order of the file."""
    tree = tomllib.loads(Path(__file__).with_name("schedule.toml").read_text(encoding="utf-8"))
    return {row["key"]: _kind(row) for row in tree["kind"]}


def _kind(row: Mapping[str, Any]) -> Kind:
    text = {name: value for name, value in row.items() if isinstance(value, str)}
    return Kind(
        key=text["key"],
        title=text["title"],
        what=text["what"],
        counted=Counted(text["counted"]),
        then=Then(text["then"]),
        span=span(text["span"]) if "span" in text else None,
        source=text["source"],
        status=text["status"],
        law={
            regime: Law(span=span(law["span"]), source=law["source"], status=law["status"])
            for regime, law in row.get("law", {}).items()
        },
        minors=span(text["minors"]) if "minors" in text else None,
        minors_source=text.get("minors_source", ""),
        names=bool(row.get("names", False)),
        frozen=text.get("frozen", ""),
    )
