"""A use of a machine: begun, kept going, finished, and watched by the supervisor where it had one.

It is a presence until it is finished or runs out, so that a forgotten finish counts for nobody.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, case, func, or_, select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.db import AnyRow
from app.errors import Forbidden, NotFound, Refused
from app.machines.models import Machine
from app.people.models import Person
from app.presence.models import Start, UseExtended, UseFinished, UseWatched

SUPERVISED = "supervised"  # the verdict of a start, as it is kept
DAYS_TO_CONFIRM = 30  # nobody remembers a longer time ago whether a use went well


@dataclass(frozen=True, kw_only=True)
class Begun:
    """What is kept of a start: the answer of that moment, and what the person said."""

    key: str  # of the form: sent twice, kept once
    machine_id: int
    person_id: int
    verdict: str
    reasons: Sequence[str]
    rules: int
    material: str = ""
    partner_id: int | None = None
    supervisor_id: int | None = None


def begin_use(
    session: Session, begun: Begun, *, minutes: int, actor_id: int, now: datetime
) -> Start:
    """Keep a start. It runs out by itself after so many minutes."""
    row = Start(
        key=begun.key,
        machine_id=begun.machine_id,
        person_id=begun.person_id,
        verdict=begun.verdict,
        reasons=list(begun.reasons),
        rules=begun.rules,
        material=begun.material,
        partner_id=begun.partner_id,
        supervisor_id=begun.supervisor_id,
        runs_out_at=now + timedelta(minutes=minutes),
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="scan:start:record",
        subject=f"start:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": row.person_id, "machine": row.machine_id, "verdict": row.verdict}
        | ({"partner": row.partner_id} if row.partner_id else {})
        | ({"supervisor": row.supervisor_id} if row.supervisor_id else {}),
    )
    return row


def runs_out() -> ColumnElement[datetime]:
    """Return, for a row of `Start`, when it runs out: “still here” puts that off."""
    more = aliased(UseExtended)
    later = (
        select(func.max(more.runs_out_at))
        .where(more.start_id == Start.id)
        .correlate(Start)
        .scalar_subquery()
    )
    return func.coalesce(later, Start.runs_out_at)


def is_finished() -> ColumnElement[bool]:
    """Say of a row of `Start` that it was finished."""
    return select(UseFinished.id).where(UseFinished.start_id == Start.id).correlate(Start).exists()


def use_or_404(session: Session, start_id: int) -> Start:
    row = session.get(Start, start_id)
    if row is None:
        raise NotFound("There is no such use.")
    return row


def until(session: Session, start: Start) -> datetime | None:
    """Return when a use runs out; None: of a time when presences were not kept."""
    return session.execute(select(runs_out()).where(Start.id == start.id)).scalar_one()


def running_use(session: Session, *, machine_id: int, person_id: int, at: datetime) -> Start | None:
    """Return the newest use of a machine that this person has not finished nor let run out."""
    return session.execute(
        select(Start)
        .where(
            Start.machine_id == machine_id,
            Start.person_id == person_id,
            runs_out() > at,
            ~is_finished(),
        )
        .order_by(Start.id.desc())
        .limit(1)
    ).scalar_one_or_none()


def _finished(session: Session, start: Start) -> bool:
    asked = select(UseFinished.id).where(UseFinished.start_id == start.id)
    return session.execute(asked).first() is not None


def finish_use(session: Session, start: Start, *, actor_id: int, now: datetime) -> bool:
    """Finish a use; return False where that had been done before."""
    if _finished(session, start):
        return False
    session.add(
        UseFinished(start_id=start.id, recorded_by_id=actor_id, occurred_at=now, recorded_at=now)
    )
    log.record(
        session,
        action="presence:use:finish",
        subject=f"start:{start.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": start.person_id, "machine": start.machine_id},
    )
    return True


def extend_use(
    session: Session, start: Start, *, minutes: int, actor_id: int, now: datetime
) -> datetime:
    """Let a use run out later, counted from now; return when. What ran out is started anew."""
    ends_at = until(session, start)
    if _finished(session, start):
        raise Refused("That use was finished. Scan the code to start again.", code="finished")
    if ends_at is None or ends_at <= now:
        raise Refused("That use has run out. Scan the code to start again.", code="run-out")
    later = now + timedelta(minutes=minutes)
    if later - ends_at < timedelta(minutes=1):
        return ends_at  # tapped twice
    session.add(
        UseExtended(
            start_id=start.id,
            runs_out_at=later,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="presence:use:extend",
        subject=f"start:{start.id}",
        actor_id=actor_id,
        now=now,
    )
    return later


# --- what a supervisor watched -----------------------------------------------------------


def _supervisor() -> ColumnElement[int | None]:
    """Return, for a row of `Start`, who supervised it: whoever started somebody else did."""
    other = case((Start.recorded_by_id != Start.person_id, Start.recorded_by_id))
    return func.coalesce(Start.supervisor_id, other)


def to_confirm(session: Session, supervisor_id: int, *, at: datetime) -> list[AnyRow]:
    """Return supervised uses that are over and that this supervisor has not spoken of yet."""
    watched = select(UseWatched.id).where(UseWatched.start_id == Start.id).correlate(Start)
    return list(
        session.execute(
            select(
                Start.id,
                Start.occurred_at,
                Person.name.label("person"),
                Machine.name.label("machine"),
            )
            .join(Person, Person.id == Start.person_id)
            .join(Machine, Machine.id == Start.machine_id)
            .where(
                Start.verdict == SUPERVISED,
                _supervisor() == supervisor_id,
                Start.occurred_at > at - timedelta(days=DAYS_TO_CONFIRM),
                or_(is_finished(), runs_out() <= at),
                ~watched.exists(),
            )
            .order_by(Start.id)
        )
    )


def watched_use(
    session: Session,
    start: Start,
    *,
    went_well: bool,
    note: str,
    actor_id: int,
    now: datetime,
) -> bool:
    """Keep the supervisor's word on a use that is over; return False where it is kept already.

    One that went well counts toward working alone. The note is private words.
    """
    theirs = session.execute(select(_supervisor()).where(Start.id == start.id)).scalar_one()
    if start.verdict != SUPERVISED or theirs != actor_id:
        raise Forbidden("Only whoever supervised this use says how it went.")
    asked = select(UseWatched.id).where(UseWatched.start_id == start.id)
    if session.execute(asked).first() is not None:
        return False
    ends_at = until(session, start)
    if not _finished(session, start) and ends_at is not None and ends_at > now:
        raise Refused("That use is not finished yet.", code="running")
    if not went_well and not note:
        raise Refused("Say what did not go well.", code="note-missing", status=422)
    session.add(
        UseWatched(
            start_id=start.id,
            supervisor_id=actor_id,
            went_well=went_well,
            note_digest=log.keep_note(session, note, now=now),
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="presence:use:watch",
        subject=f"start:{start.id}",
        actor_id=actor_id,
        now=now,
        detail={"person": start.person_id, "machine": start.machine_id, "well": went_well},
    )
    return True
