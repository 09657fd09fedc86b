"""What a line of a list says of one person, read strictly: what is doubtful is a problem."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from app.errors import Refused
from app.people.register import LONGEST_NAME, adult_day
from app.transfer import cells
from app.transfer.choices import Choices
from app.transfer.columns import Field
from app.transfer.sheet import Row

Value = TypeVar("Value")


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """One line: what it says, and what is wrong with it."""

    number: int
    name: str
    email: str | None = None
    card: str | None = None
    key: str | None = None
    cohort: str | None = None
    starts_on: date | None = None
    ends_on: date | None = None
    adult_on: date | None = None
    problems: tuple[str, ...] = ()

    @property
    def unreadable(self) -> bool:
        """Nothing in it says whom it is about."""
        return not (self.name or self.email or self.card or self.key)


def read_line(row: Row, choices: Choices, today: date) -> Asked:
    """Read one line by the columns that were chosen."""
    line = _Line(row, choices, today)
    name, adult_on = line.name(), line.adult_on()
    starts_on = line.told(Field.STARTS, line.day) or choices.starts_on
    ends_on = line.told(Field.ENDS, line.day) or choices.ends_on
    if starts_on and ends_on and ends_on < starts_on:
        line.problems.append("the last day comes before the first")
    return Asked(
        number=row[0],
        name=name,
        email=line.told(Field.EMAIL, cells.email),
        card=line.told(Field.CARD, cells.card),
        key=line.told(Field.KEY, cells.key),
        cohort=line.told(Field.COHORT, cells.cohort) or choices.cohort or None,
        starts_on=starts_on,
        ends_on=ends_on,
        adult_on=adult_on,
        problems=tuple(line.problems),
    )


class _Line:
    """The cells of a line, found by what was chosen, and what was wrong with them."""

    def __init__(self, row: Row, choices: Choices, today: date) -> None:
        self._cells, self._choices, self._today = row[1], choices, today
        self.problems: list[str] = []

    def cell(self, field: Field) -> str:
        column = self._choices.columns.get(field)
        return self._cells[column] if column is not None and column < len(self._cells) else ""

    def told(self, field: Field, read: Callable[[str], Value]) -> Value | None:
        """Return what a cell says, or None where it is empty or wrong."""
        words = self.cell(field)
        if not words:
            return None
        try:
            if words.startswith("#") and words.rstrip("!?").upper() in cells.ERRORS:
                raise cells.Wrong("an error of the spreadsheet stands in its place")
            return read(words)
        except cells.Wrong as wrong:
            short = words if len(words) <= 60 else words[:59] + "…"
            self.problems.append(f"{field.value} “{short}”: {wrong}")
            return None

    def name(self) -> str:
        if Field.NAME in self._choices.columns:
            turn = self._choices.turn_names
            found = self.told(Field.NAME, lambda w: cells.readable(cells.turned(w) if turn else w))
        else:
            both = (self.told(field, cells.readable) for field in (Field.GIVEN, Field.FAMILY))
            found = " ".join(filter(None, both))
        if not found and not self.problems:
            self.problems.append("there is no name")
        return (found or "")[:LONGEST_NAME]

    def day(self, words: str) -> date:
        return cells.read_day(words, self._choices.order)

    def adult_on(self) -> date | None:
        """Return the day they turn 18, or today where the list says that they had."""
        turns = self.told(Field.BORN, self._eighteenth)
        of_age = self.told(Field.OF_AGE, cells.yes_or_no)
        return turns or (self._today if of_age else None)

    def _eighteenth(self, words: str) -> date:
        try:
            return adult_day(self.day(words), self._today)
        except Refused as refusal:
            raise cells.Wrong(refusal.sentence) from None
