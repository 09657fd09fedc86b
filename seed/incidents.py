"""Plant what stopped people and machines: revocations, suspensions, holds, a closed area."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from app.audit import log
from app.faults.models import ReportKind
from app.faults.report import Told, keep_report
from app.inductions.published import published
from app.machines import holds
from app.machines.models import AreaClosure, Hold, Machine, MachineHold
from app.reporting.snapshot import snapshot
from app.training.competence import revoke
from app.training.suspension import open_suspensions, restore, suspend
from seed.ground import Ground
from seed.stories import CLOSED, HELD, REVOKED, SUSPENDED, Held, Revoked, Suspended


def plant_incidents(ground: Ground) -> None:
    for revoked in REVOKED:
        ground.then(ground.at(revoked.days_ago, 16), partial(_revoke, ground, revoked))
    for suspended in SUSPENDED:
        ground.then(ground.at(suspended.days_ago, 16), partial(_suspend, ground, suspended))
        if suspended.lifted_days_ago:
            at = ground.at(suspended.lifted_days_ago, 9)
            ground.then(at, partial(_restore, ground, suspended))
    for held in HELD:
        ground.then(ground.at(held.days_ago, 14), partial(_hold, ground, held))
        if held.returned_days_ago:
            ground.then(ground.at(held.returned_days_ago, 10), partial(_return, ground, held))
    ground.then(ground.at(CLOSED[2], 17), partial(_close, ground))


def _revoke(ground: Ground, revoked: Revoked, at: datetime) -> None:
    revoke(
        ground.session,
        actor=ground.actor(revoked.by, at),
        person_id=ground.people[revoked.login],
        taught=published(ground.session, ground.inductions[revoked.induction]),
        reason=revoked.reason,
        now=at,
    )


def _suspend(ground: Ground, suspended: Suspended, at: datetime) -> None:
    suspend(
        ground.session,
        actor=ground.actor(suspended.by, at),
        person_id=ground.people[suspended.login],
        reason=suspended.reason,
        area_id=ground.areas[suspended.area] if suspended.area else None,
        machine_id=ground.machines[suspended.machine] if suspended.machine else None,
        now=at,
    )


def _restore(ground: Ground, suspended: Suspended, at: datetime) -> None:
    restore(
        ground.session,
        actor=ground.actor(suspended.by, at),
        suspension=open_suspensions(ground.session, ground.people[suspended.login])[0],
        reason="Talked through, watched at two cuts.",
        now=at,
    )


def _hold(ground: Ground, held: Held, at: datetime) -> None:
    machine = ground.session.get_one(Machine, ground.machines[held.machine])
    actor_id = ground.people[held.by]
    if not held.scene:
        holds.take_out(ground.session, machine, why=held.why, actor_id=actor_id, now=at)
        return
    near_miss = Told(
        key=f"near-miss-{held.machine.lower()}",
        kind=ReportKind.NEAR_MISS,
        what=held.why,
        stopped=False,  # the scene is kept, which stops it
        photo_digest=None,
        occurred_at=at,
    )
    site = ground.site
    keep_report(
        ground.session,
        machine,
        near_miss,
        reporter_id=actor_id,
        snapshot=snapshot(ground.session, machine.id, reporter_id=actor_id, at=at, site=site),
        site=site,
        now=at,
    )
    row = MachineHold(
        machine_id=machine.id,
        hold=Hold.SCENE_PRESERVED,
        why=held.why,
        recorded_by_id=actor_id,
        occurred_at=at,
        recorded_at=at,
    )
    ground.session.add(row)
    ground.session.flush()
    log.record(
        ground.session,
        action="machines:hold:set",
        subject=f"machine:{machine.id}",
        actor_id=actor_id,
        now=at,
        detail={"hold": row.id},
    )


def _return(ground: Ground, held: Held, at: datetime) -> None:
    (hold,) = holds.open_holds(ground.session, ground.machines[held.machine])
    holds.return_to_use(
        ground.session, hold, tests=held.tests, actor_id=ground.people[held.by], now=at
    )


def _close(ground: Ground, at: datetime) -> None:
    area, by, _, why = CLOSED
    row = AreaClosure(
        area_id=ground.areas[area],
        why=why,
        recorded_by_id=ground.people[by],
        occurred_at=at,
        recorded_at=at,
    )
    ground.session.add(row)
    ground.session.flush()
    log.record(
        ground.session,
        action="machines:area:close",
        subject=f"area:{row.area_id}",
        actor_id=row.recorded_by_id,
        now=at,
        detail={"closure": row.id},
    )
