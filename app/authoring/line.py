"""A hazard line of a draft: shown, read from its form, changed, confirmed, removed."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from flask import request
from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.authoring import reading
from app.authoring.locking import Seen, Values, claim, mark
from app.errors import NotFound, Refused
from app.hazards.models import Hazard, HazardControl, HazardFinding, SuggestedControl
from app.risk_assessments.models import RiskAssessment
from assessments.catalogue.kind import State
from assessments.document.signs import Shape, signs
from assessments.rating import Scale

STATES = tuple(state.value for state in State)
WARNINGS = tuple(sign.number for sign in signs() if sign.shape is Shape.WARNING)
RANKS = ("severity_before", "likelihood_before", "severity_after", "likelihood_after")
TITLES = {
    "kind": "Hazard",
    "sign": "Warning sign",
    "how": "How it hurts",
    "who": "Who may be harmed",
    "states": "When it is worse",
    "severity_before": "Severity before controls",
    "likelihood_before": "Likelihood before controls",
    "severity_after": "Severity with controls",
    "likelihood_after": "Likelihood with controls",
    "residual": "What is left",
    "reason": "Why nothing higher",
}


EMPTY: Values = {
    "kind": "",
    "sign": "",
    "how": "",
    "who": [],
    "states": [],
    **dict.fromkeys(RANKS, 0),
    "residual": "",
    "reason": "",
}


def lines_of(session: Session, draft_id: int) -> list[Hazard]:
    """Return the lines of a draft in their order."""
    return list(
        session.execute(
            select(Hazard)
            .where(Hazard.assessment_id == draft_id)
            .order_by(Hazard.position, Hazard.id)
        ).scalars()
    )


def line_or_404(session: Session, draft_id: int, hazard_id: int) -> Hazard:
    found = session.get(Hazard, hazard_id)
    if found is None or found.assessment_id != draft_id:
        raise NotFound("There is no such line in this draft; somebody may have removed it.")
    return found


def fits(line: Hazard, scale: Scale) -> bool:
    """Say whether a line is rated on the scale; a site may have changed its scale since."""
    return all(
        getattr(line, name)
        <= len(scale.severity if name.startswith("severity") else scale.likelihood)
        for name in RANKS
    )


def shown(line: Hazard) -> Values:
    """Return the line as its form shows it."""
    return {name: getattr(line, name) for name in TITLES}


def read(scale: Scale) -> Values:
    """Return the line that a form sent.  Refused, in one sentence, where it cannot be one."""
    top = {"severity": len(scale.severity), "likelihood": len(scale.likelihood)}
    sign = request.form.get("sign", "")
    values: dict[str, Any] = {
        "kind": reading.words("kind", most=120),
        "sign": sign if sign in WARNINGS else "",
        "how": reading.words("how"),
        "who": reading.lines("who"),
        "states": [
            *reading.ticked("states", STATES),
            *(each for each in reading.lines("other_states") if each not in STATES),
        ],
        **{name: reading.rank(name, top[name.split("_")[0]]) for name in RANKS},
        "residual": reading.words("residual"),
        "reason": reading.words("reason"),
    }
    for name, what in (("kind", "what the hazard is"), ("how", "how it hurts")):
        if not values[name]:
            raise Refused(f"Say {what}.", code="line", status=422)
    return values


def save(
    session: Session,
    draft: RiskAssessment,
    line: Hazard,
    values: Values,
    seen: Seen,
    *,
    confirm: bool,
    actor_id: int,
    now: datetime,
) -> None:
    """Change a line, and confirm it where its author says so.  Raises Overtaken."""
    claim(draft, shown(line), values, seen, actor_id=actor_id, now=now)
    for name, value in values.items():
        setattr(line, name, value)
    if confirm and not line.who:
        raise Refused("Say who may be harmed.", code="line", status=422)
    if confirm:
        line.to_confirm, line.confirmed_by_id, line.confirmed_at = False, actor_id, now
    _log(session, draft, line, "confirm" if confirm else "save", actor_id, now)


def add(
    session: Session, draft: RiskAssessment, values: Values, *, actor_id: int, now: datetime
) -> Hazard:
    """Add a line of the author's own at the end; there is nobody else's word to confirm."""
    last = session.execute(
        select(func.max(Hazard.position)).where(Hazard.assessment_id == draft.id)
    ).scalar()
    line = Hazard(
        assessment_id=draft.id,
        position=(last or 0) + 1,
        confirmed_by_id=actor_id,
        confirmed_at=now,
        **values,
    )
    session.add(line)
    session.flush()
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, line, "add", actor_id, now)
    return line


def remove(
    session: Session, draft: RiskAssessment, line: Hazard, *, actor_id: int, now: datetime
) -> None:
    """Take a line out of the draft. What was frozen before keeps it.

    Refused where a number was ever kept beside it: that is evidence, and names its line.
    """
    if session.execute(select(HazardFinding.id).where(HazardFinding.hazard_id == line.id)).first():
        raise Refused(
            "A number was kept beside this line, which names it for good. Write the line anew "
            "for another hazard, or say in it why it does not arise here.",
            code="line-has-numbers",
        )
    session.execute(delete(HazardControl).where(HazardControl.hazard_id == line.id))
    _forget(session, draft, line.id, actor_id, now)
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, line, "remove", actor_id, now)
    session.delete(line)


def _forget(
    session: Session, draft: RiskAssessment, hazard_id: int, actor_id: int, now: datetime
) -> None:
    """Take the line off the suggestions; one that answers nothing else is left out with it."""
    for each in session.execute(
        select(SuggestedControl).where(SuggestedControl.assessment_id == draft.id)
    ).scalars():
        if hazard_id in each.hazards:
            each.hazards = [other for other in each.hazards if other != hazard_id]
            if not each.hazards and each.decided_at is None:
                each.left_out_because = "The line that it answers was removed."
                each.decided_by_id, each.decided_at = actor_id, now


def _log(
    session: Session, draft: RiskAssessment, line: Hazard, verb: str, actor_id: int, now: datetime
) -> None:
    session.flush()
    log.record(
        session,
        action=f"risk_assessments:line:{verb}",
        subject=f"risk_assessment:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"line": line.id, "version": draft.version},
    )
