"""All inductions as they were ever published, kept in memory under the version they came from.

Publications are only ever added, so their number and the newest of them name exactly one
catalogue: it is read again when, and only when, another version is asked for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from app.db import prepared
from app.inductions.models import Induction, InductionPrerequisite, InductionRevision

Version = tuple[int, int]  # how many revisions there are, and the newest

# Asked along with something else. Both: a commit may overtake one with a lower number.
VERSION = (
    select(func.count(InductionRevision.id)).scalar_subquery().label("inductions_count"),
    select(func.coalesce(func.max(InductionRevision.id), 0))
    .scalar_subquery()
    .label("inductions_newest"),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Publication:
    """One revision of an induction."""

    number: int
    published_at: datetime
    earlier_counts: bool
    supervised_uses: int
    requires: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One induction with its revisions, in order."""

    id: int
    title: str
    publications: tuple[Publication, ...]

    def published_by(self, at: datetime) -> tuple[Publication, ...]:
        return tuple(each for each in self.publications if each.published_at <= at)

    def counts_from(self, at: datetime) -> int:
        """Return the lowest revision number whose sign-offs still count."""
        breaks = (each.number for each in self.published_by(at) if not each.earlier_counts)
        return max(breaks, default=1)


Catalogue = Mapping[int, Entry]

# Marks a session that published something: what it reads may be rolled back, and its
# version given out again to something else, so that nothing of it is kept in memory.
UNCOMMITTED = "published without a commit yet"
_kept: WeakKeyDictionary[Engine, tuple[Version, Catalogue]] = WeakKeyDictionary()


def catalogue(session: Session, version: Version) -> Catalogue:
    """Return the catalogue of this version. Two statements, or none."""
    if session.info.get(UNCOMMITTED):
        return _read(session)
    engine = cast(Engine, session.bind)
    kept = _kept.get(engine)
    if kept is None or kept[0] != version:
        kept = _kept[engine] = (version, _read(session))
    return kept[1]


def catalogue_now(session: Session) -> Catalogue:
    """Return the newest catalogue. One statement, and two more after a publication."""
    return catalogue(session, catalogue_version(session))


def catalogue_version(session: Session) -> Version:
    """Return the version of what is published now. One statement for each session."""
    kept: Version | None = session.info.get("catalogue version")
    if kept is None or session.info.get(UNCOMMITTED):
        count, newest = _VERSION_ALONE(session.connection()).one()
        # A session sees one state of the register from its beginning to its end.
        kept = session.info["catalogue version"] = (count, newest)
    return kept


def remember_version(session: Session, version: Version) -> None:
    """Keep the version that was asked for along with something else in this session."""
    session.info.setdefault("catalogue version", version)


_VERSION_ALONE = prepared(select(*VERSION))


def needed(taught: Catalogue, induction_ids: Iterable[int]) -> list[Entry]:
    """Return these inductions and what stands before them, each once; a loop ends by itself."""
    found: dict[int, Entry] = {}
    queue = list(induction_ids)
    for induction_id in queue:
        if induction_id in taught and induction_id not in found:
            entry = found[induction_id] = taught[induction_id]
            queue.extend(entry.publications[-1].requires)
    return list(found.values())


def _read(session: Session) -> Catalogue:
    requires: dict[int, list[int]] = defaultdict(list)
    for revision_id, other in session.execute(
        select(InductionPrerequisite.revision_id, InductionPrerequisite.requires_id).order_by(
            InductionPrerequisite.id
        )
    ):
        requires[revision_id].append(other)
    publications: dict[tuple[int, str], list[Publication]] = defaultdict(list)
    for row in session.execute(
        select(
            Induction.id,
            Induction.title,
            InductionRevision.id.label("revision_id"),
            InductionRevision.number,
            InductionRevision.published_at,
            InductionRevision.earlier_counts,
            InductionRevision.supervised_uses,
        )
        .join(InductionRevision, InductionRevision.induction_id == Induction.id)
        .order_by(Induction.id, InductionRevision.number)
    ):
        publications[row.id, row.title].append(
            Publication(
                number=row.number,
                published_at=row.published_at,
                earlier_counts=row.earlier_counts,
                supervised_uses=row.supervised_uses,
                requires=tuple(requires[row.revision_id]),
            )
        )
    return {
        induction_id: Entry(id=induction_id, title=title, publications=tuple(found))
        for (induction_id, title), found in publications.items()
    }
