"""Reading the forms of a draft into plain values, as the draft keeps them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from flask import request

from app.authoring.locking import Seen
from app.errors import BadInput
from app.forms import text, whole, whole_or_none

MOST_ROWS = 60
MOST_LINE = 500


def seen() -> Seen:
    """Return what the form was drawn from, as it says itself."""
    return Seen(version=whole("version"), digest=text("seen", most=64))


def words(name: str, *, most: int = 2000) -> str:
    """Return a text with one kind of line ends."""
    return text(name, most=most).replace("\r\n", "\n").replace("\r", "\n")


def lines(name: str, *, most: int = MOST_LINE) -> list[str]:
    """Return the lines of a text that are not blank."""
    found = [line.strip() for line in words(name, most=20_000).split("\n")]
    found = [line for line in found if line]
    if len(found) > MOST_ROWS or any(len(line) > most for line in found):
        raise BadInput(
            f"“{name}” has at most {MOST_ROWS} lines of at most {most} characters.", status=422
        )
    return found


def rows(name: str, columns: Sequence[str]) -> list[dict[str, str]]:
    """Return the rows of a table of fields, the wholly blank ones left out."""
    found = []
    for at in range(MOST_ROWS):
        names = [f"{name}-{at}-{column}" for column in columns]
        if not any(each in request.form for each in names):
            break
        row = {column: words(each) for column, each in zip(columns, names, strict=True)}
        if any(row.values()):
            found.append(row)
    return found


def ticked(name: str, offered: Sequence[str]) -> list[str]:
    """Return which of the offered words were ticked, in their own order."""
    sent = set(request.form.getlist(name))
    return [each for each in offered if each in sent]


def yes(name: str) -> bool:
    return request.form.get(name) == "yes"


def rank(name: str, top: int) -> int:
    """Return a place on the site's scale.  [1 to top]"""
    value = whole_or_none(name)
    if value is None or not 1 <= value <= top:
        raise BadInput(f"Choose the {name.replace('_', ' ')}, from 1 to {top}.", status=422)
    return value


def day_words(value: str, what: str) -> str:
    """Return a day as it is kept, or a sentence that says which one cannot be read."""
    try:
        return date.fromisoformat(value).isoformat()
    except ValueError:
        raise BadInput(f"{what}: “{value[:20]}” is no date, such as 2026-11-25.", status=422) from (
            None
        )
