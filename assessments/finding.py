"""What every calculation method returns: a number against a limit, with its working."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


class Band(StrEnum):
    """Where a result stands against its limit."""

    BELOW_ACTION = "below action"
    ACTION = "action"
    OVER_LIMIT = "over limit"
    NO_LIMIT = "no limit"
    NOT_JUDGED = "not judged"


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a number, an equation or a limit was printed."""

    title: str
    edition: str = ""
    place: str = ""  # page, table, clause or address
    confirmed: bool = True  # False: from memory, until a published source confirms it

    def __str__(self) -> str:
        words = ", ".join(part for part in (self.title, self.edition, self.place) if part)
        return words if self.confirmed else f"{words} (from memory)"


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A value with its unit; a list where the standard wants rows; unrounded."""

    value: Any
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Limit:
    """The limit a result was held against."""

    name: str
    value: float
    unit: str
    source: Source  # its edition says of which year the limit is
    regime: str = ""  # of REGIMES, or "site"; empty where it belongs to none
    action: float | None = None  # the (lower) action value below it, where the source has one
    upper_action: float | None = None
    notation: tuple[str, ...] = ()  # skin, sensitiser, carcinogen


@dataclass(frozen=True, kw_only=True)
class Finding:
    """The result of one method, complete enough to be printed without the program.

    ``edition`` is the edition of the method's declaration, so that a later change of
    the method never silently changes what an old document meant.
    """

    method: str
    title: str
    edition: str
    inputs: Mapping[str, Quantity]
    outputs: Mapping[str, Quantity]
    band: Band
    working: tuple[str, ...]
    sources: tuple[Source, ...]
    limit: Limit | None = None
    ratio: float | None = None
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    uncertainty: Mapping[str, Any] = field(default_factory=dict)
