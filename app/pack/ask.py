"""Ask for a pack: one job, whose choice is all that the worker needs."""

from __future__ import annotations

import hashlib
import json
import secrets
from datetime import date, datetime

from sqlalchemy.orm import Session

from app.audit import log
from app.jobs import outbox
from app.jobs.models import Job
from app.pack.asked import Asked, insist

PACK_JOB = "audit-pack"


def new_seed() -> str:
    """Return a seed for whoever names none. It stands in the pack, so that anybody picks again."""
    return secrets.token_hex(4)


def ask(
    session: Session,
    asked: Asked,
    *,
    signatory: str,
    page: str,
    actor_id: int | None,
    now: datetime,
    today: date,
) -> Job:
    """Ask the worker for a pack. The same choice asked at the same moment is one pack."""
    insist(asked, today=today)
    payload = asked.payload() | {"signatory": signatory}
    digest = hashlib.sha256(json.dumps(payload, sort_keys=True).encode()).hexdigest()
    job = outbox.ask(
        session,
        PACK_JOB,
        key=f"{PACK_JOB}:{digest[:40]}",
        payload=payload,
        now=now,
        title=f"{asked.reference}, {asked.first_on.isoformat()} to {asked.last_on.isoformat()}",
        asked_by_id=actor_id,
        page=page,
    )
    log.record(
        session,
        action="pack:pack:ask",
        subject=f"job:{job.id}",
        actor_id=actor_id,
        now=now,
        detail={"first_on": payload["first_on"], "last_on": payload["last_on"],
                "areas": payload["areas"], "samples": asked.samples},
    )  # fmt: skip
    return job
