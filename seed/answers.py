"""Ask the program what a scan would answer."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from app.clearance.decision import Clearance, decide
from app.clearance.facts import Beside, gather, machine_files
from app.dates import local_date
from app.people.identity import identities
from seed.register import site_of_the_demo


def clearance(
    session: Session,
    *,
    machine_id: int,
    person_id: int | None,
    now: datetime,
    supervisor_id: int | None = None,
) -> Clearance:
    """Return the answer that a scan gives, by the program's own way."""
    site = site_of_the_demo(now)
    file = machine_files(session, [machine_id], at=now)[machine_id]
    person = None
    if person_id is not None:
        day = local_date(now, site.tz)
        person = identities(session, [person_id], day, at=now)[person_id]
    beside = Beside(supervisor_id=supervisor_id)
    return decide(gather(session, file, person, now=now, zone=site.tz, moment=beside))
