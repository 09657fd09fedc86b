"""The hierarchy of control: which measures come first, and which lines stand on weak ones."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum


class Level(IntEnum):
    """Order of preference, most effective first.

    Source: ISO 45001:2018 clause 8.1.2 (from memory); the same order in Schedule 1 of
    the Management of Health and Safety at Work Regulations 1999 (from memory).
    """

    ELIMINATION = 1
    SUBSTITUTION = 2
    ENGINEERING = 3
    ADMINISTRATIVE = 4
    PPE = 5

    @property
    def words(self) -> str:
        return {
            Level.ELIMINATION: "Elimination",
            Level.SUBSTITUTION: "Substitution",
            Level.ENGINEERING: "Engineering control",
            Level.ADMINISTRATIVE: "Administrative control",
            Level.PPE: "Personal protective equipment",
        }[self]


def rests_on_people(levels: Iterable[Level]) -> bool:
    """Say whether a hazard line has only administrative and personal controls.

    Such a line needs a written reason why nothing higher is reasonably practicable.
    A line with no control at all rests on people too.
    """
    return all(level >= Level.ADMINISTRATIVE for level in levels)
