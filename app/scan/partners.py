"""Find somebody to name as a partner. A person sees names here, and nothing else of anybody."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.errors import Refused
from app.parts import now, parts
from app.people.codes import person_in
from app.people.identity import identities
from app.people.models import Person

SHORTEST_WORD = 3
MOST_SHOWN = 5
MOST_LOOKED_AT = 50


def partners_named(session: Session, words: str, person_id: int) -> list[tuple[int, str]]:
    """Return who may be named as a partner under these words: the code they show, or a name.

    Each word of at least three letters begins a word of the name, so that nobody leafs through
    the register.
    """
    asked = words.casefold().split()
    ids = _by_code(words)
    if ids is None:
        if not asked or any(len(word) < SHORTEST_WORD for word in asked):
            return []
        ids = _by_name(session, asked)
    day = local_date(now(), parts().site(session).tz)
    found = [
        (each.id, each.name)
        for each in identities(session, ids, day).values()
        if each.id != person_id and each.belongs_on(day) and not each.suspended
    ]
    return sorted(found, key=lambda each: (each[1], each[0]))[:MOST_SHOWN]


def _by_code(words: str) -> list[int] | None:
    """Return whose code was shown: pasted, or the address that it opens."""
    code = words.strip().rsplit("/", 1)[-1]
    try:
        return [person_in(code, secret=parts().settings.secret_key, now=now())]
    except Refused:
        return None


def _by_name(session: Session, asked: list[str]) -> list[int]:
    pattern = asked[0].replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    rows = session.execute(
        select(Person.id, Person.name)
        .where(Person.erased_at.is_(None), Person.name.ilike(f"%{pattern}%", escape="\\"))
        .order_by(Person.name, Person.id)
        .limit(MOST_LOOKED_AT)
    )
    return [
        row.id
        for row in rows
        if all(any(part.startswith(word) for part in row.name.casefold().split()) for word in asked)
    ]
