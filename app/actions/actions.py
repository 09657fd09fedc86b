"""Open an action, close it by what was verified, and list what is still open."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.models import Action
from app.actions.owners import owner_named
from app.audit import log
from app.dates import local_date
from app.db import stands
from app.errors import NotFound, Refused
from app.site import site


def open_action(
    session: Session,
    *,
    about: str,
    what: str,
    owner: str,
    due_on: date,
    actor_id: int,
    now: datetime,
    urgent: bool = False,
) -> Action:
    """Put down what somebody has to do by a day, and what it came from (``check_result:12``).

    ``owner``: the name, e-mail or card of a person who belongs here, or a post or a firm in words.
    """
    if not what.strip() or not owner.strip():
        raise Refused("Say what is to be done, and who does it.", code="action", status=422)
    whose = owner_named(session, owner, local_date(now, site(session).tz))
    action = Action(
        about=about,
        what=what.strip(),
        owner=whose.words,
        owner_id=whose.person_id,
        urgent=urgent,
        due_on=due_on,
        verified="",
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(action)
    session.flush()
    log.record(
        session,
        action="actions:action:open",
        subject=f"action:{action.id}",
        actor_id=actor_id,
        now=now,
        detail={"about": about, "urgent": urgent, "due_on": due_on.isoformat()},
    )
    return action


def close_action(
    session: Session, action: Action, *, verified: str, actor_id: int, now: datetime
) -> None:
    """End an action by saying how it was verified that it is done."""
    if not verified.strip():
        raise Refused("Say how it was verified.", code="verified-missing", status=422)
    if closing(session, action) is not None:
        raise Refused("This action was closed already.", code="action-closed")
    session.add(
        Action(
            about=action.about,
            what=action.what,
            owner=action.owner,
            owner_id=action.owner_id,
            urgent=action.urgent,
            due_on=action.due_on,
            verified=verified.strip(),
            ends_id=action.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="actions:action:close",
        subject=f"action:{action.id}",
        actor_id=actor_id,
        now=now,
        detail={"about": action.about},
    )


def hand_over(
    session: Session, action: Action, *, owner: str, actor_id: int, now: datetime
) -> Action:
    """Give an open action to somebody else: it ends as handed over, and theirs begins as it was.

    Raises:
        Refused: it was closed, or is theirs already.
    """
    whose = owner_named(session, owner, local_date(now, site(session).tz))
    if (whose.words, whose.person_id) == (action.owner, action.owner_id):
        raise Refused(f"It is {whose.words}’s already.", code="owner", status=422)
    close_action(
        session, action, verified=f"Handed over to {whose.words}", actor_id=actor_id, now=now
    )
    return open_action(
        session,
        about=action.about,
        what=action.what,
        owner=owner,
        due_on=action.due_on,
        actor_id=actor_id,
        now=now,
        urgent=action.urgent,
    )


def closing(session: Session, action: Action) -> Action | None:
    """Return the row that closed an action; None while it is open."""
    return session.execute(select(Action).where(Action.ends_id == action.id)).scalar_one_or_none()


def open_actions(
    session: Session, about: Iterable[str] | None = None, *, owner_id: int | None = None
) -> list[Action]:
    """Return what is still to be done, urgent and oldest first; about some things, or about all.

    ``owner_id``: one person's alone.
    """
    statement = select(Action).where(stands(Action))
    if about is not None:
        statement = statement.where(Action.about.in_(list(about)))
    if owner_id is not None:
        statement = statement.where(Action.owner_id == owner_id)
    return list(
        session.execute(
            statement.order_by(Action.urgent.desc(), Action.due_on, Action.id)
        ).scalars()
    )


def action_or_404(session: Session, action_id: int) -> Action:
    """Return an action by its number; the row that closes one is no action of its own."""
    action = session.get(Action, action_id)
    if action is None or action.ends_id is not None:
        raise NotFound("There is no such action.")
    return action
