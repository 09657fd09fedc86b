"""The register as a list is compared with it: values, no rows. And when two names are the same."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

_WORDS = re.compile(r"\w+")


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """A person on the register."""

    id: int
    name: str
    email: str | None = None
    card: str | None = None
    adult_on: date | None = None
    starts_on: date | None = None
    ends_on: date | None = None
    keys: frozenset[str] = frozenset()  # of the registry that the list comes from
    cohorts: frozenset[int] = frozenset()
    has_role: bool = False

    def here_on(self, day: date) -> bool:
        """Do they belong here then, or only later?"""
        return self.starts_on is not None and (self.ends_on is None or self.ends_on >= day)


@dataclass(frozen=True, kw_only=True, slots=True)
class KnownCohort:
    id: int
    name: str
    ends_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class Register:
    """Everybody whom a line could mean, and the ways to find them."""

    people: Mapping[int, Known]
    cohorts: Mapping[str, KnownCohort]  # by `cohort_word`
    by_key: Mapping[str, int] = field(default_factory=dict)
    by_card: Mapping[str, int] = field(default_factory=dict)
    by_email: Mapping[str, int] = field(default_factory=dict)
    by_name: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def called(self, name: str) -> tuple[int, ...]:
        return self.by_name.get(folded(name), ())

    def left_by(self, changes: Iterable[tuple[int, Mapping[str, Any]]]) -> Register:
        """Return it as it is once these people's names, cards, e-mails and keys are changed."""
        people = dict(self.people)
        for person_id, change in changes:
            person = people[person_id]
            new = {what: change[what] for what in ("name", "card", "email") if what in change}
            keys = person.keys.union(change.get("keys", ()))
            people[person_id] = replace(person, keys=keys, **new)
        return register_of(people.values(), self.cohorts.values())


def register_of(people: Iterable[Known], cohorts: Iterable[KnownCohort]) -> Register:
    """Put the ways to find people together."""
    everybody = {person.id: person for person in people}
    names: dict[str, list[int]] = {}
    for person in everybody.values():
        names.setdefault(folded(person.name), []).append(person.id)
    return Register(
        people=everybody,
        cohorts={cohort_word(cohort.name): cohort for cohort in cohorts},
        by_key={key: person.id for person in everybody.values() for key in person.keys},
        by_card={person.card: person.id for person in everybody.values() if person.card},
        by_email={person.email: person.id for person in everybody.values() if person.email},
        by_name={name: tuple(sorted(ids)) for name, ids in names.items()},
    )


def cohort_word(name: str) -> str:
    """Return a cohort's name as it is compared."""
    return " ".join(name.casefold().split())


def words_of(name: str) -> tuple[str, ...]:
    """Return the words of a name in order, without accents, case or signs."""
    name = name.casefold()
    if not name.isascii():
        split = unicodedata.normalize("NFKD", name)
        name = "".join(sign for sign in split if not unicodedata.combining(sign))
    return tuple(sorted(_WORDS.findall(name)))


def folded(name: str) -> str:
    """Return a name as it is compared: “QUILL, Adá” and “Ada Quill” are one."""
    return " ".join(words_of(name))


def written_alike(one: str, other: str) -> bool:
    """Say whether two names differ in capitals and order at most: then nothing is changed."""
    return sorted(_WORDS.findall(one.casefold())) == sorted(_WORDS.findall(other.casefold()))


def share_a_word(one: str, other: str) -> bool:
    """Say whether two names could be one person's, before and after a change of name."""
    return not set(words_of(one)).isdisjoint(words_of(other))
