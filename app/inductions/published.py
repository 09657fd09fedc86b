"""Published inductions: what is taught now, and which earlier sign-offs still count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ScalarSelect, func, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.db import Moment
from app.errors import NotFound, Refused
from app.inductions.models import (
    Induction,
    InductionItem,
    InductionPrerequisite,
    InductionRevision,
    Inductor,
)


@dataclass(frozen=True, kw_only=True)
class Published:
    """An induction as it is taught now."""

    id: int
    title: str
    revision_id: int
    number: int
    content: str
    validity_months: int | None
    validity_basis: str
    items: tuple[InductionItem, ...]
    requires: tuple[int, ...]


def latest_revision_id(at: Moment) -> ScalarSelect[int]:
    """Return the id of the newest revision published by ``at``, for a row of `Induction`."""
    newest = aliased(InductionRevision)
    return (
        select(newest.id)
        .where(newest.induction_id == Induction.id, newest.published_at <= at)
        .order_by(newest.number.desc())
        .limit(1)
        .correlate(Induction)
        .scalar_subquery()
    )


def counts_from(at: Moment) -> ScalarSelect[int]:
    """Return the lowest revision number whose sign-offs still count, for a row of `Induction`."""
    breaking = aliased(InductionRevision)
    return (
        select(func.coalesce(func.max(breaking.number), 1))
        .where(
            breaking.induction_id == Induction.id,
            breaking.published_at <= at,
            breaking.earlier_counts.is_(False),
        )
        .correlate(Induction)
        .scalar_subquery()
    )


def published(session: Session, induction_id: int, *, at: datetime) -> Published:
    """Return the induction as it is taught at ``at``."""
    found = session.execute(
        select(Induction, InductionRevision)
        .join(InductionRevision, InductionRevision.id == latest_revision_id(at))
        .where(Induction.id == induction_id)
    ).one_or_none()
    if found is None:
        raise NotFound("There is no such induction, or it is not published.")
    induction, revision = found
    items = session.execute(
        select(InductionItem)
        .where(InductionItem.revision_id == revision.id)
        .order_by(InductionItem.position)
    ).scalars()
    requires = session.execute(
        select(InductionPrerequisite.requires_id)
        .where(InductionPrerequisite.revision_id == revision.id)
        .order_by(InductionPrerequisite.id)
    ).scalars()
    return Published(
        id=induction.id,
        title=induction.title,
        revision_id=revision.id,
        number=revision.number,
        content=revision.content,
        validity_months=revision.validity_months,
        validity_basis=revision.validity_basis,
        items=tuple(items),
        requires=tuple(requires),
    )


def publish(
    session: Session,
    induction: Induction,
    *,
    content: str,
    items: Sequence[tuple[str, bool]],  # words, essential
    requires: Sequence[int],
    validity_months: int | None,
    validity_basis: str,
    earlier_counts: bool,
    actor_id: int,
    now: datetime,
) -> InductionRevision:
    """Publish a new wording. It can never be edited: the next change is the next revision."""
    if not items or not any(essential for _, essential in items):
        raise Refused("An induction needs at least one essential item to be seen.", status=422)
    if _leads_to(session, requires, induction.id, at=now):
        raise Refused("An induction cannot stand before itself.", code="loop", status=422)
    number = session.execute(
        select(func.coalesce(func.max(InductionRevision.number), 0)).where(
            InductionRevision.induction_id == induction.id
        )
    ).scalar_one()
    revision = InductionRevision(
        induction_id=induction.id,
        number=number + 1,
        content=content,
        validity_months=validity_months,
        validity_basis=validity_basis,
        earlier_counts=earlier_counts,
        published_by_id=actor_id,
        published_at=now,
    )
    session.add(revision)
    session.flush()
    session.add_all(
        InductionItem(revision_id=revision.id, position=i, words=words, essential=essential)
        for i, (words, essential) in enumerate(items, 1)
    )
    session.add_all(
        InductionPrerequisite(revision_id=revision.id, requires_id=other) for other in requires
    )
    log.record(
        session,
        action="inductions:revision:publish",
        subject=f"induction:{induction.id}",
        actor_id=actor_id,
        now=now,
        detail={"number": revision.number, "earlier_counts": earlier_counts},
    )
    return revision


def _leads_to(session: Session, start: Sequence[int], target: int, *, at: datetime) -> bool:
    queue, seen = list(start), set()
    for induction_id in queue:
        if induction_id == target:
            return True
        if induction_id not in seen:
            seen.add(induction_id)
            queue.extend(published(session, induction_id, at=at).requires)
    return False


def appointed(session: Session, person_id: int) -> set[int]:
    """Return the inductions that this person is named to give and sign."""
    ending = aliased(Inductor)
    return set(
        session.execute(
            select(Inductor.induction_id).where(
                Inductor.person_id == person_id,
                Inductor.ends_id.is_(None),
                ~select(ending.id).where(ending.ends_id == Inductor.id).exists(),
            )
        ).scalars()
    )


def appoint(
    session: Session, *, person_id: int, induction_id: int, actor_id: int, now: datetime
) -> None:
    """Name a person, in writing, who may give and sign an induction."""
    session.add(
        Inductor(
            person_id=person_id,
            induction_id=induction_id,
            recorded_by_id=actor_id,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="inductions:inductor:appoint",
        subject=f"person:{person_id}",
        actor_id=actor_id,
        now=now,
        detail={"induction": induction_id},
    )
