"""What goes, of the rows whose time is over: none on which something rests that stays. Pure.

A row is named by its table and number. Rows that go are put into units that go at once: a part with
its whole, an ending with what it ends, and everything of one kind about one person, so that a run
that is cut off never leaves half a story, or one that had ended as one that stands.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

Row = tuple[str, int]  # table, number
ROWS_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Link:
    """One row names another. Together: neither goes without the other."""

    child: Row
    parent: Row
    together: bool = False


def going(over: Iterable[Row], links: Sequence[Link]) -> set[Row]:
    """Return the rows that go: those that are over, less those on which something rests.

    >>> going([("start", 1)], [Link(("use_watched", 7), ("start", 1))])
    set()
    """
    found = set(over)
    named_by, names, bound = defaultdict(list), defaultdict(list), defaultdict(list)
    for link in links:
        named_by[link.parent].append(link.child)
        names[link.child].append(link.parent)
        if link.together:
            bound[link.child].append(link.parent)
    doubtful = list(found)
    while doubtful:
        row = doubtful.pop()
        if row not in found:
            continue
        rests = any(child not in found for child in named_by[row])
        if rests or any(parent not in found for parent in bound[row]):
            found.discard(row)
            # What it names stays as well; what goes with it alone is looked at again.
            doubtful += [*names[row], *named_by[row]]
    return found


def units(found: set[Row], links: Iterable[Link], whose: Mapping[Row, str]) -> list[list[Row]]:
    """Put rows that go at once together, each unit and all of them in a fixed order."""
    head: dict[Row | str, Row | str] = {}

    def top(one: Row | str) -> Row | str:
        while head.setdefault(one, one) != one:
            head[one] = head[head[one]]
            one = head[one]
        return one

    for link in links:
        if link.child in found and link.parent in found:
            head[top(link.child)] = top(link.parent)
    for row in found:
        if row in whose:
            head[top(row)] = top(whose[row])
    together: dict[Row | str, list[Row]] = defaultdict(list)
    for row in sorted(found):
        together[top(row)].append(row)
    return sorted(together.values())


def slices(units: Iterable[list[Row]], most: int = ROWS_AT_ONCE) -> Iterator[list[Row]]:
    """Give what goes in one transaction each: whole units, so many rows or one large unit."""
    some: list[Row] = []
    for unit in units:
        if some and len(some) + len(unit) > most:
            yield some
            some = []
        some = [*some, *unit]
    if some:
        yield some


def digest(rows: Iterable[Row]) -> str:
    """Return the SHA-256 of what goes: of the same rows, whatever their order."""
    return hashlib.sha256(json.dumps(sorted(rows)).encode()).hexdigest()
