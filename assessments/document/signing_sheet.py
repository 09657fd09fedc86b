"""The sheet of one induction session that is filled in by hand, where there is no power.

What a signing sheet asks for is what a sign-off keeps: who was seen to do which item, by whom,
when, with which result, and both signatures; beside them, the person's own word that they read
the assessments it names (common practice; a training record names the person,
the subject, the date and the trainer).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class SheetItem:
    """One thing to be seen."""

    words: str
    essential: bool


@dataclass(frozen=True, kw_only=True)
class SheetPerson:
    """Somebody with a place."""

    name: str
    card: str = ""


@dataclass(frozen=True, kw_only=True)
class SigningSheet:
    """People by items, with a box for each; the result, and who signs."""

    KIND: ClassVar[str] = "Signing sheet"
    TEMPLATE: ClassVar[str] = "signing_sheet.html"
    WIDE: ClassVar[bool] = True

    head: Head
    when: str
    where: str
    given_by: str
    comes_first: tuple[str, ...]  # titles of inductions
    items: tuple[SheetItem, ...]
    to_read: tuple[str, ...]  # references of assessments, with their revisions
    people: tuple[SheetPerson, ...]
    blank_lines: int  # for whoever walks in
    enter_at: str  # the address at which it is typed in
