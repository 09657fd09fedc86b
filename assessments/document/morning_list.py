"""The list of one area for one day: who is cleared for what, for when the network is dead.

It holds what the register answers, and no more than a reader at the door needs (data minimisation:
regulation (EU) 2016/679 and UK GDPR, article 5(1)(c)). It is void at midnight.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from assessments.document.paper import Head

CLEARED, SUPERVISED, NOTHING = "yes", "supervised", ""


@dataclass(frozen=True, kw_only=True)
class ListedMachine:
    """One column: a machine that may be started from the list."""

    name: str
    see_to: tuple[str, ...]  # what the list cannot confirm


@dataclass(frozen=True, kw_only=True)
class NeverListed:
    """A machine that nobody starts from paper."""

    name: str
    why: str


@dataclass(frozen=True, kw_only=True)
class ListedPerson:
    """One row: somebody who may use at least one of the machines."""

    name: str
    card: str
    cells: tuple[str, ...]  # CLEARED, SUPERVISED or NOTHING, in the order of the machines


@dataclass(frozen=True, kw_only=True)
class MorningList:
    """Who is cleared for what in an area on one day."""

    KIND: ClassVar[str] = "Morning list"
    TEMPLATE: ClassVar[str] = "morning_list.html"
    WIDE: ClassVar[bool] = True

    head: Head
    area: str
    day: date
    machines: tuple[ListedMachine, ...]
    never: tuple[NeverListed, ...]
    people: tuple[ListedPerson, ...]
