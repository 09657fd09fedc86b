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
