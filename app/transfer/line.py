"""One line of a rehearsal."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from app.transfer.words import Word


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """What becomes of one line, or of one person who is missing from the list (number 0).

    ``change`` is what is written, as JSON: any of ``name``, ``email``, ``card``, ``adult_on``,
    ``here`` (first and last day), ``keys``, ``cohorts``. ``before`` is what stands there now.
    """

    number: int
    word: Word
    name: str
    whys: tuple[str, ...] = ()
    person_id: int | None = None  # None: somebody new, or nobody that can be said
    change: dict[str, Any] = field(default_factory=dict)
    before: dict[str, Any] = field(default_factory=dict)
    candidates: tuple[int, ...] = ()
    may_be_decided: bool = False
    may_be_new: bool = False

    def as_json(self) -> dict[str, Any]:
        return {
            "number": self.number,
            "word": self.word.value,
            "name": self.name,
            "whys": list(self.whys),
            "person_id": self.person_id,
            "change": self.change,
            "before": self.before,
            "candidates": list(self.candidates),
            "may_be_decided": self.may_be_decided,
            "may_be_new": self.may_be_new,
        }
