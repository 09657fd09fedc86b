"""Published inductions: what is taught now, and which earlier sign-offs still count."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import cast
from weakref import WeakKeyDictionary

from sqlalchemy import ColumnElement, Engine, bindparam, func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import Base, UtcDateTime, prepared, stands
from app.errors import NotFound, Refused
from app.inductions.catalogue import UNCOMMITTED, Version, catalogue_now, catalogue_version, needed
from app.inductions.models import (
    Induction,
    InductionItem,
    InductionPicture,
    InductionPrerequisite,
    InductionQuestion,
    InductionRevision,
    Inductor,
)
from app.inductions.refresher import Path
from app.inductions.teaching import Picture, Question, Refresher, Teaching, insist_on_teaching


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One thing the person must be seen to do."""

    id: int
    words: str
    essential: bool
    in_refresher: bool = False


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
    teaching: Teaching = field(default_factory=Teaching)

    def items_on(self, path: Path) -> tuple[Item, ...]:
        """Return what is seen done on one of the two paths."""
        if path is Path.FULL:
            return self.items
        return tuple(item for item in self.items if item.in_refresher)

    def validity_on(self, path: Path) -> int | None:
        """Return for how many months a pass on that path is good; None: it does not run out."""
        short = self.teaching.refresher
        if path is Path.REFRESHER and short is not None and short.validity_months is not None:
            return short.validity_months
        return self.validity_months


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
        select(
            InductionItem.id,
            InductionItem.words,
            InductionItem.essential,
            InductionItem.in_refresher,
        )
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
        items=tuple(
            Item(id=i, words=words, essential=e, in_refresher=r) for i, words, e, r in items
        ),
        requires=tuple(requires),
        group_size=revision.group_size,
        supervised_uses=revision.supervised_uses,
        teaching=teaching_of(session, revision),
    )


def teaching_of(session: Session, revision: InductionRevision) -> Teaching:
    """Return how a revision is taught: its language, pictures, questions and shorter path."""
    pictures = session.execute(
        select(InductionPicture)
        .where(InductionPicture.revision_id == revision.id)
        .order_by(InductionPicture.id)
    ).scalars()
    questions = session.execute(
        select(InductionQuestion)
        .where(InductionQuestion.revision_id == revision.id)
        .order_by(InductionQuestion.position)
    ).scalars()
    return Teaching(
        language=revision.language,
        pictures=tuple(
            Picture(id=row.id, name=row.name, file_digest=row.file_digest, words=row.words)
            for row in pictures
        ),
        questions=tuple(
            Question(words=row.words, answers=tuple(row.answers), leads_to=row.leads_to)
            for row in questions
        ),
        questions_first=revision.questions_first,
        refresher=None
        if revision.refresher_months is None
        else Refresher(
            months=revision.refresher_months,
            content=revision.refresher_content,
            basis=revision.refresher_basis,
            validity_months=revision.refresher_validity_months,
        ),
    )


def publish(
    session: Session,
    induction: Induction,
    *,
    content: str,
    items: Sequence[tuple[str, bool]],  # words, essential; of the shorter path by position
    requires: Sequence[int],
    validity_months: int | None,
    validity_basis: str,
    earlier_counts: bool,
    actor_id: int,
    now: datetime,
    group_size: int | None = None,
    supervised_uses: int = 0,
    teaching: Teaching | None = None,
    in_refresher: Collection[int] = (),  # positions of items, from 1
) -> InductionRevision:
    """Publish a new wording. It can never be edited: the next change is the next revision."""
    if not items or not any(essential for _, essential in items):
        raise Refused("An induction needs at least one essential item to be seen.", status=422)
    teaching = teaching or Teaching()
    essential = {i for i, (_, essential) in enumerate(items, 1) if essential}
    insist_on_teaching(teaching, content, in_refresher, essential)
    short = teaching.refresher
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
        language=teaching.language,
        questions_first=teaching.questions_first,
        refresher_months=short.months if short else None,
        refresher_content=short.content if short else "",
        refresher_basis=short.basis if short else "",
        refresher_validity_months=short.validity_months if short else None,
        published_by_id=actor_id,
        published_at=now,
    )
    session.add(revision)
    session.info[UNCOMMITTED] = True
    session.flush()
    session.add_all(
        InductionItem(
            revision_id=revision.id,
            position=i,
            words=words,
            essential=essential,
            in_refresher=short is not None and i in in_refresher,
        )
        for i, (words, essential) in enumerate(items, 1)
    )
    session.add_all(_parts(revision.id, teaching))
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


def _parts(revision_id: int, teaching: Teaching) -> Iterator[Base]:
    for picture in teaching.pictures:
        yield InductionPicture(
            revision_id=revision_id,
            name=picture.name,
            file_digest=picture.file_digest,
            words=picture.words,
        )
    for position, question in enumerate(teaching.questions, 1):
        yield InductionQuestion(
            revision_id=revision_id,
            position=position,
            words=question.words,
            answers=list(question.answers),
            leads_to=question.leads_to,
        )


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
