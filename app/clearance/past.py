"""Ask a start that was kept again: by the same rules, as known then or as known now."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.clearance.decision import Clearance, decide
from app.clearance.facts import Beside, gather
from app.clearance.machine_facts import machine_files
from app.dates import local_date
from app.people.identity import identities
from app.presence.models import Start


def asked_again(
    session: Session, start: Start, zone: ZoneInfo, *, known: datetime | None = None
) -> Clearance:
    """Return the answer at the moment of a start; with ``known`` from what was recorded by then.

    As known at ``start.recorded_at`` and by the rules of ``start.rules`` it is the answer that
    was kept. Of a time when presences were not kept the moment is not asked.
    """
    at = start.occurred_at
    file = machine_files(session, [start.machine_id], at=at, known=known)[start.machine_id]
    person = identities(session, [start.person_id], local_date(at, zone), at=at, known=known)[
        start.person_id
    ]
    started_by = start.recorded_by_id if start.recorded_by_id != start.person_id else None
    beside = Beside(
        partner_id=start.partner_id,
        # Whoever started somebody else stood there.
        supervisor_id=start.supervisor_id or started_by,
    )
    moment = None if start.runs_out_at is None else beside
    return decide(gather(session, file, person, now=at, zone=zone, moment=moment, known=known))
