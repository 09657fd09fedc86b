"""Read one cell as what its column was chosen to be; what is doubtful is not guessed."""

from __future__ import annotations

import re
import unicodedata
from datetime import date

from app.people.register import LONGEST_CARD, LONGEST_EMAIL, LONGEST_NAME
from app.transfer.choices import Order

LONGEST_KEY = 120
LONGEST_COHORT = 200


class Wrong(Exception):
    """A cell cannot be what its column is. The words go on after the cell’s own."""


# What a spreadsheet writes where it could not work something out.
ERRORS = {"#N/A", "#REF", "#VALUE", "#NAME", "#DIV/0", "#NULL", "#NUM", "#SPILL", "#CALC"}


# --- names -------------------------------------------------------------------------------


def turned(words: str) -> str:
    family, comma, given = words.partition(",")
    return f"{given.strip()} {family.strip()}".strip() if comma and "," not in given else words


# They turn the text after them round: a name with one makes a whole line read otherwise.
_TURNS_TEXT = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def readable(words: str) -> str:
    """Return a name that can be shown."""
    if len(words) > LONGEST_NAME:
        raise Wrong(f"longer than {LONGEST_NAME} characters")
    if not _TURNS_TEXT.isdisjoint(words):
        raise Wrong("holds a sign that turns the text round")
    if not any(unicodedata.category(sign).startswith("L") for sign in words):
        raise Wrong("holds no letter")
    return words


# --- what somebody is known by -----------------------------------------------------------


_EMAIL = re.compile(r"[^\s@,;<>()\"“”]+@[^\s@,;<>()\"“”.]+(\.[^\s@,;<>()\"“”.]+)+")
_SCIENTIFIC = re.compile(r"\d[.,]?\d*[eE][+-]?\d+")


def email(words: str) -> str:
    words = words.lower().removeprefix("mailto:")
    if len(words) > LONGEST_EMAIL or not _EMAIL.fullmatch(words):
        raise Wrong("is no single e-mail address")
    return words


def _whole(words: str) -> str:
    """Refuse a number that lost its digits, and take the .0 off one that was made a fraction."""
    if _SCIENTIFIC.fullmatch(words) and len(words) > 5:
        raise Wrong("the spreadsheet has rounded it: format its column as text and save it again")
    return words.removesuffix(".0") if words.removesuffix(".0").isdigit() else words


def card(words: str) -> str:
    words = _whole(words).upper()
    if len(words) > LONGEST_CARD or "@" in words or not words.isprintable():
        raise Wrong("is no card number")
    return words


def key(words: str) -> str:
    words = _whole(words)
    if len(words) > LONGEST_KEY:
        raise Wrong(f"longer than {LONGEST_KEY} characters")
    return words


def cohort(words: str) -> str:
    if len(words) > LONGEST_COHORT:
        raise Wrong(f"longer than {LONGEST_COHORT} characters")
    return _whole(words)


_YES = {"yes", "y", "true", "1", "x", "ja", "oui", "si", "sí", "sì", "wahr", "vrai", "adult"}
_NO = {"no", "n", "false", "0", "-", "nein", "non", "falsch", "faux", "minor"}


def yes_or_no(words: str) -> bool:
    said = words.casefold()
    if said not in _YES | _NO:
        raise Wrong("is neither yes nor no")
    return said in _YES


# --- days --------------------------------------------------------------------------------


_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d{1,2}:\d{2}.*)?")
_PACKED = re.compile(r"((?:19|20|21)\d\d)(\d\d)(\d\d)")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})[-/. ]+(\d{4})(?: \d{1,2}:\d{2}.*)?")
_NAMED = re.compile(r"(\d{1,2})[-/. ]+([A-Za-z]{3,9})\.?,?[-/. ]+(\d{4})(?: \d{1,2}:\d{2}.*)?")
_NAMED_FIRST = re.compile(r"([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})")
_SERIAL = re.compile(r"\d{5}(\.\d+)?")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def read_day(words: str, order: Order) -> date:
    """Return the day that is written; raises where it could be two, or none."""
    if found := _YEAR_FIRST.fullmatch(words) or _PACKED.fullmatch(words):
        return _day(found[1], found[2], found[3])
    if found := _NAMED.fullmatch(words):
        return _day(found[3], _month(found[2]), found[1])
    if found := _NAMED_FIRST.fullmatch(words):
        return _day(found[3], _month(found[1]), found[2])
    if found := _YEAR_LAST.fullmatch(words):
        return _of_two(found[1], found[2], found[3], found[4], order)
    if _SERIAL.fullmatch(words):
        raise Wrong("looks like a spreadsheet’s number of a day: format its column as a date")
    raise Wrong("is no day with a year of four digits, such as 2026-09-01")


def _of_two(first: str, sign: str, second: str, year: str, order: Order) -> date:
    # With points the day always comes first; with strokes it depends on who wrote it.
    if sign == "." or first == second:
        return _day(year, second, first)
    if order is Order.DAY_FIRST:
        return _day(year, second, first)
    if order is Order.MONTH_FIRST:
        return _day(year, first, second)
    raise Wrong("could be two days: choose with the columns whether day or month comes first")


def _month(words: str) -> str:
    start = words[:3].lower()
    if start not in _MONTHS:
        raise Wrong("names no month that is known here")
    return str(_MONTHS.index(start) + 1)


def _day(year: str, month: str, day: str) -> date:
    try:
        found = date(int(year), int(month), int(day))
    except ValueError:
        raise Wrong("is not in the calendar") from None
    if not 1900 <= found.year <= 2200:
        raise Wrong("lies outside 1900 to 2200")
    return found


def order_of(days: list[str]) -> Order:
    """Say whether day or month comes first, where the days themselves decide it."""
    said = set()
    for words in days:
        found = _YEAR_LAST.fullmatch(words)
        if found and found[2] != ".":
            first, second = int(found[1]), int(found[3])
            if first > 12 >= second:
                said.add(Order.DAY_FIRST)
            if second > 12 >= first:
                said.add(Order.MONTH_FIRST)
    return said.pop() if len(said) == 1 else Order.NOT_SAID
