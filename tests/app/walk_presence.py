"""The part of the walk that is about who is here: a use, a job, a loan, a booking."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy.orm import Session

from app.machines.models import Machine
from app.people.models import Person
from app.presence.bookings import book
from app.presence.jobs import leave_running
from app.presence.loans import Terms, lend
from app.presence.uses import Begun, begin_use
from tests.factories import ZONE, Workshop


def about_presence(
    session: Session, shop: Workshop, machine: Machine, technician: Person, *, key: str
) -> dict[str, str | int]:
    """Return one of everything that an address about who is here can name."""
    by, later = {"actor_id": technician.id, "now": shop.now}, shop.now + timedelta(hours=2)
    begun = [
        begin_use(
            session,
            Begun(
                key=f"{key}-{number}",
                machine_id=machine.id,
                person_id=technician.id,
                verdict="cleared",
                reasons=[],
                rules=1,
            ),
            minutes=120,
            **by,
        )
        for number in (1, 2)
    ]
    job = leave_running(
        session,
        begun[0],
        what="Firing",
        contact_id=technician.id,
        reach="By the bell",
        expected_end_at=later,
        **by,
    )
    loan = lend(
        session,
        machine,
        person_id=technician.id,
        terms=Terms(condition="whole", accessories="", place="Studio", due_at=later),
        check_ids=[],
        zone=ZONE,
        **by,
    )
    kept = book(
        session,
        machine,
        person_id=technician.id,
        starts_at=later,
        ends_at=later + timedelta(hours=1),
        calendar=None,
        zone=ZONE,
        **by,
    )
    return {
        "start_id": begun[1].id,
        "job_id": job.id,
        "loan_id": loan.id,
        "booking_id": kept.id,
    }
