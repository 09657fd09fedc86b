"""A line of a rehearsal as the page says it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.people.models import Person
from app.words import day


def shown(line: Mapping[str, Any]) -> dict[str, Any]:
    """Return the line with its changes in words."""
    new = line["person_id"] is None
    return {**line, "says": list(_says(line["change"], line["before"], new=new))}


def _says(change: Mapping[str, Any], before: Mapping[str, Any], *, new: bool) -> Iterable[str]:
    for what, words in (("name", "Name"), ("email", "E-mail"), ("card", "Card")):
        if what in change and not (new and what == "name"):
            was = before.get(what)
            yield f"{words}: {was} → {change[what]}" if was else f"{words}: {change[what]}"
    if "adult_on" in change:
        yield f"Turns or turned 18 on {_day(change['adult_on'])}"
    if "here" in change:
        was = f" (was {_span(before['here'])})" if before.get("here", [None])[0] else ""
        yield f"Here {_span(change['here'])}{was}"
    if "keys" in change:
        yield f"Key {', '.join(change['keys'])}"
    if "cohorts" in change:
        yield f"Joins {', '.join(change['cohorts'])}"


def _span(days: list[str | None]) -> str:
    first, last = days
    return f"from {_day(first)}" + (f" until {_day(last)}" if last else ", open-ended")


def _day(kept: str | None) -> str:
    return day(date.fromisoformat(kept)) if kept else "no date"


def names_of(session: Session, lines: Iterable[Mapping[str, Any]]) -> dict[int, str]:
    """Return the names of those whom the lines may mean. One statement."""
    ids = {id_ for line in lines for id_ in line["candidates"]}
    rows = session.execute(
        select(Person.id, Person.name, Person.card, Person.email).where(Person.id.in_(ids))
    )
    return {
        row.id: ", ".join(filter(None, (row.name, row.card or row.email or f"no. {row.id}")))
        for row in rows
    }
