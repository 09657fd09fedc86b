"""The form that asks which column is what: how it is filled, and how it is read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from flask import request
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.errors import BadInput
from app.forms import choice, day_or_none, text
from app.transfer import cells
from app.transfer.choices import Choices, Order, choices_from, turned_round
from app.transfer.columns import (
    HEADINGS_AMONG,
    Field,
    headings_at,
    letter,
    missing,
    suggest,
    width,
)
from app.transfer.lists import file_of, remembered
from app.transfer.models import PeopleList, PersonKey
from app.transfer.reading import read, sheets_of
from app.transfer.sheet import Row

LOOKED_AT = 200  # rows from which examples and the order of days are taken
_DAYS = (Field.STARTS, Field.ENDS, Field.BORN)


@dataclass(frozen=True, kw_only=True)
class Column:
    number: int
    words: str  # "B · Family name (Quill, Marsh)"


@dataclass(frozen=True, kw_only=True)
class ColumnForm:
    """What the page shows."""

    sheets: Sequence[str]
    sheet: str | None  # None: one must be chosen first
    written_as: str = ""
    first_rows: Sequence[tuple[int, str]] = ()  # the position and the words of each
    columns: Sequence[Column] = ()
    fields: Sequence[Field] = tuple(Field)
    choices: Choices = field(default_factory=Choices)
    sources: Sequence[str] = ()
    known_before: bool = False
    orders: Sequence[Order] = tuple(Order)


def form_of(
    session: Session, row: PeopleList, *, sheet: str | None, headings: int | None
) -> ColumnForm:
    """Fill the form: from this list's own choices, those of the same headings, or suggestions."""
    kept = choices_from(row.choices)
    file = file_of(session, row)
    found = sheets_of(file.data)
    sheet = sheet or kept.sheet
    if found and sheet not in found:
        return ColumnForm(sheets=found, sheet=None)
    begins = read(file.data, sheet, most=LOOKED_AT)
    at = _headings(begins.rows, headings, kept)
    own = bool(kept.columns) and at == kept.headings and sheet == kept.sheet
    before = None if own else remembered(session, begins.rows[at][1])
    choices = kept if own else replace(before or _suggested(begins.rows, at), headings=at)
    sources = list(session.execute(select(PersonKey.source).distinct().limit(20)).scalars())
    return ColumnForm(
        sheets=found,
        sheet=sheet,
        written_as=begins.written_as,
        first_rows=[
            (position, f"{number}: {' | '.join(filter(None, cells))[:80]}")
            for position, (number, cells) in enumerate(begins.rows[:HEADINGS_AMONG])
        ],
        columns=_columns(begins.rows, at),
        choices=replace(
            choices, sheet=sheet, source=choices.source or (sources or ["registry"])[0]
        ),
        sources=sources,
        known_before=before is not None,
    )


def _headings(rows: Sequence[Row], asked: int | None, kept: Choices) -> int:
    if asked is not None and asked < len(rows):
        return asked
    return kept.headings if kept.columns and kept.headings < len(rows) else headings_at(rows)


def _suggested(rows: Sequence[Row], at: int) -> Choices:
    columns, below = suggest(rows[at][1]), rows[at + 1 :]
    days = [
        words[columns[field]]
        for field in _DAYS
        if field in columns
        for _number, words in below
        if columns[field] < len(words)
    ]
    name = columns.get(Field.NAME)
    return Choices(
        columns=columns,
        order=cells.order_of(days),
        turn_names=name is not None and turned_round(below, name),
    )


def _columns(rows: Sequence[Row], at: int) -> list[Column]:
    """Return each column that holds anything, with its heading and what stands below it."""
    headings, below = rows[at][1], rows[at + 1 :]
    found = []
    for number in range(width(rows)):
        heading = headings[number] if number < len(headings) else ""
        there = dict.fromkeys(
            cells[number] for _n, cells in below if number < len(cells) and cells[number]
        )
        if heading or there:
            examples = ", ".join(list(there)[:2])[:40]
            words = f"{letter(number)} · {heading[:40] or 'no heading'}"
            found.append(
                Column(number=number, words=f"{words} ({examples})" if examples else words)
            )
    return found


def asked_choices(session: Session, row: PeopleList) -> tuple[Choices, tuple[str, ...]]:
    """Read the form; return what was chosen, and the headings that it was chosen for."""
    file, kept = file_of(session, row), choices_from(row.choices)
    sheet, headings = text("sheet", most=200) or None, _number("headings")
    rows = read(file.data, sheet, most=LOOKED_AT).rows
    if headings >= len(rows):
        raise BadInput("There is no such row of headings. Open the page again.", status=422)
    columns = {
        field: _number(f"column-{at}")
        for at, field in enumerate(Field)
        if request.form.get(f"column-{at}")
    }
    wanting = missing(columns)
    if wanting:
        raise BadInput(wanting, status=422)
    source = " ".join(text("source", most=60).split())
    if not source:
        raise BadInput("Say which registry the list comes from.", status=422)
    whole = bool(request.form.get("whole"))
    same = kept.columns == columns and kept.source == source and kept.headings == headings
    chosen = Choices(
        sheet=sheet,
        headings=headings,
        columns=columns,
        source=source,
        order=choice("order", Order),
        turn_names=bool(request.form.get("turn_names")),
        cohort=" ".join(text("cohort", most=200).split()),
        starts_on=day_or_none("starts_on"),
        ends_on=day_or_none("ends_on"),
        leave_on=day_or_none("leave_on") if whole else None,
        many_may_leave=whole and bool(request.form.get("many_may_leave")),
        decided=kept.decided if same else {},
    )
    _insist_on_sense(chosen, whole=whole)
    return chosen, rows[headings][1]


def _insist_on_sense(chosen: Choices, *, whole: bool) -> None:
    if whole and chosen.leave_on is None:
        raise BadInput("Say with which day whoever is missing leaves.", status=422)
    if whole and not chosen.cohort and Field.COHORT not in chosen.columns:
        raise BadInput("A whole list is whole for a cohort: choose its column, or name it.",
                       status=422)  # fmt: skip
    if chosen.starts_on and chosen.ends_on and chosen.ends_on < chosen.starts_on:
        raise BadInput("The last day comes after the first.", status=422)


def _number(name: str) -> int:
    value = request.form.get(name, "")
    if not (value.isascii() and value.isdigit() and len(value) <= 4):
        raise BadInput(f"“{name}” is not a number. Open the page again.", status=422)
    return int(value)
