"""Sign somebody off: what may be signed by whom, and the one transaction that records it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import add_months, local_date
from app.errors import Forbidden, Refused
from app.inductions.models import Induction, InductionRevision
from app.inductions.published import Published, appointed, counts_from, published
from app.people.identity import Actor
from app.people.rights import Act
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionInduction
from app.training.models import (
    Ground,
    SignOff,
    SignOffBriefing,
    SignOffItem,
    TrainingRecord,
)
from app.training.standing import Record, Result, State, standing


def records_of(session: Session, person_id: int) -> dict[int, list[TrainingRecord]]:
    """Return a person's training records by induction, oldest first."""
    found: dict[int, list[TrainingRecord]] = {}
    for row in session.execute(
        select(TrainingRecord)
        .where(TrainingRecord.person_id == person_id)
        .order_by(TrainingRecord.occurred_at, TrainingRecord.id)
    ).scalars():
        found.setdefault(row.induction_id, []).append(row)
    return found


def state_in(
    session: Session, person_id: int, induction_id: int, *, now: datetime, zone: ZoneInfo
) -> State:
    """Return a person's own standing in one induction, without its prerequisites."""
    rows = session.execute(
        select(TrainingRecord).where(
            TrainingRecord.person_id == person_id, TrainingRecord.induction_id == induction_id
        )
    ).scalars()
    counts = session.execute(
        select(counts_from(now)).select_from(Induction).where(Induction.id == induction_id)
    ).scalar_one()
    return standing(
        [as_record(row) for row in rows],
        counts_from=counts,
        now=now,
        today=local_date(now, zone),
    )


def as_record(row: TrainingRecord) -> Record:
    return Record(
        id=row.id,
        result=row.result,
        revision_number=row.revision_number,
        occurred_at=row.occurred_at,
        expires_on=row.expires_on,
    )


def lapsed_before(
    session: Session, person_id: int, taught: Published, *, now: datetime, zone: ZoneInfo
) -> list[str]:
    """Return the titles of what stands before this induction and is not current, to any depth."""
    lapsed, queue, seen = [], list(taught.requires), set()
    for induction_id in queue:
        if induction_id in seen:
            continue
        seen.add(induction_id)
        before = published(session, induction_id, at=now)
        if state_in(session, person_id, induction_id, now=now, zone=zone) is not State.CURRENT:
            lapsed.append(before.title)
        queue.extend(before.requires)
    return lapsed


def why_not(
    session: Session,
    actor: Actor,
    person_id: int,
    taught: Published,
    *,
    now: datetime,
    zone: ZoneInfo,
) -> str | None:
    """Return why this technician may not sign this person off, or None if they may.

    Nobody signs themself off, nor what they are not named to give, nor what they are not
    themselves current in: use history is not training, and a course is not an appointment.
    """
    if actor.id == person_id:
        return "Nobody signs themself off."
    if not actor.may(Act.SIGN_OFF):
        return "Only technicians sign inductions off."
    if taught.id not in appointed(session, actor.id):
        return f"You are not named as an inductor for “{taught.title}”."
    if state_in(session, actor.id, taught.id, now=now, zone=zone) is not State.CURRENT:
        return f"Your own “{taught.title}” is not current."
    own = lapsed_before(session, actor.id, taught, now=now, zone=zone)
    if own:
        return f"Your own “{own[0]}” is not current; it comes before “{taught.title}”."
    theirs = lapsed_before(session, person_id, taught, now=now, zone=zone)
    if theirs:
        return f"This person’s “{theirs[0]}” is not current; it comes first."
    return None


@dataclass(frozen=True, kw_only=True)
class Ticks:
    """What the technician saw, as sent from the phone."""

    key: str  # of the form as it was opened: sent twice, recorded once
    seen_record_id: int  # the latest record of this person and induction when it was opened
    observed: frozenset[int]  # item ids
    result: Result
    note: str = ""


def sign_off(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    taught: Published,
    ticks: Ticks,
    now: datetime,
    zone: ZoneInfo,
) -> SignOff:
    """Record a sign-off and what it is worth. The session holds the write lock.

    A form that was sent before returns its first record. One that was opened before
    somebody else signed is refused, so that two technicians cannot overwrite each other.
    """
    before = session.execute(select(SignOff).where(SignOff.key == ticks.key)).scalar_one_or_none()
    if before is not None:
        if before.technician_id != actor.id or before.person_id != person_id:
            raise Forbidden("That form belongs to another sign-off.")
        return before
    reason = why_not(session, actor, person_id, taught, now=now, zone=zone)
    if reason is not None:
        raise Forbidden(reason)
    _insist(taught, ticks)
    latest = latest_record_id(session, person_id, taught.id)
    if latest != ticks.seen_record_id:
        raise Refused(
            "Somebody recorded a result for this person since you opened this page. "
            "Look at it, then decide again.",
            code="changed-meanwhile",
        )
    row = SignOff(
        key=ticks.key,
        person_id=person_id,
        induction_revision_id=taught.revision_id,
        technician_id=actor.id,
        result=ticks.result,
        note_digest=log.keep_note(session, ticks.note, now=now),
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    session.add_all(
        SignOffItem(sign_off_id=row.id, item_id=item.id, observed=item.id in ticks.observed)
        for item in taught.items
    )
    session.add_all(
        SignOffBriefing(sign_off_id=row.id, revision_id=revision_id)
        for revision_id in revisions_needing(session, taught.id, at=now)
    )
    session.add(
        TrainingRecord(
            person_id=person_id,
            induction_id=taught.id,
            revision_number=taught.number,
            result=ticks.result,
            ground=Ground.SIGN_OFF,
            sign_off_id=row.id,
            expires_on=expiry(taught, ticks.result, local_date(now, zone)),
            recorded_by_id=actor.id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="training:sign_off:record",
        subject=f"sign_off:{row.id}",
        actor_id=actor.id,
        now=now,
        detail={"person": person_id, "induction": taught.id, "result": ticks.result.value},
    )
    return row


def _insist(taught: Published, ticks: Ticks) -> None:
    unknown = ticks.observed - {item.id for item in taught.items}
    if unknown:
        raise Refused(
            "The checklist was published anew since you opened this page. Open it again.",
            code="changed-meanwhile",
        )
    missing = [i for i in taught.items if i.essential and i.id not in ticks.observed]
    if ticks.result is Result.ALONE and missing:
        raise Refused(
            f"“On their own” needs every essential item; {len(missing)} not ticked, "
            f"the first: “{missing[0].words}”.",
            code="items-missing",
            status=422,
        )
    if ticks.result is Result.SUPERVISED and not ticks.observed:
        raise Refused(
            "“With supervision” needs at least one item that you saw.",
            code="items-missing",
            status=422,
        )
    if ticks.result is Result.REVOKED:
        raise Refused("A sign-off cannot revoke.", status=422)


def latest_record_id(session: Session, person_id: int, induction_id: int) -> int:
    """Return the newest training record of a person and induction, 0 if there is none."""
    return session.execute(
        select(func.coalesce(func.max(TrainingRecord.id), 0)).where(
            TrainingRecord.person_id == person_id, TrainingRecord.induction_id == induction_id
        )
    ).scalar_one()


def revisions_needing(session: Session, induction_id: int, *, at: datetime) -> list[int]:
    """Return the assessment revisions in force that require this induction."""
    return list(
        session.execute(
            select(Revision.id)
            .join(RevisionInduction, RevisionInduction.revision_id == Revision.id)
            .where(RevisionInduction.induction_id == induction_id, in_force(at))
            .order_by(Revision.id)
        ).scalars()
    )


def expiry(taught: Published, result: Result, day: date) -> date | None:
    """Return the last day that the result holds; a result that grants nothing has none."""
    if taught.validity_months is None or result not in (Result.ALONE, Result.SUPERVISED):
        return None
    return add_months(day, taught.validity_months)


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
    has lapsed. The validity runs from the day the competence was shown.
    """
    if not actor.may(Act.ACCEPT_COMPETENCE):
        raise Forbidden("Only an approver accepts outside competence.")
    if actor.id == person_id and not self_allowed:
        raise Forbidden("Nobody accepts their own competence.")
    if not evidence.strip():
        raise Refused("Name the evidence: what, from whom, when.", code="evidence", status=422)
    today = local_date(now, zone)
    if shown_on > today:
        raise Refused("The evidence cannot be from the future.", code="future", status=422)
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
    session.add(row)
    session.flush()
    log.record(
        session,
        action="training:competence:accept",
        subject=f"training_record:{row.id}",
        actor_id=actor.id,
        now=now,
        detail={"person": person_id, "induction": taught.id, "shown_on": shown_on.isoformat()},
    )
    return row


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
    session.add(row)
    session.flush()
    log.record(
        session,
        action="training:record:revoke",
        subject=f"training_record:{row.id}",
        actor_id=actor.id,
        now=now,
        detail={"person": person_id, "induction": taught.id},
    )
    return row


def titles(session: Session, induction_ids: Iterable[int]) -> dict[int, str]:
    """Return the titles of published inductions, by id."""
    rows = session.execute(
        select(Induction.id, Induction.title)
        .where(Induction.id.in_(list(induction_ids)))
        .where(
            select(InductionRevision.id)
            .where(InductionRevision.induction_id == Induction.id)
            .exists()
        )
        .order_by(Induction.title)
    )
    return dict(rows.all())
