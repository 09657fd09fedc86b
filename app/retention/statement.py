"""What is kept for how long, why, and when it was last removed: as data, for pages and packs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.db import AnyRow, Moment, stands
from app.retention.models import RetentionKeep, RetentionRemoved, RetentionTerm
from app.retention.named import NAMED
from app.retention.schedule import Term, kinds, span, term
from app.site import site


@dataclass(frozen=True, kw_only=True)
class Line:
    """One kind of record: its term, the tables in it, and what was removed of it."""

    term: Term
    tables: tuple[str, ...]
    removed: int  # rows so far; of people: so many were erased
    last_removed_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Statement:
    """The schedule as it holds here at a moment."""

    regime: str | None  # gb, eu, us; None: not chosen, the longest that any law asks holds
    lines: tuple[Line, ...]
    keeps: int  # marks that stand: so many things are kept beyond their time


def statement(session: Session, *, at: datetime) -> Statement:
    """Return the schedule in force at a moment, with what had been removed by then."""
    regime = site(session, at).regime
    removed = _removed(session, at)
    nothing = (0, None)
    keeps = select(func.count(RetentionKeep.id)).where(stands(RetentionKeep, at))
    return Statement(
        regime=regime,
        lines=tuple(
            Line(
                term=each,
                tables=tuple(name for name, named in NAMED.items() if named.kind == key),
                removed=removed.get(key, nothing)[0],
                last_removed_at=removed.get(key, nothing)[1],
            )
            for key, each in terms(session, regime=regime, at=at).items()
        ),
        keeps=session.execute(keeps).scalar_one(),
    )


def terms(session: Session, *, regime: str | None, at: Moment | None = None) -> dict[str, Term]:
    """Return how long each kind is kept here, by its key."""
    statement = select(RetentionTerm.kind, RetentionTerm.span).order_by(RetentionTerm.id)
    if at is not None:
        statement = statement.where(RetentionTerm.recorded_at <= at)
    own = dict(session.execute(statement).all())  # the latest counts
    return {
        key: term(kind, regime, span(own[key]) if own.get(key) else None)
        for key, kind in kinds().items()
    }


def _removed(session: Session, at: datetime) -> dict[str, tuple[int, datetime]]:
    rows: list[AnyRow] = list(
        session.execute(
            select(
                RetentionRemoved.kind,
                func.sum(RetentionRemoved.rows),
                func.max(RetentionRemoved.recorded_at),
            )
            .where(RetentionRemoved.recorded_at <= at)
            .group_by(RetentionRemoved.kind)
        )
    )
    return {kind: (int(count), latest) for kind, count, latest in rows}
