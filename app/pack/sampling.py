"""How samples are picked: by a seed that the auditor may name, so that anybody picks again. Pure.

Each candidate is ranked by the SHA-256 of the seed and its number; the first ones are taken. With
one seed the same register gives the same samples, and nobody who wrote the register down knew
which seed an auditor would name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable

METHOD = (
    "Candidates are the starts in the period of people who were signed off here. Each is ranked by "
    "the SHA-256 of the text “seed:number”, where number is that of the start in the register, and "
    "the first are taken, at most one for each person. The same seed picks the same starts again."
)


def rank(seed: str, number: int) -> str:
    """Return the place of a candidate: the digest that decides the order.

    >>> rank("2026", 17)[:8]
    '971b6269'
    """
    return hashlib.sha256(f"{seed}:{number}".encode()).hexdigest()


def picked(seed: str, candidates: Iterable[tuple[int, int]], *, most: int) -> list[int]:
    """Return the numbers picked of candidates ``(number, person)``, one for each person."""
    found: list[int] = []
    people: set[int] = set()
    for number, person in sorted(candidates, key=lambda each: (rank(seed, each[0]), each[0])):
        if len(found) == most:
            break
        if person not in people:
            people.add(person)
            found.append(number)
    return found
