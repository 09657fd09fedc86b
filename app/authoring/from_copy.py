"""A draft with the lines and controls of another; each has to be looked at at this machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.authoring.begin import log_begun, new_draft
from app.hazards.findings import findings_of
from app.hazards.models import Hazard, HazardControl, SuggestedControl
from app.risk_assessments.confirmed import PAGES
from app.risk_assessments.models import AssessmentInduction, RiskAssessment


def draft_from_copy(
    session: Session,
    original: RiskAssessment,
    machines: Mapping[int, str],
    *,
    reference: str,
    title: str,
    actor_id: int,
    now: datetime,
) -> RiskAssessment:
    """Begin a draft with the lines and controls of another; each has to be looked at here.

    Its numbers are not copied: they belong to the other machine. The methods behind them stand
    as suggestions beside the lines.
    """
    draft = new_draft(
        session,
        machines,
        reference=reference,
        title=title,
        prose=dict(original.prose) | {"actions": [], "consulted": [], "to_confirm": list(PAGES)},
        run_mode=original.run_mode,
        review_months=original.review_months,
        kind=original.kind,
        copied_from_id=original.id,
        actor_id=actor_id,
        now=now,
    )
    lines = _copied_lines(session, original, draft.id)
    session.add_all(
        HazardControl(
            hazard_id=lines[row.hazard_id],
            control_id=row.control_id,
            proved_here=row.proved_here,
            to_confirm=True,
        )
        for row in session.execute(
            select(HazardControl).where(HazardControl.hazard_id.in_(lines))
        ).scalars()
    )
    _copied_suggestions(session, original.id, draft.id, lines)
    session.add_all(
        AssessmentInduction(assessment_id=draft.id, induction_id=induction_id)
        for induction_id in session.execute(
            select(AssessmentInduction.induction_id).where(
                AssessmentInduction.assessment_id == original.id
            )
        ).scalars()
    )
    log_begun(session, draft, f"copy of {original.id}", actor_id=actor_id, now=now)
    return draft


def _copied_lines(session: Session, original: RiskAssessment, draft_id: int) -> dict[int, int]:
    """Copy the lines; return the new one's id by the old one's."""
    computed: dict[int, list[str]] = {}
    for finding in findings_of(session, original.id):
        computed.setdefault(finding.hazard_id, []).append(finding.method)
    ids = {}
    for old in session.execute(
        select(Hazard).where(Hazard.assessment_id == original.id).order_by(Hazard.position)
    ).scalars():
        row = Hazard(
            assessment_id=draft_id,
            to_confirm=True,
            source=f"copied from {original.reference}" + (f" ({old.source})" if old.source else ""),
            suggested=_methods(old.suggested, computed.get(old.id, []), original.reference),
            **{name: getattr(old, name) for name in COPIED},
        )
        session.add(row)
        session.flush()
        ids[old.id] = row.id
    return ids


COPIED = (
    "position",
    "kind",
    "sign",
    "how",
    "who",
    "states",
    "severity_before",
    "likelihood_before",
    "severity_after",
    "likelihood_after",
    "residual",
    "reason",
)


def _methods(
    suggested: Sequence[dict[str, Any]], computed: Sequence[str], reference: str
) -> list[dict[str, Any]]:
    """Return the methods that were suggested for a line, and those that were used there."""
    known = {each["id"] for each in suggested}
    return [
        *suggested,
        *(
            {
                "id": method,
                "why": f"Stands beside this line in {reference}; compute it for this machine.",
                "inputs": {},
                "ask": [],
                "source": reference,
            }
            for method in dict.fromkeys(computed)
            if method not in known
        ),
    ]


def _copied_suggestions(
    session: Session, original_id: int, draft_id: int, lines: Mapping[int, int]
) -> None:
    """Copy what the other's author has not decided on either."""
    for old in session.execute(
        select(SuggestedControl).where(
            SuggestedControl.assessment_id == original_id, SuggestedControl.decided_at.is_(None)
        )
    ).scalars():
        session.add(
            SuggestedControl(
                assessment_id=draft_id,
                hazards=[lines[each] for each in old.hazards if each in lines],
                **{
                    name: getattr(old, name)
                    for name in ("key", "title", "level", "details", "shared", "source", "checks")
                },
            )
        )
