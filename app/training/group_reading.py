"""Who of a group has still to read and acknowledge, and those who did so before a technician."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.orm import Session

from app.people.identity import Actor
from app.training.acknowledgement import acknowledge, outstanding_of
from assessments.document.frozen import thaw


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """An assessment in force that somebody of the group has still to acknowledge."""

    revision_id: int
    reference: str
    title: str
    number: int


@dataclass(frozen=True, kw_only=True)
class ToRead:
    """What a group has still to read."""

    sheets: list[Sheet]
    people: list[tuple[int, str, list[Sheet]]]  # number, name, what they have not acknowledged


def to_read(
    session: Session, names: Mapping[int, str], induction_id: int, *, at: datetime
) -> ToRead:
    """Return who of these people has still to acknowledge what an induction is for."""
    open_ = outstanding_of(session, names, at=at, induction_id=induction_id)
    sheets = {}
    for revision in (revision for revisions in open_.values() for revision in revisions):
        if revision.id not in sheets:
            content = thaw(revision.content)
            sheets[revision.id] = Sheet(
                revision_id=revision.id,
                reference=content.reference,
                title=content.title,
                number=content.number,
            )
    return ToRead(
        sheets=sorted(sheets.values(), key=lambda sheet: sheet.reference),
        people=[
            (person_id, name, [sheets[revision.id] for revision in open_[person_id]])
            for person_id, name in names.items()
            if person_id in open_
        ],
    )


def witness(
    session: Session,
    *,
    actor: Actor,
    person_ids: Iterable[int],
    shown: AbstractSet[int],
    induction_id: int,
    now: datetime,
) -> int:
    """Record each of these people's word, face to face; return of how many that is news.

    Only what stood on the page (``shown``) was read: what came into force since was not.
    """
    open_ = outstanding_of(session, person_ids, at=now, induction_id=induction_id)
    heard = set()
    for person_id, revisions in open_.items():
        if person_id == actor.id:
            continue  # one's own word is given on one's own phone
        for revision in revisions:
            if revision.id in shown:
                acknowledge(
                    session, actor=actor, person_id=person_id, revision_id=revision.id, now=now
                )
                heard.add(person_id)
    return len(heard)
