"""How a list is to be read, as a person chose it; kept as JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any

from app.transfer.columns import Field
from app.transfer.sheet import Row


class Order(StrEnum):
    """How a day such as 3/4/2026 is read."""

    NOT_SAID = "not said"
    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What to read where, and what follows from it."""

    sheet: str | None = None
    headings: int = 0  # which of the rows that hold anything
    columns: Mapping[Field, int] = field(default_factory=dict)
    source: str = ""  # the registry: its keys are its own
    order: Order = Order.NOT_SAID
    turn_names: bool = False  # “Family, Given”
    cohort: str = ""  # of whoever has none in the list
    starts_on: date | None = None  # of whoever has none in the list
    ends_on: date | None = None
    leave_on: date | None = None  # set: the list is whole, and whoever is missing ends with it
    many_may_leave: bool = False
    # By the number of the line: the person it was decided to be, or 0 for somebody new.
    decided: Mapping[int, int] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        days = ("starts_on", "ends_on", "leave_on")
        return {
            **{name: getattr(self, name) for name in ("sheet", "headings", "source", "cohort")},
            "columns": {each.value: column for each, column in sorted(self.columns.items())},
            "order": self.order.value,
            "turn_names": self.turn_names,
            "many_may_leave": self.many_may_leave,
            **{name: _iso(getattr(self, name)) for name in days},
            "decided": {str(line): person for line, person in sorted(self.decided.items())},
        }


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def choices_from(kept: Mapping[str, Any]) -> Choices:
    """Return what was kept by `Choices.as_json`."""

    def day(name: str) -> date | None:
        return date.fromisoformat(kept[name]) if kept.get(name) else None

    return Choices(
        sheet=kept.get("sheet"),
        headings=kept.get("headings", 0),
        columns={Field(name): column for name, column in kept.get("columns", {}).items()},
        source=kept.get("source", ""),
        order=Order(kept.get("order", Order.NOT_SAID)),
        turn_names=kept.get("turn_names", False),
        cohort=kept.get("cohort", ""),
        starts_on=day("starts_on"),
        ends_on=day("ends_on"),
        leave_on=day("leave_on"),
        many_may_leave=kept.get("many_may_leave", False),
        decided={int(line): person for line, person in kept.get("decided", {}).items()},
    )


def turned_round(rows: Sequence[Row], column: int) -> bool:
    """Say whether most names are written “Family, Given”."""
    names = [cells[column] for _number, cells in rows if column < len(cells) and cells[column]]
    return bool(names) and Counter(name.count(",") for name in names)[1] * 2 > len(names)
