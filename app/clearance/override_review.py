"""Overrides as they are listed, and the weekly look at them by somebody else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.clearance.models import Override, OverrideReview
from app.clearance.overrides import (
    LATELY,
    LOOKED_AT_WITHIN,
    REPEATED_BY_ONE_GRANTOR,
    REPEATED_FOR_ONE_PERSON,
    may_end,
)
from app.errors import Forbidden, NotFound, Refused
from app.machines.models import Machine
from app.people.identity import Actor
from app.people.models import Person
from app.people.rights import Act


@dataclass(frozen=True, kw_only=True)
class Granted:
    """One override with the names on it, as far as the one who looks may read it."""

    row: Override
    person: str
    machine: str
    by: str
    ended_at: datetime | None  # early
    review: OverrideReview | None
    reviewer: str | None
    reason: str | None
    may_end: bool
    may_review: bool
    late: bool  # nobody has looked at it within the week
    repeats: tuple[str, ...]  # what a reviewer asks about

    def stands_at(self, now: datetime) -> bool:
        return self.ended_at is None and now < self.row.until


def granted(
    session: Session, actor: Actor, *, now: datetime, person_id: int | None = None
) -> list[Granted]:
    """Return what stands and what was granted lately, of one person or of all, newest first."""
    those = (Override.until > now) | (Override.occurred_at > now - LATELY)
    if person_id is not None:
        those = those & (Override.person_id == person_id)
    return _listed(session, actor, those, now)


def waiting(session: Session, actor: Actor, *, now: datetime) -> list[Granted]:
    """Return the overrides that nobody has looked at yet, oldest first."""
    seen = select(OverrideReview.id).where(OverrideReview.override_id == Override.id)
    unseen = ~seen.correlate(Override).exists()
    return _listed(session, actor, unseen, now)[::-1]


def _listed(
    session: Session, actor: Actor, those: ColumnElement[bool], now: datetime
) -> list[Granted]:
    by, ending, reviewer = aliased(Person), aliased(Override), aliased(Person)
    rows = session.execute(
        select(
            Override,
            OverrideReview,
            Person.name.label("person"),
            Machine.name.label("machine"),
            by.name.label("by"),
            reviewer.name.label("reviewer"),
            ending.occurred_at.label("ended_at"),
        )
        .join(Person, Person.id == Override.person_id)
        .join(Machine, Machine.id == Override.machine_id)
        .join(by, by.id == Override.recorded_by_id)
        .outerjoin(ending, ending.ends_id == Override.id)
        .outerjoin(OverrideReview, OverrideReview.override_id == Override.id)
        .outerjoin(reviewer, reviewer.id == OverrideReview.recorded_by_id)
        .where(those, Override.ends_id.is_(None))
        .order_by(Override.id.desc())
    ).all()
    others = _lately(session, [row.Override for row in rows])
    return [
        Granted(
            row=row.Override,
            person=row.person,
            machine=row.machine,
            by=row.by,
            ended_at=row.ended_at,
            review=row.OverrideReview,
            reviewer=row.reviewer,
            reason=_reason(session, row.Override, actor),
            may_end=may_end(session, row.Override, actor),
            may_review=row.OverrideReview is None and _may_review(row.Override, actor),
            late=row.OverrideReview is None and now - row.Override.occurred_at > LOOKED_AT_WITHIN,
            repeats=_repeats(row.Override, others),
        )
        for row in rows
    ]


def _lately(session: Session, rows: Sequence[Override]) -> Sequence[Override]:
    """Return every override of the weeks before the oldest of these, to count among."""
    if not rows:
        return ()
    since = min(row.occurred_at for row in rows) - LATELY
    return (
        session.execute(
            select(Override).where(Override.ends_id.is_(None), Override.occurred_at > since)
        )
        .scalars()
        .all()
    )


def _repeats(row: Override, others: Sequence[Override]) -> tuple[str, ...]:
    """Say what comes back: one person let in again and again, or one hand that lets in."""
    lately = [
        each
        for each in others
        if each.id <= row.id and row.occurred_at - LATELY < each.occurred_at <= row.occurred_at
    ]
    for_them = sum(each.person_id == row.person_id for each in lately)
    by_them = sum(each.recorded_by_id == row.recorded_by_id for each in lately)
    found = []
    if for_them >= REPEATED_FOR_ONE_PERSON:
        found.append(f"number {for_them} for this person in four weeks")
    if by_them >= REPEATED_BY_ONE_GRANTOR:
        found.append(f"number {by_them} by this grantor in four weeks")
    return tuple(found)


def _reason(session: Session, row: Override, actor: Actor) -> str | None:
    """Give the reason to whoever granted it and to those who look afterwards; never to the person.

    An auditor reads it too: overrides are what an audit asks about first.
    """
    entitled = actor.id == row.recorded_by_id or any(
        actor.may(act) for act in (Act.REVIEW_OVERRIDES, Act.READ_ALL)
    )
    if actor.id == row.person_id or not entitled or row.note_digest is None:
        return None
    return log.note(session, row.note_digest)


def _may_review(row: Override, actor: Actor) -> bool:
    return actor.may(Act.REVIEW_OVERRIDES) and actor.id not in (row.recorded_by_id, row.person_id)


def review(
    session: Session, override_id: int, *, actor: Actor, words: str, now: datetime
) -> OverrideReview:
    """Record that somebody else looked at an override, and what they say of the decision."""
    row = session.get(Override, override_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such override.")
    if not _may_review(row, actor):
        raise Forbidden("Somebody else looks at this: not who granted it, nor whom it let in.")
    if not words.strip():
        raise Refused("Say what you found.", code="words-missing", status=422)
    seen = select(OverrideReview.id).where(OverrideReview.override_id == override_id)
    if session.execute(seen).first() is not None:
        raise Refused("Somebody looked at it already.", code="reviewed")
    found = OverrideReview(
        override_id=override_id, words=words.strip(), recorded_by_id=actor.id, recorded_at=now
    )
    session.add(found)
    session.flush()
    log.record(
        session,
        action="clearance:override:review",
        subject=f"override:{override_id}",
        actor_id=actor.id,
        now=now,
        detail={"person": row.person_id},
    )
    return found
