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

from app.db import AnyRow
from assessments.document.content import RiskAssessment
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
    emergency: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """What is read of one frozen revision."""

    digest: str
    card: Card
    never: tuple[tuple[str, str], ...]  # materials that are never worked, with their reasons


_drawn: dict[str, Drawn] = {}
_html: dict[tuple[str, ...], Markup] = {}


def known(revisions: Sequence[AnyRow]) -> dict[str, Drawn]:
    """Return what was read of these revisions before, by their digests."""
    found = ((row.digest, _drawn.get(row.digest)) for row in revisions)
    return {digest: drawn for digest, drawn in found if drawn is not None}


def drawn(digest: str, text: str) -> Drawn:
    """Read a frozen revision, and keep what was read."""
    content = thaw(text)
    if len(_drawn) >= MOST_KEPT:
        _drawn.clear()
    found = _drawn[digest] = Drawn(
        digest=digest,
        card=_card(content),
        never=tuple((each.material, each.why) for each in content.never),
    )
    return found


def card_html(revisions: Sequence[Drawn], *, emergency: str) -> Markup:
    """Return the dangers and rules as a piece of the page; empty where none is in force."""
    key = (emergency, *(each.digest for each in revisions))
    found = _html.get(key)
    if found is None:
        if len(_html) >= MOST_KEPT:
            _html.clear()
        cards = [each.card for each in revisions]
        card = _joined(cards) if len(cards) > 1 else next(iter(cards), None)
        words = render_template("scan/_card.html", card=card, emergency=emergency)
        found = _html[key] = Markup(words)  # noqa: S704 - a template of ours, escaped there
    return found


def _card(content: RiskAssessment) -> Card:
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
