"""The few marks by which plain text has headings, lists and pictures. Pure.

A line that begins with “# ” is a heading, with “- ” an entry of a list, with “1. ” (any number)
a step. A line “[picture: eyewash]” stands for the picture of that name. Blank lines part
paragraphs. Nothing else means anything: what is written is shown as it was written, so that no
text can bring a tag, an address or a script with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a piece of a text is."""

    HEADING = "heading"
    WORDS = "paragraph"
    LIST = "list"
    STEPS = "steps"
    PICTURE = "picture"


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """One piece of a text: its lines, or the name of its picture."""

    kind: Kind
    lines: tuple[str, ...]
    number: int = 0  # of a heading: the first of a text is 1

    @property
    def words(self) -> str:
        return " ".join(self.lines)


_MARKS = (
    (Kind.HEADING, re.compile(r"#{1,6} +(.+)")),
    (Kind.PICTURE, re.compile(r"\[picture: *(\S(?:[^\]]*\S)?) *\]")),
    (Kind.LIST, re.compile(r"[-*•] +(.+)")),
    (Kind.STEPS, re.compile(r"[0-9]{1,3}[.)] +(.+)")),
)
_ALONE = frozenset({Kind.HEADING, Kind.PICTURE})  # never joined with the line before


def blocks(text: str) -> tuple[Block, ...]:
    """Return the pieces of a text, in their order.

    >>> [each.kind.value for each in blocks("# Stop\\nPress it.\\n\\n- One\\n- Two")]
    ['heading', 'paragraph', 'list']
    """
    found: list[tuple[Kind, list[str]]] = []
    parted = True
    for line in map(str.strip, text.splitlines()):
        if not line:
            parted = True
            continue
        kind, words = _read(line)
        same = bool(found) and found[-1][0] is kind and kind not in _ALONE
        # A list goes on over a blank line; a paragraph ends with it.
        if same and not (parted and kind is Kind.WORDS):
            found[-1][1].append(words)
        else:
            found.append((kind, [words]))
        parted = False
    return tuple(_numbered(found))


def _read(line: str) -> tuple[Kind, str]:
    for kind, mark in _MARKS:
        if (match := mark.fullmatch(line)) is not None:
            return kind, match[1].strip()
    return Kind.WORDS, line


def _numbered(found: Iterable[tuple[Kind, list[str]]]) -> Iterable[Block]:
    number = 0
    for kind, lines in found:
        number += kind is Kind.HEADING
        yield Block(kind=kind, lines=tuple(lines), number=number if kind is Kind.HEADING else 0)


def headings(text: str) -> tuple[str, ...]:
    """Return the headings of a text, in their order."""
    return tuple(each.words for each in blocks(text) if each.kind is Kind.HEADING)


def pictures_named(text: str) -> tuple[str, ...]:
    """Return the names of the pictures that a text asks for, each once."""
    named = (each.words for each in blocks(text) if each.kind is Kind.PICTURE)
    return tuple(dict.fromkeys(named))


def running_text(text: str) -> tuple[str, ...]:
    """Return what is read as sentences: each paragraph, each entry; no heading, no picture.

    Headings are left out of counts of reading, as the makers of the formulas left them out.
    """
    found: list[str] = []
    for each in blocks(text):
        if each.kind is Kind.WORDS:
            found.append(each.words)
        elif each.kind in (Kind.LIST, Kind.STEPS):
            found.extend(each.lines)
    return tuple(found)
