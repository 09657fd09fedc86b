"""One report, for the walk through every page."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.faults.models import ReportKind
from app.faults.report import Told, keep_report
from app.machines.models import Machine
from app.reporting.snapshot import snapshot
from tests.factories import SITE, Workshop

FOLLOWED = "the-key-of-a-report-0123"


def about_faults(session: Session, shop: Workshop, machine: Machine) -> dict[str, str | int]:
    """Return one of everything that an address about reports can name. It stops nothing."""
    told = Told(
        key=FOLLOWED,
        kind=ReportKind.FAULT,
        what="The fence is loose",
        stopped=False,
        photo_digest=None,
        occurred_at=shop.now,
    )
    moment = snapshot(session, machine.id, reporter_id=None, at=shop.now, site=SITE)
    report = keep_report(
        session, machine, told, reporter_id=None, snapshot=moment, site=SITE, now=shop.now
    )
    return {"fault_id": report.id, "followed": FOLLOWED}
