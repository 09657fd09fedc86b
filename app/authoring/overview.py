"""A draft at a glance: its lines with what is open, and what to look at next."""

from __future__ import annotations

from dataclasses import dataclass

from flask import url_for
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.authoring.line import lines_of
from app.calculations.draft_pages import insist_on_writing, rated
from app.errors import NotFound
from app.hazards.findings import findings_of
from app.hazards.models import Hazard, HazardControl
from app.people.access import insist
from app.people.rights import Act
from app.risk_assessments.confirmed import Progress
from app.risk_assessments.models import RiskAssessment
from assessments.rating import Scale


@dataclass(frozen=True, kw_only=True)
class Glance:
    """A hazard line in one row."""

    line: Hazard
    before: str
    after: str
    controls: int
    numbers: int
    open_controls: int  # suggested ones undecided, and copied ones not looked at
    wanting: int  # numbers that were suggested, and none stands beside the line yet


def draft_or_404(session: Session, draft_id: int) -> RiskAssessment:
    found = session.get(RiskAssessment, draft_id)
    if found is None:
        raise NotFound("There is no such draft.")
    return found


def insist_on_author(session: Session, draft: RiskAssessment) -> None:
    """Refuse unless the person signed in may write wherever the draft has a machine."""
    insist(Act.WRITE)
    insist_on_writing(session, draft.id)


def overview(
    session: Session, draft: RiskAssessment, progress: Progress, scale: Scale
) -> list[Glance]:
    """Return the lines of a draft. Three statements."""
    counted = session.execute(
        select(HazardControl.hazard_id, func.count())
        .join(Hazard, Hazard.id == HazardControl.hazard_id)
        .where(Hazard.assessment_id == draft.id)
        .group_by(HazardControl.hazard_id)
    )
    relied_on: dict[int, int] = dict(counted.all())
    numbers = [row.hazard_id for row in findings_of(session, draft.id)]
    copied = [line.id for line, _ in progress.open_controls]
    return [
        Glance(
            line=line,
            before=rated(scale, line.severity_before, line.likelihood_before),
            after=rated(scale, line.severity_after, line.likelihood_after),
            controls=relied_on.get(line.id, 0),
            numbers=numbers.count(line.id),
            open_controls=sum(line.id in each.hazards for each in progress.open_suggestions)
            + copied.count(line.id),
            wanting=0 if line.id in numbers else len(line.suggested),
        )
        for line in lines_of(session, draft.id)
    ]


def next_to_look_at(draft: RiskAssessment, progress: Progress) -> str | None:
    """Return the address of what is to be confirmed next: lines with their controls, then pages."""
    for line in lines_in_order(progress):
        if line in progress.open_lines:
            return url_for("authoring.drafts.line", draft_id=draft.id, hazard_id=line.id)
    for suggested in progress.open_suggestions:
        return url_for(
            "authoring.controls.suggestion", draft_id=draft.id, suggestion_id=suggested.id
        )
    for line, _ in progress.open_controls:
        return url_for(
            "authoring.drafts.line", draft_id=draft.id, hazard_id=line.id, _anchor="controls"
        )
    for page in draft.prose.get("to_confirm", ()):
        return f"/drafts/{draft.id}/{page}"
    return None


def lines_in_order(progress: Progress) -> list[Hazard]:
    return sorted(progress.open_lines, key=lambda line: line.position)


def not_copied(session: Session, draft: RiskAssessment) -> int:
    """Return how many numbers stand beside the lines that this draft was copied from."""
    if draft.copied_from_id is None:
        return 0
    return len(findings_of(session, draft.copied_from_id))
