"""One of everything that an address about findings, drills and certificates can name."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.oversight import findings, readiness
from app.oversight.models import AidDuty, DrillKind, Weight
from tests.factories import Workshop


def about_oversight(session: Session, shop: Workshop) -> dict[str, str | int]:
    today = shop.now.date()
    by = {"actor_id": shop.chief.id, "now": shop.now, "today": today}
    found = findings.record_finding(
        session,
        findings.Found(
            audit="Yearly audit",
            reference="3",
            weight=Weight.OBSERVATION,
            words="A ladder without a number",
            area_id=None,
            found_on=today,
        ),
        findings.ToDo(what="Number it", owner="Bay", due_on=today),
        **by,
    )
    held = readiness.Held(
        kind=DrillKind.SPILL, area_id=None, held_on=today, people=3, minutes=None, learnt=""
    )
    drill = readiness.record_drill(session, held, **by)
    certified = readiness.Certified(
        person_id=shop.author.id,
        duty=AidDuty.FIRST_AIDER,
        certificate="First aid at work",
        issued_by="A trainer",
        issued_on=today,
        expires_on=None,
    )
    certificate = readiness.record_certificate(session, certified, **by)
    return {
        "audit_finding_id": found.id,
        "drill_id": drill.id,
        "certificate_id": certificate.id,
    }
