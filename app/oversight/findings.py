"""Audit findings: written down once, done by actions, ended by what was verified."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.actions import open_action, open_actions
from app.actions.models import Action
from app.audit import log
from app.db import by_then
from app.errors import NotFound, Refused
from app.oversight.models import AuditFinding, Weight

ABOUT = "audit_finding:"


@dataclass(frozen=True, kw_only=True)
class Found:
    """What an auditor's report says of one finding."""

    audit: str
    reference: str
    weight: Weight
    words: str
    area_id: int | None
    found_on: date


@dataclass(frozen=True, kw_only=True)
class ToDo:
    """What somebody does about it by a day."""

    what: str
    owner: str
    due_on: date


@dataclass(frozen=True, kw_only=True)
class Followed:
    """A finding with what is done about it, and its end."""

    finding: AuditFinding
    ended: AuditFinding | None
    actions: tuple[tuple[Action, Action | None], ...]  # each with the row that closed it

    @property
    def open_actions(self) -> tuple[Action, ...]:
        return tuple(action for action, closed in self.actions if closed is None)

    @property
    def owners(self) -> str:
        return "; ".join(dict.fromkeys(action.owner for action, _ in self.actions))

    @property
    def due_on(self) -> date | None:
        """The day by which all of it is to be done."""
        return max((action.due_on for action, _ in self.actions), default=None)


def about(finding_id: int) -> str:
    """Return how actions name the finding that they came from."""
    return f"{ABOUT}{finding_id}"


def record_finding(
    session: Session, found: Found, todo: ToDo, *, actor_id: int, now: datetime, today: date
) -> AuditFinding:
    """Write a finding down, with the first thing that somebody does about it by a day."""
    if not found.audit.strip() or not found.words.strip():
        raise Refused("Name the audit, and say what was found.", code="finding", status=422)
    if found.found_on > today:
        raise Refused("It cannot have been found in the future.", code="future", status=422)
    row = _row(found, actor_id=actor_id, now=now)
    session.add(row)
    session.flush()
    _log(session, "record", row, actor_id, now)
    add_action(session, row, todo, actor_id=actor_id, now=now)
    return row


def add_action(
    session: Session, finding: AuditFinding, todo: ToDo, *, actor_id: int, now: datetime
) -> Action:
    """Add something that is to be done about a finding that still stands."""
    insist_on_open(session, finding)
    return open_action(
        session,
        about=about(finding.id),
        what=todo.what,
        owner=todo.owner,
        due_on=todo.due_on,
        actor_id=actor_id,
        now=now,
    )


def end_finding(
    session: Session, finding: AuditFinding, *, verified: str, actor_id: int, now: datetime
) -> None:
    """End a finding by how it was verified; refused while something about it is still to be done.

    That all actions are closed does not end it: whether the cause is gone is looked at apart.
    """
    insist_on_open(session, finding)
    if not verified.strip():
        raise Refused("Say how it was verified.", code="verified-missing", status=422)
    still = open_actions(session, [about(finding.id)])
    if still:
        raise Refused(f"First close what is still to be done: {still[0].what}", code="actions-open")
    end = _row(_as_found(finding), actor_id=actor_id, now=now)
    end.verified, end.ends_id = verified.strip(), finding.id
    session.add(end)
    _log(session, "end", finding, actor_id, now)


def insist_on_open(session: Session, finding: AuditFinding) -> None:
    """Refuse where the finding has ended."""
    ended = select(AuditFinding.id).where(AuditFinding.ends_id == finding.id)
    if session.execute(ended).first() is not None:
        raise Refused("This finding has ended already.", code="finding-ended")


def finding_or_404(session: Session, finding_id: int) -> AuditFinding:
    """Return a finding by its number; the row that ends one is none of its own."""
    row = session.get(AuditFinding, finding_id)
    if row is None or row.ends_id is not None:
        raise NotFound("There is no such finding.")
    return row


def followed(
    session: Session, *, at: datetime | None = None, known: datetime | None = None
) -> list[Followed]:
    """Return every finding with its actions and its end, the newest audit first."""
    rows = list(
        session.execute(
            select(AuditFinding)
            .where(*by_then(AuditFinding, at, known))
            .order_by(AuditFinding.found_on.desc(), AuditFinding.reference, AuditFinding.id)
        ).scalars()
    )
    ends = {row.ends_id: row for row in rows if row.ends_id is not None}
    actions = actions_about(session, ABOUT, at=at, known=known)
    return [
        Followed(
            finding=row,
            ended=ends.get(row.id),
            actions=tuple(actions.get(about(row.id), ())),
        )
        for row in rows
        if row.ends_id is None
    ]


def actions_about(
    session: Session, prefix: str, *, at: datetime | None = None, known: datetime | None = None
) -> dict[str, list[tuple[Action, Action | None]]]:
    """Return actions by what they are about, each with the row that closed it by then."""
    rows = session.execute(
        select(Action)
        .where(Action.about.startswith(prefix, autoescape=True), *by_then(Action, at, known))
        .order_by(Action.due_on, Action.id)
    ).scalars()
    found: dict[str, list[tuple[Action, Action | None]]] = {}
    kept = list(rows)
    ends = {row.ends_id: row for row in kept if row.ends_id is not None}
    for row in kept:
        if row.ends_id is None:
            found.setdefault(row.about, []).append((row, ends.get(row.id)))
    return found


def _as_found(row: AuditFinding) -> Found:
    return Found(
        audit=row.audit,
        reference=row.reference,
        weight=row.weight,
        words=row.words,
        area_id=row.area_id,
        found_on=row.found_on,
    )


def _row(found: Found, *, actor_id: int, now: datetime) -> AuditFinding:
    return AuditFinding(
        audit=found.audit.strip(),
        reference=found.reference.strip(),
        weight=found.weight,
        words=found.words.strip(),
        area_id=found.area_id,
        found_on=found.found_on,
        verified="",
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )


def _log(session: Session, verb: str, row: AuditFinding, actor_id: int, now: datetime) -> None:
    log.record(
        session,
        action=f"oversight:finding:{verb}",
        subject=f"audit_finding:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"weight": row.weight.value, "found_on": row.found_on.isoformat()},
    )
