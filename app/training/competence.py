"""Standing that no checklist gave: outside competence accepted, an induction revoked."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import Forbidden, Refused
from app.inductions.published import Published
from app.people.identity import Actor
from app.people.rights import Act
from app.training.models import Ground, TrainingRecord
from app.training.signoff import expiry
from app.training.standing import Result


def accept_outside_competence(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    taught: Published,
    evidence: str,
    shown_on: date,
    self_allowed: bool,
    now: datetime,
    zone: ZoneInfo,
) -> TrainingRecord:
    """Record a maker's course or an earlier post as competence, accepted by an approver.

    This is how the first technician becomes current, or the only one whose own sign-off
    has lapsed. The validity runs from the day the competence was shown. A revocation is not
    undone by what was shown before it.
    """
    if not actor.may(Act.ACCEPT_COMPETENCE):
        raise Forbidden("Only an approver accepts outside competence.")
    if actor.id == person_id and not self_allowed:
        raise Forbidden("Nobody accepts their own competence.")
    if not evidence.strip():
        raise Refused("Name the evidence: what, from whom, when.", code="evidence", status=422)
    if shown_on > local_date(now, zone):
        raise Refused("The evidence cannot be from the future.", code="future", status=422)
    revoked_on = _revoked_on(session, person_id, taught.id, zone)
    if revoked_on is not None and shown_on <= revoked_on:
        raise Refused(
            f"This induction was revoked on {revoked_on.isoformat()}: only evidence shown after "
            "that day counts.",
            code="revoked",
        )
    row = TrainingRecord(
        person_id=person_id,
        induction_id=taught.id,
        revision_number=taught.number,
        result=Result.ALONE,
        ground=Ground.OUTSIDE_COMPETENCE,
        note_digest=log.keep_note(session, evidence, now=now),
        expires_on=expiry(taught, Result.ALONE, shown_on),
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    return _kept(session, row, "training:competence:accept", {"shown_on": shown_on.isoformat()})


def _revoked_on(session: Session, person_id: int, induction_id: int, zone: ZoneInfo) -> date | None:
    """Return the day of the revocation that still holds, if one does.

    Being watched without passing does not end it: that leaves nothing to accept.
    """
    latest = session.execute(
        select(TrainingRecord.result, TrainingRecord.occurred_at)
        .where(
            TrainingRecord.person_id == person_id,
            TrainingRecord.induction_id == induction_id,
            TrainingRecord.result != Result.NOT_YET,
        )
        .order_by(TrainingRecord.occurred_at.desc(), TrainingRecord.id.desc())
        .limit(1)
    ).one_or_none()
    if latest is None or latest.result is not Result.REVOKED:
        return None
    return local_date(latest.occurred_at, zone)


def revoke(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    taught: Published,
    reason: str,
    now: datetime,
) -> TrainingRecord:
    """Take a person's standing in an induction away. They are watched again before it returns."""
    if not actor.may(Act.SUSPEND):
        raise Forbidden("You may not revoke an induction.")
    if not reason.strip():
        raise Refused("Say why.", code="reason-missing", status=422)
    row = TrainingRecord(
        person_id=person_id,
        induction_id=taught.id,
        revision_number=taught.number,
        result=Result.REVOKED,
        ground=Ground.REVOCATION,
        note_digest=log.keep_note(session, reason, now=now),
        recorded_by_id=actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    return _kept(session, row, "training:record:revoke", {})


def _kept(
    session: Session, row: TrainingRecord, action: str, detail: dict[str, object]
) -> TrainingRecord:
    session.add(row)
    session.flush()
    log.record(
        session,
        action=action,
        subject=f"training_record:{row.id}",
        actor_id=row.recorded_by_id,
        now=row.recorded_at,
        detail={"person": row.person_id, "induction": row.induction_id, **detail},
    )
    return row
