"""What a line would change of one person. An empty cell changes nothing, and nothing is deleted."""

from __future__ import annotations

from datetime import date
from typing import Any

from app.transfer.grouping import Group
from app.transfer.known import Known, Register, cohort_word, written_alike
from app.transfer.line import Line
from app.transfer.matching import Match
from app.transfer.words import Word


def changes(group: Group, found: Match, register: Register, today: date) -> Line:
    """Return the first line of a group with what is written for the person it means."""
    if found.person is None:
        return _added(group, found, today)
    return _changed(group, found.person, found.by, register, today)


def _added(group: Group, found: Match, today: date) -> Line:
    starts_on, ends_on = group.starts_on or today, group.ends_on
    if ends_on is not None and ends_on < starts_on:
        return _refused(group, None, f"the last day, {_day(ends_on)}, comes before the first")
    change: dict[str, Any] = {
        "name": group.name,
        "email": group.one("email"),
        "card": group.one("card"),
        "adult_on": _iso(group.adult_on),
        "here": [starts_on.isoformat(), _iso(ends_on)],
        "keys": list(group.said("key")),
        "cohorts": list(group.said("cohort")),
    }
    whys = [f"nobody on the register has this {_signs(group)}"]
    if found.namesakes:
        whys.append("somebody else of the same name is on the register")
    return Line(
        number=group.numbers[0],
        word=Word.ADDED,
        name=group.name,
        whys=tuple(whys),
        change={name: value for name, value in change.items() if value},
    )


def _signs(group: Group) -> str:
    words = {"key": "key", "card": "card", "email": "e-mail"}
    return " or ".join(said for what, said in words.items() if group.said(what))


def _changed(group: Group, person: Known, by: str, register: Register, today: date) -> Line:
    change, before = _described(group, person, today)
    here = time_here(person, group.starts_on, group.ends_on, today)
    if here is not None:
        change["here"] = [here[0].isoformat(), _iso(here[1])]
        before["here"] = [_iso(person.starts_on), _iso(person.ends_on)]
        if here[1] is not None and here[1] < here[0]:
            return _refused(group, person, "they would end before they start")
    joined = _joined(group, person, register)
    keys = [key for key in group.said("key") if key not in person.keys]
    change |= {name: value for name, value in (("cohorts", joined), ("keys", keys)) if value}
    word = _word(change, person, today)
    refused = _only_by_hand(person, word, change)
    if refused:
        return _refused(group, person, refused)
    return Line(
        number=group.numbers[0],
        word=word,
        name=group.name,
        whys=(f"known by the {by}" if "as it was" not in by else f"known by {by}",),
        person_id=person.id,
        change=change,
        before=before,
    )


def _described(group: Group, person: Known, today: date) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return name, e-mail, card and age where the list says something else, and as they stand."""
    new: dict[str, Any] = {}
    if not written_alike(group.name, person.name):
        new["name"] = group.name
    for what in ("email", "card"):
        said = group.one(what)
        if said and said != getattr(person, what):
            new[what] = said
    adult_on = group.adult_on
    # “18 or over” says no day: whoever is known to be that already stays as they are.
    said_already = person.adult_on is not None and person.adult_on <= today == adult_on
    if adult_on and adult_on != person.adult_on and not said_already:
        new["adult_on"] = adult_on.isoformat()
    stands = {"name": person.name, "email": person.email, "card": person.card}
    stands["adult_on"] = _iso(person.adult_on)
    return new, {what: stands[what] for what in new}


def time_here(
    person: Known, starts_on: date | None, ends_on: date | None, today: date
) -> tuple[date, date | None] | None:
    """Return from when until when somebody belongs here by the list, or None: as it stands.

    A first day that has come is not moved any more, and a list without last days ends nobody.
    Whoever had left comes back on the day that the list names, or today.
    """
    if person.here_on(today) and person.starts_on is not None:
        begun = person.starts_on <= today
        first = person.starts_on if begun else (starts_on or person.starts_on)
        last = ends_on or person.ends_on
    elif ends_on is not None and ends_on < today:  # the list speaks of a time that is over
        days = [day for day in (starts_on, person.starts_on) if day]
        first, last = min(days, default=ends_on), ends_on
    else:
        back = starts_on and (person.ends_on is None or starts_on > person.ends_on)
        first, last = (starts_on if back and starts_on else today), ends_on
    return None if (first, last) == (person.starts_on, person.ends_on) else (first, last)


def _joined(group: Group, person: Known, register: Register) -> list[str]:
    """Return the cohorts of the list that the person is not in."""
    return [
        name
        for name in group.said("cohort")
        if (cohort := register.cohorts.get(cohort_word(name))) is None
        or cohort.id not in person.cohorts
    ]


def _word(change: dict[str, Any], person: Known, today: date) -> Word:
    if not change:
        return Word.SAME
    last = change["here"][1] if "here" in change else None
    if last and date.fromisoformat(last) < today and person.here_on(today):
        return Word.ENDED
    return Word.CHANGED


def _only_by_hand(person: Known, word: Word, change: dict[str, Any]) -> str | None:
    """Say what no list does to somebody who holds a role: locking out those who look after it."""
    if person.has_role and word is Word.ENDED:
        return "they hold a role here: end it and their time here by hand"
    if person.has_role and "email" in change:
        return "they hold a role here: change the e-mail that they sign in with by hand"
    return None


def _refused(group: Group, person: Known | None, why: str) -> Line:
    return Line(
        number=group.numbers[0],
        word=Word.REFUSED,
        name=group.name,
        whys=(why,),
        person_id=person.id if person else None,
        candidates=(person.id,) if person else (),
    )


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
