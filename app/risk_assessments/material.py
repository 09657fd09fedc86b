"""Whether a change is material whatever its author says: people must be briefed again."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.hazards.models import Check, Hazard, HazardControl
from app.risk_assessments.conditions import Conditions, conditions_of
from app.risk_assessments.models import (
    AssessmentInduction,
    AssessmentMachine,
    Fate,
    Revision,
    RevisionCheck,
    RevisionConditions,
    RevisionFate,
    RevisionInduction,
    RevisionMachine,
    RiskAssessment,
)
from app.risk_assessments.run_mode import RunMode


@dataclass(frozen=True, kw_only=True)
class Enforced:
    """What the scan enforces of an assessment; the rows by their numbers."""

    machines: frozenset[int]
    run_mode: RunMode
    inductions: frozenset[int]
    checks: frozenset[int]
    conditions: Conditions | None = None


def reasons(before: Enforced | None, after: Enforced, *, material_since: bool) -> list[str]:
    """Say why the change from the newest approved wording is material. Pure.

    ``material_since`` says that a material revision was submitted after the approved one and
    not approved: what it changed is still in the draft, and nobody was briefed on it.
    """
    if before is None:
        return ["no revision was approved before"]
    found = {
        "it covers other machines": before.machines != after.machines,
        "the run mode differs": before.run_mode != after.run_mode,
        "an induction is no longer required": bool(before.inductions - after.inductions),
        "a check is no longer required": bool(before.checks - after.checks),
        "the conditions of use differ": before.conditions != after.conditions,
        "a material revision before it was not approved": material_since,
    }
    return [words for words, holds in found.items() if holds]


def why_material(session: Session, assessment: RiskAssessment) -> list[str]:
    """Say why the draft, as it stands, is a material change; nothing if its author decides."""
    newest = _newest_approved(session, assessment.id)
    return reasons(
        _enforced(session, newest) if newest is not None else None,
        _drafted(session, assessment),
        material_since=_material_since(session, assessment.id, newest, None),
    )


def why_material_of(session: Session, revision: Revision) -> list[str]:
    """Say why a submitted revision is a material change; nothing if its approver decides."""
    newest = _newest_approved(session, revision.assessment_id, before=revision.number)
    return reasons(
        _enforced(session, newest) if newest is not None else None,
        _enforced(session, revision),
        material_since=_material_since(
            session, revision.assessment_id, newest, before=revision.number
        ),
    )


def _newest_approved(
    session: Session, assessment_id: int, *, before: int | None = None
) -> Revision | None:
    """Return the newest approved revision, of those numbered before another if one is named."""
    found = select(Revision).where(
        Revision.assessment_id == assessment_id,
        Revision.id.in_(select(RevisionFate.revision_id).where(RevisionFate.fate == Fate.APPROVED)),
    )
    if before is not None:
        found = found.where(Revision.number < before)
    return session.execute(found.order_by(Revision.number.desc()).limit(1)).scalar_one_or_none()


def _material_since(
    session: Session, assessment_id: int, newest: Revision | None, before: int | None
) -> bool:
    """Say whether a material revision was submitted after the approved one and not approved."""
    since = select(Revision.id).where(
        Revision.assessment_id == assessment_id,
        Revision.number > (newest.number if newest is not None else 0),
        Revision.material.is_(True),
    )
    if before is not None:
        since = since.where(Revision.number < before)
    return session.execute(since.limit(1)).first() is not None


def _enforced(session: Session, revision: Revision) -> Enforced:
    machines = select(RevisionMachine.machine_id).where(RevisionMachine.revision_id == revision.id)
    inductions = select(RevisionInduction.induction_id).where(
        RevisionInduction.revision_id == revision.id
    )
    checks = select(RevisionCheck.check_id).where(RevisionCheck.revision_id == revision.id)
    conditions = session.execute(
        select(RevisionConditions).where(RevisionConditions.revision_id == revision.id)
    ).scalar_one_or_none()
    return Enforced(
        machines=frozenset(session.execute(machines).scalars()),
        run_mode=revision.run_mode,
        inductions=frozenset(session.execute(inductions).scalars()),
        checks=frozenset(session.execute(checks).scalars()),
        conditions=_conditions(conditions) if conditions is not None else None,
    )


def _conditions(row: RevisionConditions) -> Conditions:
    return Conditions(
        **{name: getattr(row, name) for name in Conditions.__dataclass_fields__}
        | {"equipment": tuple(row.equipment)}
    )


def _drafted(session: Session, assessment: RiskAssessment) -> Enforced:
    machines = select(AssessmentMachine.machine_id).where(
        AssessmentMachine.assessment_id == assessment.id
    )
    inductions = select(AssessmentInduction.induction_id).where(
        AssessmentInduction.assessment_id == assessment.id
    )
    return Enforced(
        machines=frozenset(session.execute(machines).scalars()),
        run_mode=assessment.run_mode,
        inductions=frozenset(session.execute(inductions).scalars()),
        checks=frozenset(check_ids(session, assessment.id)),
        conditions=conditions_of(assessment.prose),
    )


def check_ids(session: Session, assessment_id: int) -> list[int]:
    """Return the checks that the draft's controls rely on."""
    return list(
        session.execute(
            select(Check.id)
            .distinct()
            .join(HazardControl, HazardControl.control_id == Check.control_id)
            .join(Hazard, Hazard.id == HazardControl.hazard_id)
            .where(Hazard.assessment_id == assessment_id)
            .order_by(Check.id)
        ).scalars()
    )
