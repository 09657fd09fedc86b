"""The kinds to begin from: those of the catalogue, and those that the site wrote itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.risk_assessments.models import SiteKind
from assessments.catalogue import kinds
from assessments.catalogue.kind import Kind
from assessments.catalogue.reading import Defective, parse_kind, read_kind


@dataclass(frozen=True, kw_only=True)
class Known:
    """A kind, and whether the site wrote it itself."""

    kind: Kind
    own: bool


def known_kinds(session: Session) -> dict[str, Known]:
    """Return every kind by its key, the site's own among those of the catalogue, by name."""
    found = {key: Known(kind=kind, own=False) for key, kind in kinds().items()}
    found |= {row.key: Known(kind=_read(row.content), own=True) for row in _latest(session)}
    return dict(sorted(found.items(), key=lambda item: item[1].kind.name.casefold()))


def kind_or_404(session: Session, key: str) -> Known:
    found = known_kinds(session).get(key)
    if found is None:
        raise NotFound("There is no such kind.")
    return found


def matching(known: Mapping[str, Known], *, asked: str, group: str) -> list[Known]:
    """Return the kinds of a group that have every word asked for, somewhere in what they say."""
    words = asked.casefold().split()
    return [
        each
        for each in known.values()
        if group in ("", each.kind.group.value) and all(w in _said(each.kind) for w in words)
    ]


@lru_cache(maxsize=512)
def _said_of(key: str, name: str, summary: str, hazards: tuple[str, ...]) -> str:
    return " ".join((key, name, summary, *hazards)).casefold()


def _said(kind: Kind) -> str:
    return _said_of(kind.key, kind.name, kind.summary, tuple(h.kind for h in kind.hazards))


def save_kind(
    session: Session, text: str, *, key: str | None = None, actor_id: int, now: datetime
) -> Kind:
    """Keep a kind of the site's own; a later wording of the same key counts from then on.

    ``key`` is that of the kind that is edited, which keeps it.  Raises Defective with every
    sentence on what is wrong.  Refused: the key of a kind that is shipped.
    """
    found = read_kind(text, name="The file")
    if found.key in kinds():
        raise Refused(
            f"The catalogue has a kind {found.key} already. Give yours another key.",
            code="key-taken",
            status=422,
        )
    if key not in (None, found.key):
        raise Defective("The file", [f"key is {found.key}; this kind keeps its key {key}."])
    if key is None and found.key in {row.key for row in _latest(session)}:
        raise Refused(
            f"The site has a kind {found.key} already. Edit that one, or give this another key.",
            code="key-taken",
            status=422,
        )
    row = SiteKind(key=found.key, content=text, recorded_by_id=actor_id, recorded_at=now)
    session.add(row)
    session.flush()
    log.record(
        session,
        action="risk_assessments:kind:save",
        subject=f"site_kind:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"key": found.key},
    )
    return found


def text_of(session: Session, key: str) -> str:
    """Return the newest text of a kind of the site's own, as it was written."""
    row = next((row for row in _latest(session) if row.key == key), None)
    if row is None:
        raise NotFound("The site has written no such kind.")
    return row.content


def version_of(session: Session, key: str) -> int:
    """Return how many wordings the site's kind has had."""
    return session.execute(
        select(func.count()).select_from(SiteKind).where(SiteKind.key == key)
    ).scalar_one()


def _latest(session: Session) -> list[SiteKind]:
    newest = select(func.max(SiteKind.id)).group_by(SiteKind.key)
    return list(session.execute(select(SiteKind).where(SiteKind.id.in_(newest))).scalars())


@lru_cache(maxsize=256)
def _read(text: str) -> Kind:
    return parse_kind(text, name="The file")  # it was checked when it was kept
