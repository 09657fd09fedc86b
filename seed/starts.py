"""Plant who has started what this morning, each with the answer that was given then."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import select

from app.audit import log
from app.clearance.decision import RULES
from app.presence.models import Start, UseFinished
from seed.answers import clearance
from seed.ground import Ground
from seed.stories import STARTED, Started

FINISHED = 11  # minutes ago


def plant_starts(ground: Ground) -> None:
    for started in STARTED:
        _start(ground, started)
    for started in STARTED:
        if started.finished:
            _finish(ground, _key(started))


def _start(ground: Ground, started: Started) -> None:
    session, at = ground.session, ground.earlier_today(started.minutes_ago)
    machine_id, person_id = ground.machines[started.machine], ground.people[started.login]
    supervisor_id = ground.people[started.by] if started.by else None
    answer = clearance(
        session,
        machine_id=machine_id,
        person_id=person_id,
        now=at,
        supervisor_id=supervisor_id,
    )
    row = Start(
        key=_key(started),
        machine_id=machine_id,
        person_id=person_id,
        supervisor_id=supervisor_id,
        runs_out_at=at + timedelta(minutes=ground.site.presence_minutes),
        recorded_by_id=ground.people[started.by or started.login],
        verdict=answer.verdict.words,
        reasons=[reason.code.value for reason in answer.reasons],
        rules=RULES,
        occurred_at=at,
        recorded_at=at,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="scan:start:record",
        subject=f"start:{row.id}",
        actor_id=row.recorded_by_id,
        now=at,
        detail={"person": person_id, "machine": machine_id, "verdict": row.verdict},
    )


def _finish(ground: Ground, key: str) -> None:
    """Finish a use, a little before now."""
    session = ground.session
    start = session.execute(select(Start).where(Start.key == key)).scalar_one()
    at = max(start.occurred_at, ground.earlier_today(FINISHED))
    session.add(
        UseFinished(
            start_id=start.id,
            recorded_by_id=start.person_id,
            occurred_at=at,
            recorded_at=at,
        )
    )
    session.flush()
    log.record(
        session,
        action="presence:use:finish",
        subject=f"start:{start.id}",
        actor_id=start.person_id,
        now=at,
    )


def _key(started: Started) -> str:
    return f"planted-{started.machine}-{started.login}"
