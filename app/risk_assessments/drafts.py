"""The drafts: found by reference, or by a machine that they cover."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.errors import NotFound
from app.machines.models import Machine
from app.risk_assessments.models import AssessmentMachine, RiskAssessment


def draft_or_404(session: Session, reference: str) -> RiskAssessment:
    found = session.execute(
        select(RiskAssessment).where(RiskAssessment.reference == reference)
    ).scalar_one_or_none()
    if found is None:
        raise NotFound("There is no such assessment.")
    return found


def drafts_covering(session: Session, machine_id: int) -> list[RiskAssessment]:
    """Return the drafts that cover a machine, by reference."""
    return list(
        session.execute(
            select(RiskAssessment)
            .join(AssessmentMachine, AssessmentMachine.assessment_id == RiskAssessment.id)
            .where(AssessmentMachine.machine_id == machine_id)
            .order_by(RiskAssessment.reference)
        ).scalars()
    )


def machines_of(session: Session, assessment_id: int) -> list[Machine]:
    """Return the machines that a draft covers, by name."""
    return list(
        session.execute(
            select(Machine)
            .join(AssessmentMachine, AssessmentMachine.machine_id == Machine.id)
            .where(AssessmentMachine.assessment_id == assessment_id)
            .order_by(Machine.name)
        ).scalars()
    )
