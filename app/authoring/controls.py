"""The controls against a line: suggested ones decided on, others added, copied ones confirmed.

To each belongs the question how it is proved here: by a check of its own, by a control of the
site that is proved already, or by words alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from flask import request
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.authoring import reading
from app.authoring.locking import mark
from app.errors import BadInput, NotFound, Refused
from app.forms import choice, whole, whole_or_none
from app.hazards.due import IntervalUnit
from app.hazards.models import (
    Basis,
    Check,
    Control,
    Hazard,
    HazardControl,
    Scope,
    SuggestedControl,
)
from app.hazards.terms import Terms, set_terms
from app.risk_assessments.models import RiskAssessment
from assessments.hierarchy import Level

MOST_CHECKS = 6


class Proved(StrEnum):
    """How a control is proved here."""

    NEW = "by a check of its own"
    EXISTING = "by a control that the site has"
    WORDS = "in words, without a check"
    LEFT_OUT = "left out"


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What the author says of a control."""

    proved: Proved
    words: str  # how it is proved here; or why it is left out
    control_id: int | None  # of the site's control, where it is one
    title: str
    level: Level
    details: str
    shared: bool
    checks: tuple[tuple[str, Terms], ...]  # of a new control: what is looked at, and its terms


def read() -> Decision:
    """Return the decision that a form sent.  Refused, in one sentence, where it is none."""
    proved = choice("proved", Proved)
    level = whole("level") if request.form.get("level") else 0
    if level not in set(Level):
        raise BadInput("Choose the level of the control.", status=422)
    decision = Decision(
        proved=proved,
        words=reading.words("words"),
        control_id=whole_or_none("control_id") if proved is Proved.EXISTING else None,
        title=reading.words("title", most=200),
        level=Level(level),
        details=reading.words("details"),
        shared=reading.yes("shared"),
        checks=tuple(_checks()) if proved is Proved.NEW else (),
    )
    _insist(decision)
    return decision


def _insist(decision: Decision) -> None:
    wanting = {
        Proved.LEFT_OUT: not decision.words and "Say why it is left out.",
        Proved.WORDS: not decision.words and "Say how it is proved here without a check.",
        Proved.EXISTING: decision.control_id is None and "Choose the control that the site has.",
        Proved.NEW: not decision.checks and "Tick the check that proves it, or say it in words.",
    }[decision.proved]
    if wanting:
        raise Refused(wanting, code="proof-missing", status=422)
    if not decision.title:
        raise Refused("A control has a title.", code="title-missing", status=422)


def _checks() -> list[tuple[str, Terms]]:
    return [
        _terms(f"check-{at}-")
        for at in range(MOST_CHECKS)
        if request.form.get(f"check-{at}-use") == "yes"
    ]


def _terms(stem: str) -> tuple[str, Terms]:
    """Return the title and the terms of a check; `set_terms` refuses what cannot be."""
    title = reading.words(f"{stem}title", most=200)
    if not title:
        raise BadInput("A check says what is looked at.", status=422)
    return title, Terms(
        every=whole_or_none(f"{stem}every") or 0,
        unit=choice(f"{stem}unit", IntervalUnit),
        basis=choice(f"{stem}basis", Basis),
        basis_source=reading.words(f"{stem}source", most=500),
        done_by=reading.words(f"{stem}done_by", most=200),
        passes_when=reading.words(f"{stem}passes_when", most=500),
        measure=reading.words(f"{stem}measure", most=20),
        low=reading.words(f"{stem}low", most=40),
        high=reading.words(f"{stem}high", most=40),
    )


def suggestion_or_404(session: Session, draft_id: int, suggestion_id: int) -> SuggestedControl:
    found = session.get(SuggestedControl, suggestion_id)
    if found is None or found.assessment_id != draft_id:
        raise NotFound("Nothing of the kind is suggested in this draft.")
    return found


def decide(
    session: Session,
    draft: RiskAssessment,
    suggested: SuggestedControl,
    decision: Decision,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Take a suggested control, in one of three ways, or leave it out with a reason."""
    if suggested.decided_at is not None:
        raise Refused(
            f"“{suggested.title}” was decided on already, and nothing was changed. Look at it in "
            "its line.",
            code="decided",
        )
    if decision.proved is Proved.LEFT_OUT:
        suggested.left_out_because = decision.words
    else:
        suggested.control_id = _control(session, decision, actor_id=actor_id, now=now).id
        for hazard_id in suggested.hazards:
            _rely(session, hazard_id, suggested.control_id, decision.words, actor_id, now)
    suggested.decided_by_id, suggested.decided_at = actor_id, now
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, f"suggested:{decision.proved.name.lower()}", suggested.id, actor_id, now)


def reopen(
    session: Session,
    draft: RiskAssessment,
    suggested: SuggestedControl,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Look again at a suggestion that was left out."""
    if suggested.decided_at is None or suggested.control_id is not None:
        raise Refused("Only what was left out is looked at again.", code="not-left-out")
    if not suggested.hazards:
        raise Refused("The line that it answers is not in this draft any more.", code="no-line")
    suggested.left_out_because = ""
    suggested.decided_by_id = suggested.decided_at = None
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, "suggested:reopen", suggested.id, actor_id, now)


def add(
    session: Session,
    draft: RiskAssessment,
    line: Hazard,
    decision: Decision,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Let a line rely on a control that nobody suggested."""
    if decision.proved is Proved.LEFT_OUT:
        raise BadInput("What was not suggested cannot be left out.", status=422)
    control = _control(session, decision, actor_id=actor_id, now=now)
    if session.get(HazardControl, (line.id, control.id)) is not None:
        raise Refused(f"The line relies on “{control.title}” already.", code="there", status=422)
    _rely(session, line.id, control.id, decision.words, actor_id, now)
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, "add", control.id, actor_id, now)


def say_proof(
    session: Session,
    draft: RiskAssessment,
    line: Hazard,
    control_id: int,
    *,
    words: str,
    actor_id: int,
    now: datetime,
) -> None:
    """Say how a control that the line relies on is proved here; a copied one is confirmed by it."""
    row = relied_or_404(session, line, control_id)
    proved = session.execute(select(Check.id).where(Check.control_id == control_id)).first()
    if not words and proved is None:
        raise Refused(
            "No check proves this control: say how it is proved here.", code="proof", status=422
        )
    row.proved_here = words
    row.to_confirm, row.confirmed_by_id, row.confirmed_at = False, actor_id, now
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, "prove", control_id, actor_id, now)


def take_away(
    session: Session,
    draft: RiskAssessment,
    line: Hazard,
    control_id: int,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Let a line rely on a control no more. The control and its checks stay on the register."""
    session.delete(relied_or_404(session, line, control_id))
    mark(draft, actor_id=actor_id, now=now)
    _log(session, draft, "take-away", control_id, actor_id, now)


def relied_or_404(session: Session, line: Hazard, control_id: int) -> HazardControl:
    found = session.get(HazardControl, (line.id, control_id))
    if found is None:
        raise NotFound("The line does not rely on such a control.")
    return found


def controls_of_the_site(session: Session) -> list[tuple[Control, bool]]:
    """Return every control of the site, by title, and whether a check proves it."""
    proved = select(Check.id).where(Check.control_id == Control.id).exists()
    rows = session.execute(select(Control, proved).order_by(Control.title, Control.id))
    return [(control, bool(has)) for control, has in rows]


def _control(session: Session, decision: Decision, *, actor_id: int, now: datetime) -> Control:
    if decision.control_id is not None:
        found = session.get(Control, decision.control_id)
        if found is None:
            raise NotFound("The site has no such control.")
        return found
    control = Control(title=decision.title, level=int(decision.level), details=decision.details)
    session.add(control)
    session.flush()
    scope = Scope.CONTROL if decision.shared else Scope.MACHINE
    for title, terms in decision.checks:
        check = Check(control_id=control.id, title=title, scope=scope)
        session.add(check)
        session.flush()
        set_terms(session, check, terms, actor_id=actor_id, now=now)
    return control


def _rely(
    session: Session, hazard_id: int, control_id: int, words: str, actor_id: int, now: datetime
) -> None:
    row = session.get(HazardControl, (hazard_id, control_id))
    if row is None:
        row = HazardControl(hazard_id=hazard_id, control_id=control_id, proved_here="")
        session.add(row)
    row.proved_here = words or row.proved_here
    row.to_confirm, row.confirmed_by_id, row.confirmed_at = False, actor_id, now
    session.flush()


def _log(
    session: Session, draft: RiskAssessment, verb: str, about: int, actor_id: int, now: datetime
) -> None:
    session.flush()
    log.record(
        session,
        action=f"risk_assessments:control:{verb}",
        subject=f"risk_assessment:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"about": about, "version": draft.version},
    )


def proposed(checks: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    """Return the checks that a kind proposes, as the form shows them."""
    return [{name: str(check.get(name, "")) for name in PROPOSED} for check in checks[:MOST_CHECKS]]


PROPOSED = (
    "title",
    "every",
    "unit",
    "basis",
    "source",
    "done_by",
    "passes_when",
    "measure",
    "low",
    "high",
    "note",
)
