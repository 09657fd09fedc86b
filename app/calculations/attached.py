"""Findings beside a hazard line of a draft: attached, and ended by a later row."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.hazards.findings import standing
from app.hazards.models import Hazard, HazardFinding
from assessments.document.frozen import digest, freeze_finding
from assessments.finding import Finding
from assessments.limits import SITE


def hazard_or_404(session: Session, hazard_id: int) -> Hazard:
    hazard = session.get(Hazard, hazard_id)
    if hazard is None:
        raise NotFound("There is no such hazard line.")
    return hazard


def open_findings(session: Session, hazard_id: int) -> list[HazardFinding]:
    """Return the findings that stand beside a hazard line, oldest first."""
    return list(session.execute(standing().where(HazardFinding.hazard_id == hazard_id)).scalars())


def attach(
    session: Session,
    hazard: Hazard,
    finding: Finding,
    *,
    actor_id: int,
    now: datetime,
    limits: str = SITE,
    taken_from: Mapping[str, int] | None = None,
) -> HazardFinding:
    """Freeze a finding beside a hazard line.  Refused if the very same one stands there.

    ``limits`` is whose it was held against, and ``taken_from`` names the machine data that
    stand in its inputs.
    """
    text = freeze_finding(finding)
    if any(row.digest == digest(text) for row in open_findings(session, hazard.id)):
        raise Refused("This very finding stands beside the hazard already.", code="attached")
    row = HazardFinding(
        hazard_id=hazard.id,
        method=finding.method,
        content=text,
        digest=digest(text),
        limits=limits,
        taken_from=dict(taken_from or {}),
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    _record(session, row, "attach")
    return row


def end(
    session: Session, hazard: Hazard, finding_id: int, *, actor_id: int, now: datetime
) -> HazardFinding:
    """End a finding by a row that names it and repeats it; the old row stays as it is."""
    old = next((row for row in open_findings(session, hazard.id) if row.id == finding_id), None)
    if old is None:
        raise NotFound("No such finding stands beside this hazard.")
    row = HazardFinding(
        hazard_id=hazard.id,
        method=old.method,
        content=old.content,
        digest=old.digest,
        limits=old.limits,
        taken_from=old.taken_from,
        ends_id=old.id,
        recorded_by_id=actor_id,
        recorded_at=now,
    )
    _record(session, row, "end")
    return row


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
            "data": sorted(set(row.taken_from.values())),
        },
    )
