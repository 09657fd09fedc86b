"""What a machine's page says of its dangers and rules, drawn from the frozen revisions.

A frozen text never changes under its digest, so what was read from it once is kept in
memory for as long as the process lives.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.db import AnyRow
from app.risk_assessments.models import Revision
from assessments.document.content import NeverMaterial, RiskAssessment
from assessments.document.frozen import thaw
from assessments.document.signs import Shape, Sign, sign

MOST_KEPT = 1024


@dataclass(frozen=True, kw_only=True)
class Danger:
    """One hazard, as the page names it."""

    sign: Sign | None
    kind: str
    how: str


@dataclass(frozen=True, kw_only=True)
class Card:
    """The dangers and rules of a machine."""

    references: tuple[str, ...]
    run_mode: str
    lone_working: str
    before_use: tuple[str, ...]
    mandatory: tuple[Sign, ...]
    prohibited: tuple[Sign, ...]
    other_signs: tuple[Sign, ...]
    dangers: tuple[Danger, ...]
    never: tuple[NeverMaterial, ...]
    emergency: tuple[str, ...]


def card(session: Session, revisions: Iterable[AnyRow]) -> Card | None:
    """Return the card of a machine, or None where no assessment is in force."""
    cards = [_card_of(session, row.revision_id, row.digest) for row in revisions]
    if not cards:
        return None
    return cards[0] if len(cards) == 1 else _joined(cards)


_kept: dict[str, Card] = {}


def _card_of(session: Session, revision_id: int, digest: str) -> Card:
    found = _kept.get(digest)
    if found is None:
        text = session.execute(
            select(Revision.content).where(Revision.id == revision_id)
        ).scalar_one()
        if len(_kept) >= MOST_KEPT:
            _kept.clear()
        found = _kept[digest] = _drawn(thaw(text))
    return found


def _drawn(content: RiskAssessment) -> Card:
    signs = [sign(number) for number in content.signs]
    return Card(
        references=(content.reference,),
        run_mode=content.run_mode,
        lone_working=content.lone_working,
        before_use=content.before_use,
        mandatory=tuple(s for s in signs if s.shape is Shape.MANDATORY),
        prohibited=tuple(s for s in signs if s.shape is Shape.PROHIBITION),
        other_signs=tuple(s for s in signs if s.shape not in (Shape.MANDATORY, Shape.PROHIBITION)),
        dangers=tuple(
            Danger(sign=_sign(line.sign), kind=line.kind, how=line.how) for line in content.hazards
        ),
        never=content.never,
        emergency=content.emergency,
    )


@lru_cache
def _sign(number: str) -> Sign | None:
    return sign(number) if number else None


def _joined(cards: list[Card]) -> Card:
    """Put the cards of several assessments together, each entry once, in their order."""

    def each(name: str) -> tuple[object, ...]:
        return tuple(dict.fromkeys(entry for c in cards for entry in getattr(c, name)))

    lists = {
        name: each(name)
        for name in Card.__dataclass_fields__
        if name not in ("run_mode", "lone_working")
    }
    return Card(
        **lists,  # type: ignore[arg-type]
        run_mode=min((c.run_mode for c in cards), key=_STRICTEST_FIRST.index),
        lone_working=" ".join(dict.fromkeys(c.lone_working for c in cards)),
    )


_STRICTEST_FIRST = ("technician-run", "supervised", "open to cleared people")
