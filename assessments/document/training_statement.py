"""The training statement: what a person was seen to do here, for another place to judge.

Source of the fields: those of the induction record (HSE L114, 2nd ed. 2014: machines and
operations named, date, who authorised), one line for each induction. PUWER (GB) regulation 9
leaves it to the employer of the other place whether training is adequate: the statement says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Training:
    """Where the person stands in one induction, by the latest record."""

    induction: str
    revision: int
    machines: tuple[str, ...]  # that ask for it here: kinds, which another place can compare
    result: str
    ground: str  # sign-off, outside competence, revocation
    on: date
    by: str
    valid: str  # "through 3 March 2027", "does not run out", "-"
    state: str  # as of the moment of the statement


@dataclass(frozen=True, kw_only=True)
class TrainingStatement:
    """A person's training on record here."""

    KIND: ClassVar[str] = "Training statement"
    TEMPLATE: ClassVar[str] = "training_statement.html"
    WIDE: ClassVar[bool] = False

    head: Head
    person: str
    person_number: int
    belongs: str
    current: tuple[Training, ...]  # counts at the moment of the statement
    past: tuple[Training, ...]  # ran out, was replaced, not passed, revoked


__all__ = ["Training", "TrainingStatement"]
