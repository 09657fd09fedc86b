"""What has to be put right after a check or an examination, until somebody closes it."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.actions import open_actions
from app.actions.models import Action
from app.hazards.models import CheckResult

ABOUT = "check_result:"


def about(result_id: int) -> str:
    """Return how an action names the result that it came from."""
    return f"{ABOUT}{result_id}"


def results_behind(session: Session, actions: Iterable[Action]) -> dict[int, CheckResult]:
    """Return, by the action's number, the result that it came from, where it came from one."""
    ids = {
        action.id: int(action.about.removeprefix(ABOUT))
        for action in actions
        if action.about.startswith(ABOUT)
    }
    rows = session.execute(select(CheckResult).where(CheckResult.id.in_(set(ids.values()))))
    by_id = {row.id: row for row in rows.scalars()}
    return {action_id: by_id[row] for action_id, row in ids.items() if row in by_id}


def open_remedial(session: Session, check_ids: Collection[int], machine_id: int) -> list[Action]:
    """Return what is still to be put right at a machine that relies on these checks."""
    actions = open_actions(session)
    behind = results_behind(session, actions)
    return [
        action
        for action in actions
        if action.id in behind
        and behind[action.id].check_id in check_ids
        and behind[action.id].machine_id in (None, machine_id)
    ]
