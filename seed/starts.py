"""Plant who has started what this morning, each with the answer that was given then."""

from __future__ import annotations

from app.audit import log
from app.clearance.decision import RULES
from app.presence.models import Start
from seed.answers import clearance
from seed.ground import Ground
from seed.stories import STARTED, Started


def plant_starts(ground: Ground) -> None:
    for started in STARTED:
        _start(ground, started)


def _start(ground: Ground, started: Started) -> None:
    session, at = ground.session, ground.earlier_today(started.minutes_ago)
    machine_id, person_id = ground.machines[started.machine], ground.people[started.login]
    answer = clearance(session, machine_id=machine_id, person_id=person_id, now=at)
    row = Start(
        key=f"planted-{started.machine}-{started.login}",
        machine_id=machine_id,
        person_id=person_id,
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
