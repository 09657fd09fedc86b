"""The order in which inductions are taken: each after everything that it builds on. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from app.inductions.catalogue import Catalogue, Entry


def in_order(taught: Catalogue) -> list[Entry]:
    """Return all inductions, each once and after what stands before it, else by title.

    A circle cannot be published; should one be on record all the same, it ends by itself.
    """
    found: dict[int, Entry] = {}
    seen: set[int] = set()

    def add(entry: Entry) -> None:
        if entry.id in seen:
            return
        seen.add(entry.id)
        for first in _by_title(taught, entry.publications[-1].requires):
            add(first)
        found[entry.id] = entry

    for entry in _by_title(taught, taught):
        add(entry)
    return list(found.values())


def open_steps(taught: Catalogue, induction_id: int, holds: Callable[[int], bool]) -> list[Entry]:
    """Return what somebody still lacks before an induction, in the order to take it.

    Empty: it is open to them. ``holds`` says whether they are current in an induction.
    """
    wanted: set[int] = set()
    queue = [induction_id]
    for each in queue:
        for first in taught[each].publications[-1].requires:
            if first in taught and first not in wanted:
                wanted.add(first)
                queue.append(first)
    return [
        entry
        for entry in in_order(taught)
        if entry.id in wanted and entry.id != induction_id and not holds(entry.id)
    ]


def _by_title(taught: Catalogue, ids: Iterable[int]) -> list[Entry]:
    known = [taught[i] for i in ids if i in taught]
    return sorted(known, key=lambda entry: (entry.title.casefold(), entry.id))
