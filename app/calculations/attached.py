"""Findings beside a hazard line of a draft: attached, and ended by a later row."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.errors import NotFound, Refused
from app.hazards.models import Hazard, HazardFinding
from assessments.document.frozen import digest, freeze_finding
from assessments.finding import Finding


def hazard_or_404(session: Session, hazard_id: int) -> Hazard:
    hazard = session.get(Hazard, hazard_id)
    if hazard is None:
        raise NotFound("There is no such hazard line.")
    return hazard


def open_findings(session: Session, hazard_id: int) -> list[HazardFinding]:
    """Return the findings that stand beside a hazard line, oldest first."""
    ending = aliased(HazardFinding)
    return list(
        session.execute(
            select(HazardFinding)
            .where(
                HazardFinding.hazard_id == hazard_id,
                HazardFinding.ends_id.is_(None),
                ~select(ending.id).where(ending.ends_id == HazardFinding.id).exists(),
            )
            .order_by(HazardFinding.id)
        ).scalars()
    )


def attach(
    session: Session, hazard: Hazard, finding: Finding, *, actor_id: int, now: datetime
) -> HazardFinding:
    """Freeze a finding beside a hazard line.  Refused if the very same one stands there."""
    text = freeze_finding(finding)
    if any(row.digest == digest(text) for row in open_findings(session, hazard.id)):
        raise Refused("This very finding stands beside the hazard already.", code="attached")
    row = _row(hazard.id, finding.method, text, actor_id=actor_id, now=now)
    _record(session, row, "attach")
    return row


def end(
    session: Session, hazard: Hazard, finding_id: int, *, actor_id: int, now: datetime
) -> HazardFinding:
    """End a finding by a row that names it and repeats it; the old row stays as it is."""
    old = next((row for row in open_findings(session, hazard.id) if row.id == finding_id), None)
    if old is None:
        raise NotFound("No such finding stands beside this hazard.")
    row = _row(hazard.id, old.method, old.content, actor_id=actor_id, now=now)
    row.ends_id = old.id
    _record(session, row, "end")
    return row


def _row(hazard_id: int, method: str, text: str, *, actor_id: int, now: datetime) -> HazardFinding:
    return HazardFinding(
        hazard_id=hazard_id,
        method=method,
        content=text,
        digest=digest(text),
        recorded_by_id=actor_id,
        recorded_at=now,
    )


def _record(session: Session, row: HazardFinding, verb: str) -> None:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=f"hazards:finding:{verb}",
        subject=f"hazard_finding:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={
            "hazard": row.hazard_id,
            "method": row.method,
            "digest": row.digest,
            "ends": row.ends_id,
        },
    )
