"""The hazard lines of a draft as the document tells them: controls, proofs and numbers beside."""

from __future__ import annotations

from collections import defaultdict

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.hazards.due import IntervalUnit, interval_words
from app.hazards.findings import findings_of
from app.hazards.models import Basis, CheckTerms, Control, Hazard, HazardControl
from app.risk_assessments.proved import checks_with_terms
from assessments.document import content as doc
from assessments.document import frozen
from assessments.hierarchy import Level
from assessments.rating import Rating


def hazard_lines(session: Session, assessment_id: int) -> tuple[doc.HazardLine, ...]:
    hazards = session.execute(
        select(Hazard)
        .where(Hazard.assessment_id == assessment_id)
        .order_by(Hazard.position, Hazard.id)
    ).scalars()
    controls = _controls(session, assessment_id)
    findings = _findings(session, assessment_id)
    return tuple(
        doc.HazardLine(
            kind=hazard.kind,
            sign=hazard.sign,
            how=hazard.how,
            who=tuple(hazard.who),
            states=tuple(hazard.states),
            controls=tuple(controls[hazard.id]),
            findings=tuple(findings[hazard.id]),
            before=Rating(severity=hazard.severity_before, likelihood=hazard.likelihood_before),
            after=Rating(severity=hazard.severity_after, likelihood=hazard.likelihood_after),
            residual=hazard.residual,
            reason=hazard.reason,
            source=hazard.source,
        )
        for hazard in hazards
    )


def _controls(session: Session, assessment_id: int) -> dict[int, list[doc.ControlLine]]:
    rows = session.execute(
        select(HazardControl, Control)
        .join(Control, Control.id == HazardControl.control_id)
        .join(Hazard, Hazard.id == HazardControl.hazard_id)
        .where(Hazard.assessment_id == assessment_id)
        .order_by(HazardControl.hazard_id, Control.level, Control.id)
    ).all()
    proofs = _proofs(session, {control.id for _, control in rows})
    lines: dict[int, list[doc.ControlLine]] = defaultdict(list)
    for relied_on, control in rows:
        lines[relied_on.hazard_id].append(
            doc.ControlLine(
                level=Level(control.level),
                title=control.title,
                details=control.details,
                proofs=tuple(proofs[control.id]),
                proved_here=relied_on.proved_here,
            )
        )
    return lines


def _proofs(session: Session, control_ids: set[int]) -> dict[int, list[doc.Proof]]:
    proofs: dict[int, list[doc.Proof]] = defaultdict(list)
    for check, terms in checks_with_terms(session, control_ids):
        proofs[check.control_id].append(
            doc.Proof(
                title=check.title,
                interval=interval_words(terms.every, terms.unit),
                basis=": ".join(part for part in (terms.basis.value, terms.basis_source) if part),
                done_by=terms.done_by,
                passes_when=_passes_when(terms),
                lapse=_lapse(terms),
            )
        )
    return proofs


def _passes_when(terms: CheckTerms) -> str:
    ends = [f"from {terms.low}" if terms.low else "", f"to {terms.high}" if terms.high else ""]
    if not any(ends):
        return terms.passes_when
    reading = " ".join(end for end in ends if end)
    return f"{terms.passes_when.rstrip('.')}; the reading passes {reading} {terms.measure}"


def _lapse(terms: CheckTerms) -> str:
    if terms.unit is IntervalUnit.USE:
        return "not looked at: nobody starts; failed: out of use for everybody"
    late = (
        "out of use for everybody"
        if terms.basis is Basis.STATUTORY
        else "nobody starts until it has been done"
    )
    return f"late: {late}; failed: out of use for everybody"


def _findings(session: Session, assessment_id: int) -> dict[int, list[doc.Finding]]:
    findings: dict[int, list[doc.Finding]] = defaultdict(list)
    for row in findings_of(session, assessment_id):
        findings[row.hazard_id].append(frozen.thaw_finding(row.content))
    return findings
