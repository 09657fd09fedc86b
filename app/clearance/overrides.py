"""Overrides: granted for a time and for one condition, ended early, looked through afterwards.

What may be lifted, to what and by which right stands in `lifting`; here is who grants it to
whom, until when at most, and who looks at it afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.clearance.codes import Code, Reason, Verdict
from app.clearance.decision import Clearance
from app.clearance.lifting import LIFTABLE, Lift
from app.clearance.models import Override
from app.dates import day_begins
from app.db import stands
from app.errors import Forbidden, NotFound, Refused
from app.machines.models import Machine
from app.machines.opening import calendar_of
from app.people.identity import Actor
from app.people.rights import Act

MOST_PERMIT_DAYS = 14
# When a look afterwards is late, and what counts as a repeat: our own choice, no standard's.
LOOKED_AT_WITHIN = timedelta(days=7)
LATELY = timedelta(days=28)
REPEATED_FOR_ONE_PERSON, REPEATED_BY_ONE_GRANTOR = 2, 3


# --- what may be lifted --------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A condition that may be lifted now for this person here, by whoever asks."""

    code: Code
    reasons: tuple[Reason, ...]  # as they stand now; none: a permit given ahead of the hour
    becomes: Verdict
    latest: datetime  # until when at most


def offers(session: Session, clearance: Clearance, actor: Actor) -> list[Offer]:
    """Return what the actor may lift: what stands against the person now, and no machine's fault.

    A permit is also given ahead: who asks for one for the evening asks while it is still day.
    """
    facts = clearance.facts
    found = []
    for code, lift in LIFTABLE.items():
        if not actor.may(lift.act, area_id=facts.machine.area_id):
            continue
        reasons = tuple(r for r in clearance.reasons if r.code is code)
        if reasons or (lift.act is Act.PERMIT and _by_hours(session, clearance, code)):
            found.append(
                Offer(
                    code=code,
                    reasons=reasons,
                    becomes=lift.becomes,
                    latest=latest(lift, clearance),
                )
            )
    return found


def _by_hours(session: Session, clearance: Clearance, code: Code) -> bool:
    """Say whether the hours of the area will raise this condition at some time."""
    machine = clearance.facts.machine
    if code is Code.UNSTAFFED and all(c.unstaffed for c in machine.conditions):
        return False
    if any(each.reason.code is code for each in clearance.lifted):
        return False
    return bool(calendar_of(session, machine.area_id).hours)


def latest(lift: Lift, clearance: Clearance) -> datetime:
    """Return until when a lift holds at most: the end of today, or of a permit's last day."""
    facts = clearance.facts
    days = MOST_PERMIT_DAYS if lift.act is Act.PERMIT else 0
    return day_begins(facts.today + timedelta(days=days + 1), facts.zone)


# --- granted and ended ---------------------------------------------------------------------


def grant(
    session: Session,
    *,
    clearance: Clearance,
    actor: Actor,
    code: Code,
    until: datetime,
    reason: str,
    now: datetime,
) -> Override:
    """Let a person in on one condition, until then. Nobody does it for themself."""
    person, machine = clearance.facts.person, clearance.facts.machine
    if person is None:
        raise NotFound("There is nobody under that number.")
    if person.id == actor.id:
        raise Forbidden("Nobody lifts a condition for themself.")
    offer = next((each for each in offers(session, clearance, actor) if each.code is code), None)
    if offer is None:
        raise Refused(
            "That does not stand against this person here now, or you may not lift it.",
            code="not-liftable",
        )
    if not reason.strip():
        raise Refused("Say why.", code="reason-missing", status=422)
    if not now < until <= offer.latest:
        raise Refused(
            "That is too long, or over already: see until when it can hold at most.",
            code="until",
            status=422,
        )
    if any(
        (row.machine_id, row.lifts) == (machine.id, code) for row in _open(session, person.id, now)
    ):
        raise Refused("That is lifted already. End it first to change its end.", code="lifted")
    row = Override(
        person_id=person.id,
        machine_id=machine.id,
        lifts=code.value,
        note_digest=log.keep_note(session, reason, now=now),
        until=until,
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    _keep(session, row, "clearance:override:grant")
    return row


def _open(session: Session, person_id: int, now: datetime) -> Iterable[Override]:
    return session.execute(
        select(Override).where(
            Override.person_id == person_id, Override.until > now, stands(Override)
        )
    ).scalars()


def end(session: Session, row: Override, *, actor: Actor, now: datetime) -> None:
    """End an override early: whoever granted it, and whoever could have."""
    if not may_end(session, row, actor):
        raise Forbidden("You may not end this.")
    standing = select(Override.id).where(
        Override.id == row.id, Override.until > now, stands(Override)
    )
    if session.execute(standing).first() is None:
        raise Refused("It is over already.", code="over")
    ending = Override(
        person_id=row.person_id,
        machine_id=row.machine_id,
        lifts=row.lifts,
        until=row.until,
        ends_id=row.id,
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    _keep(session, ending, "clearance:override:end")


def may_end(session: Session, row: Override, actor: Actor) -> bool:
    area_id = session.get_one(Machine, row.machine_id).area_id
    lift = LIFTABLE.get(Code(row.lifts))
    return lift is not None and actor.may(lift.act, area_id=area_id)


def _keep(session: Session, row: Override, action: str) -> None:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"override:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={
            "person": row.person_id,
            "machine": row.machine_id,
            "lifts": row.lifts,
            "until": row.until.isoformat(),
        },
    )
