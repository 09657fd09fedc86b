"""Published inductions: what is taught now, and which earlier sign-offs still count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast
from weakref import WeakKeyDictionary

from sqlalchemy import ColumnElement, Engine, bindparam, func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import UtcDateTime, prepared, stands
from app.errors import NotFound, Refused
from app.inductions.catalogue import UNCOMMITTED, Version, catalogue_now, catalogue_version, needed
from app.inductions.models import (
    Induction,
    InductionItem,
    InductionPrerequisite,
    InductionRevision,
    Inductor,
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One thing the person must be seen to do."""

    id: int
    words: str
    essential: bool


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
    items: tuple[Item, ...]
    requires: tuple[int, ...]
    group_size: int | None = None  # people taught at once; None: nobody said
    supervised_uses: int = 0  # watched uses before somebody works alone


def published(session: Session, induction_id: int) -> Published:
    """Return the induction as it is taught now. One statement; more after a publication."""
    if session.info.get(UNCOMMITTED):
        return _read(session, Induction.id == induction_id)
    version = catalogue_version(session)
    engine = cast(Engine, session.bind)
    kept = _kept.get(engine)
    if kept is None or kept[0] != version:
        kept = _kept[engine] = (version, {})
    if induction_id not in kept[1]:
        kept[1][induction_id] = _read(session, Induction.id == induction_id)
    return kept[1][induction_id]


# What was published never changes, so it is read once for each version of the catalogue.
_kept: WeakKeyDictionary[Engine, tuple[Version, dict[int, Published]]] = WeakKeyDictionary()


def published_then(session: Session, revision_id: int) -> Published:
    """Return the induction in a wording that it had, as a sheet was printed from it."""
    return _read(session, InductionRevision.id == revision_id)


def _read(session: Session, which: ColumnElement[bool]) -> Published:
    found = session.execute(
        select(Induction, InductionRevision)
        .join(InductionRevision, InductionRevision.induction_id == Induction.id)
        .where(which)
        .order_by(InductionRevision.number.desc())
        .limit(1)
    ).one_or_none()
    if found is None:
        raise NotFound("There is no such induction, or it is not published.")
    induction, revision = found
    items = session.execute(
        select(InductionItem.id, InductionItem.words, InductionItem.essential)
        .where(InductionItem.revision_id == revision.id)
        .order_by(InductionItem.position)
    )
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
        items=tuple(Item(id=i, words=words, essential=e) for i, words, e in items),
        requires=tuple(requires),
        group_size=revision.group_size,
        supervised_uses=revision.supervised_uses,
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
    group_size: int | None = None,
    supervised_uses: int = 0,
) -> InductionRevision:
    """Publish a new wording. It can never be edited: the next change is the next revision."""
    if not items or not any(essential for _, essential in items):
        raise Refused("An induction needs at least one essential item to be seen.", status=422)
    if induction.id in {entry.id for entry in needed(catalogue_now(session), requires)}:
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
        group_size=group_size,
        supervised_uses=supervised_uses,
        earlier_counts=earlier_counts,
        published_by_id=actor_id,
        published_at=now,
    )
    session.add(revision)
    session.info[UNCOMMITTED] = True
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


# The inductions that a person was named to give and sign, as of ``at``.
APPOINTED = prepared(
    select(Inductor.induction_id).where(
        Inductor.person_id == bindparam("person"),
        stands(Inductor, bindparam("at", type_=UtcDateTime())),
    )
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


def end_appointment(
    session: Session, *, inductor_id: int, induction_id: int, actor_id: int, now: datetime
) -> None:
    """Take the right to give and sign an induction back, by a row that names the appointment."""
    row = session.get(Inductor, inductor_id)
    if row is None or row.induction_id != induction_id or row.ends_id is not None:
        raise NotFound("There is no such appointment.")
    if session.execute(select(Inductor.id).where(Inductor.ends_id == row.id)).first():
        raise Refused("That appointment has ended already.", code="ended")
    session.add(
        Inductor(
            person_id=row.person_id,
            induction_id=row.induction_id,
            ends_id=row.id,
            recorded_by_id=actor_id,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="inductions:inductor:end",
        subject=f"person:{row.person_id}",
        actor_id=actor_id,
        now=now,
        detail={"induction": row.induction_id},
    )
