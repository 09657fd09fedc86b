"""Reading what a form sent: each helper says in one sentence what is wrong."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import TypeVar

from flask import redirect, request
from werkzeug.wrappers import Response

from app.errors import BadInput

Choice = TypeVar("Choice", bound=StrEnum)


def text(name: str, *, most: int = 2000) -> str:
    """Return a text field without the blanks around it; missing is empty."""
    value = request.form.get(name, "").strip()
    if len(value) > most:
        raise BadInput(
            f"“{name}” is too long: {len(value)} characters, at most {most}.", status=422
        )
    if "\x00" in value:
        raise BadInput(f"“{name}” holds a character that cannot be kept.", status=422)
    return value


def whole(name: str) -> int:
    """Return a whole number that the page itself put into the form."""
    value = request.form.get(name, "")
    if not (value.isascii() and value.isdigit() and len(value) <= 18):
        raise BadInput(f"“{name}” is not a number. Open the page again.")
    return int(value)


def rows_chosen(name: str) -> list[int]:
    """Return the rows that were ticked under one name, in the order of the page."""
    ticked = request.form.getlist(name)
    if not all(each.isascii() and each.isdigit() and len(each) <= 18 for each in ticked):
        raise BadInput(f"“{name}” is not a number. Open the page again.")
    return list(dict.fromkeys(map(int, ticked)))


def whole_or_none(name: str) -> int | None:
    """Return a whole number that somebody typed, or None where the field was left empty."""
    value = request.form.get(name, "").strip()
    if not value:
        return None
    if not (value.isascii() and value.isdigit() and len(value) <= 9):
        raise BadInput(f"“{value[:20]}” is not a whole number.", status=422)
    return int(value)


def day_or_none(name: str) -> date | None:
    """Return a day, or None where the field was left empty."""
    return day(name) if request.form.get(name, "").strip() else None


def upload(name: str) -> bytes:
    """Return the bytes of a file that was sent; empty where none was chosen."""
    sent = request.files.get(name)
    return sent.read() if sent is not None and sent.filename else b""


def row_number(name: str) -> int | None:
    """Return a row's number from the address, or None if it names none."""
    value = request.args.get(name, "")
    if not value:
        return None
    if not (value.isascii() and value.isdigit() and len(value) <= 18):
        raise BadInput(f"“{name}” is not a number. Open the page again.")
    return int(value)


def choice(name: str, kind: type[Choice]) -> Choice:
    """Return one of the words that the field offers."""
    try:
        return kind(request.form.get(name, ""))
    except ValueError:
        offered = ", ".join(f"“{member.value}”" for member in kind)
        raise BadInput(f"Choose one for “{name}”: {offered}.", status=422) from None


def day(name: str) -> date:
    """Return a day, as the browser's date field writes it."""
    try:
        return date.fromisoformat(request.form.get(name, ""))
    except ValueError:
        raise BadInput(f"“{name}” is not a date, such as 2026-11-25.", status=422) from None


def redirect_to(path: str) -> Response:
    """Go on after a form: see the result by a GET, so that a reload sends nothing again."""
    return redirect(path, 303)
