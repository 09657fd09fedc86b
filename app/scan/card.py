"""What a machine's page says of its dangers and rules, drawn from the frozen revisions.

A frozen text never changes under its digest, so what was read from it once is kept in
memory for as long as the process lives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from flask import render_template
from markupsafe import Markup
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


_kept: dict[tuple[str, ...], Markup] = {}


def card_html(session: Session, revisions: Sequence[AnyRow], *, emergency: str) -> Markup:
    """Return the dangers and rules as a piece of the page; empty where no assessment is in force.

    At most one statement, and none once the piece is kept.
    """
    key = (emergency, *(row.digest for row in revisions))
    found = _kept.get(key)
    if found is None:
        if len(_kept) >= MOST_KEPT:
            _kept.clear()
        card = _card(session, revisions)
        words = render_template("scan/_card.html", card=card, emergency=emergency)
        found = _kept[key] = Markup(words)  # noqa: S704 - a template of ours, escaped there
    return found


def _card(session: Session, revisions: Sequence[AnyRow]) -> Card | None:
    if not revisions:
        return None
    texts = session.execute(
        select(Revision.content)
        .where(Revision.id.in_([row.revision_id for row in revisions]))
        .order_by(Revision.assessment_id)
    ).scalars()
    cards = [_drawn(thaw(text)) for text in texts]
    return cards[0] if len(cards) == 1 else _joined(cards)


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
