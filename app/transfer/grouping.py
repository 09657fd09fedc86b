"""Which lines of a list speak of one person, and what they say together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from app.transfer.asked import Asked
from app.transfer.known import folded


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """The lines that speak of one person by key, card or e-mail."""

    lines: tuple[Asked, ...]
    problems: tuple[str, ...]  # what the lines contradict each other in

    @property
    def numbers(self) -> tuple[int, ...]:
        return tuple(line.number for line in self.lines)

    @property
    def name(self) -> str:
        return self.lines[0].name

    def said(self, what: str) -> tuple[str, ...]:
        """Return the different values that the lines give, in their order."""
        if len(self.lines) == 1:
            value = getattr(self.lines[0], what)
            return () if value is None else (value,)
        return _distinct(getattr(line, what) for line in self.lines)

    def one(self, what: str) -> str | None:
        return next(iter(self.said(what)), None)

    @property
    def adult_on(self) -> date | None:
        return next((line.adult_on for line in self.lines if line.adult_on), None)

    @property
    def starts_on(self) -> date | None:
        """The earliest first day of all."""
        return min((line.starts_on for line in self.lines if line.starts_on), default=None)

    @property
    def ends_on(self) -> date | None:
        """The latest last day; none where one line sets none."""
        ends = [line.ends_on for line in self.lines]
        return max(day for day in ends if day) if all(ends) else None


def grouped(lines: Sequence[Asked]) -> list[Group]:
    """Gather lines that share a key, a card or an e-mail. In the order of their first lines."""
    first: dict[tuple[str, str], int] = {}
    of = list(range(len(lines)))

    def root(at: int) -> int:
        while of[at] != at:
            of[at] = of[of[at]]
            at = of[at]
        return at

    for at, line in enumerate(lines):
        for kind in ("key", "card", "email"):
            value = getattr(line, kind)
            if value is not None:
                before = root(first.setdefault((kind, value), at))
                mine = root(at)
                of[max(before, mine)] = min(before, mine)
    together: dict[int, list[Asked]] = {}
    for at, line in enumerate(lines):
        together.setdefault(root(at), []).append(line)
    return [Group(lines=tuple(some), problems=_disagreements(some)) for some in together.values()]


def _disagreements(lines: Sequence[Asked]) -> tuple[str, ...]:
    if len(lines) == 1:
        return ()
    found = []
    if len({folded(line.name) for line in lines}) > 1:
        found.append(_apart("names", [(line.name, line.number) for line in lines]))
    for what, words in (("email", "e-mails"), ("card", "cards"), ("adult_on", "birthdays")):
        if len(_distinct(getattr(line, what) for line in lines)) > 1:
            found.append(_apart(words, [(str(getattr(ln, what)), ln.number) for ln in lines]))
    return tuple(found)


def _apart(what: str, said: list[tuple[str, int]]) -> str:
    # The birthdays themselves are nobody's business on a page.
    some = [
        f"“{value}” in line {number}" if what != "birthdays" else f"line {number}"
        for value, number in said
        if value != "None"
    ]
    return f"these lines speak of one person, and their {what} differ: {', '.join(some[:4])}"


def _distinct(values: Iterable[str | None]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(value for value in values if value is not None))
