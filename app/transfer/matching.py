"""Whom a group of lines means: by the registry's key, then the card, then the e-mail.

A name alone is never enough, and where the ways disagree nobody is chosen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.transfer.grouping import Group
from app.transfer.known import Known, Register, share_a_word

NEW = 0  # of `Choices.decided`: somebody else than those of the same name


@dataclass(frozen=True, kw_only=True, slots=True)
class Match:
    """Whom it means: a person, somebody new (None), or nobody that can be said."""

    person: Known | None = None
    by: str = ""
    doubt: str | None = None
    candidates: tuple[int, ...] = ()
    # Somebody can say on the page whom the line means.
    may_be_decided: bool = False
    may_be_new: bool = False
    namesakes: int = 0


def match(group: Group, register: Register, decided: Mapping[int, int]) -> Match:
    """Find the one person, if there is one."""
    ways = _found(group, register)
    if group.problems:
        # It is refused: whom it may mean is only kept in mind, so that nobody counts as missing.
        maybe = dict.fromkeys(person_id for _by, person_id in ways)
        return Match(doubt="; ".join(group.problems), candidates=tuple(maybe))
    said = next((decided[number] for number in group.numbers if number in decided), None)
    people = tuple(dict.fromkeys(person_id for _by, person_id in ways))
    if len(people) > 1:
        return Match(doubt=_two(ways, register), candidates=people)
    if people:
        return _by_sign(group, register.people[people[0]], ways[0][0], said)
    return _by_name(group, register, said)


def _found(group: Group, register: Register) -> list[tuple[str, int]]:
    """Return each way by which somebody is found, the strongest first."""
    ways = (
        ("key of the registry", "key", register.by_key),
        ("card", "card", register.by_card),
        ("e-mail", "email", register.by_email),
    )
    return [
        (words, index[value])
        for words, what, index in ways
        for value in group.said(what)
        if value in index
    ]


def _two(ways: list[tuple[str, int]], register: Register) -> str:
    named: dict[int, str] = {}
    for by, person_id in ways:
        named.setdefault(person_id, f"by the {by} it is {register.people[person_id].name}")
    return f"it means different people: {', '.join(named.values())}. If they are one, merge them."


def _by_sign(group: Group, person: Known, by: str, said: int | None) -> Match:
    # A key stays with a person whatever they are called; a card is handed on, and an e-mail shared.
    strange = by != "key of the registry" and not share_a_word(group.name, person.name)
    if strange and said != person.id:
        return Match(
            doubt=f"the {by} belongs to {person.name}, who is called quite differently",
            candidates=(person.id,),
            may_be_decided=True,
        )
    return Match(person=person, by=by)


def _by_name(group: Group, register: Register, said: int | None) -> Match:
    same = register.called(group.name)
    if said is not None and said in same:
        return Match(person=register.people[said], by="name, as it was decided")
    nothing = not any(group.said(what) for what in ("key", "card", "email"))
    doubtful = tuple(id_ for id_ in same if nothing or not _told_apart(group, register.people[id_]))
    if doubtful and said != NEW:
        return Match(
            doubt="somebody of that name is on the register, and nothing tells whether it is "
            "the same person",
            candidates=doubtful,
            may_be_decided=True,
            may_be_new=not nothing,
        )
    if nothing:
        return Match(doubt="a name alone is nobody: it needs a key, a card or an e-mail")
    return Match(namesakes=len(same))


def _told_apart(group: Group, person: Known) -> bool:
    """Say whether both have a sign of the same kind; were it the same one, they had been found."""
    return bool(
        (group.said("key") and person.keys)
        or (group.said("card") and person.card)
        or (group.said("email") and person.email)
    )
