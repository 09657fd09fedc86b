"""Record a sign-off: the one transaction that holds the evidence, what it is worth, and the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import BigInteger, bindparam, cast, insert, select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import add_months, local_date
from app.db import AnyRow, insert_into, prepared
from app.errors import Forbidden, Refused
from app.inductions.published import Published
from app.inductions.questions import questions_wanting
from app.inductions.refresher import Path
from app.people.identity import Actor
from app.people.rights import Act
from app.risk_assessments.in_force import NEEDING
from app.risk_assessments.models import Revision
from app.training.models import Ground, SignOff, SignOffBriefing, SignOffItem, TrainingRecord
from app.training.signing import SigningFacts, signing_facts, why_not
from app.training.standing import Result


@dataclass(frozen=True, kw_only=True)
class Ticks:
    """What the technician saw, as sent from the phone."""

    key: str  # of the form as it was opened: sent twice, recorded once
    seen_record_id: int  # the latest record of this person and induction when it was opened
    observed: frozenset[int]  # item ids
    result: Result
    note: str = ""
    path: Path = Path.FULL


def sign_off(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    taught: Published,
    ticks: Ticks,
    now: datetime,
    zone: ZoneInfo,
    occurred_at: datetime | None = None,
    on_paper: bool = False,
    typed_by: Actor | None = None,
) -> int:
    """Record a sign-off and what it is worth; return its number. The session holds the lock.

    A form that was sent before returns its first record. One that was opened before
    somebody else signed is refused, so that two technicians cannot overwrite each other.

    Args:
        occurred_at: when it was seen, where that was not now. It counts from then: what it was
            worth, how long it holds, and which assessments were gone through. Whoever calls this
            says how far back is believed.
        on_paper: it was written on a sheet then, and is typed in now.
        typed_by: who types it in, where that is not the technician who saw it. That one, with
            the roles of that time, had to be entitled then; today they may have left.

    Raises:
        Forbidden: this technician may not sign this person off, now or at that time.
        Refused: it lies in the future, somebody else signed meanwhile, or items are missing.
    """
    before = _recorded(session, actor, person_id, ticks.key)
    if before is not None:
        return int(before.id)
    seen_at = occurred_at or now
    if seen_at > now:
        raise Refused("What was seen lies in the future.", code="in-the-future", status=422)
    facts = signing_facts(session, actor, person_id, [taught.id], now=now, zone=zone)
    then = None
    reason = why_not(facts, taught.id) if typed_by is None else _may_type(typed_by, person_id)
    if reason is None and (typed_by is not None or seen_at != now):
        then = signing_facts(session, actor, person_id, [taught.id], now=seen_at, zone=zone)
        reason = why_not(then, taught.id)
    if reason is not None:
        raise Forbidden(reason)
    _insist(taught, ticks)
    _insist_on_path(facts if then is None else then, taught, ticks)
    _insist_on_answers(session, taught, ticks, person_id)
    if facts.latest_id(taught.id) != ticks.seen_record_id:
        raise Refused(
            "Somebody recorded a result for this person since you opened this page. "
            "Look at it, then decide again.",
            code="changed-meanwhile",
        )
    return _record(
        session,
        actor=actor,
        person_id=person_id,
        taught=taught,
        ticks=ticks,
        now=now,
        zone=zone,
        seen_at=seen_at,
        on_paper=on_paper,
        recorded_by_id=(typed_by or actor).id,
    )


def _may_type(typist: Actor, person_id: int) -> str | None:
    """Return why somebody may not type in what another saw, or None if they may."""
    if typist.id == person_id:
        return "Nobody types in their own sign-off."
    return None if typist.may(Act.TYPE_IN) else "Only technicians and approvers type sign-offs in."


# Built once: somebody waits, phone in hand, while these run.
_BY_KEY = prepared(
    select(
        SignOff.id, SignOff.technician_id, SignOff.person_id, SignOff.result, SignOff.path
    ).where(SignOff.key == bindparam("key"))
)
_SIGN_OFF = insert_into(SignOff)
_ITEM = insert_into(SignOffItem)
# Every assessment in force that asks for the induction was gone through, as of when it was seen.
_BRIEFINGS = prepared(
    insert(SignOffBriefing).from_select(
        ["sign_off_id", "revision_id"],
        NEEDING.with_only_columns(
            cast(bindparam("sign_off"), BigInteger), Revision.id, maintain_column_froms=True
        ),
    )
)
_TRAINING_RECORD = insert_into(TrainingRecord)


def recorded_before(session: Session, actor: Actor, person_id: int, ticks: Ticks) -> int | None:
    """Return the sign-off that this form made before, if it said then what it says now.

    Raises:
        Refused: it said something else then, and that stands.
    """
    before = _recorded(session, actor, person_id, ticks.key)
    if before is None:
        return None
    seen = session.execute(
        select(SignOffItem.item_id).where(
            SignOffItem.sign_off_id == before.id, SignOffItem.observed
        )
    ).scalars()
    same = before.result is ticks.result and before.path is ticks.path
    if not same or set(seen) != ticks.observed:
        raise Refused(
            f"Recorded before, as it stood then: {before.result.value}. "
            "What you changed since was not recorded; sign them off anew.",
            code="recorded-before",
        )
    return int(before.id)


def _recorded(session: Session, actor: Actor, person_id: int, key: str) -> AnyRow | None:
    before = _BY_KEY(session.connection(), {"key": key}).one_or_none()
    if before is not None and (before.technician_id != actor.id or before.person_id != person_id):
        raise Forbidden("That form belongs to another sign-off.")
    return before


def _insist(taught: Published, ticks: Ticks) -> None:
    items = taught.items_on(ticks.path)
    if ticks.observed - {item.id for item in items}:
        raise Refused(
            "The checklist was published anew since you opened this page. Open it again.",
            code="changed-meanwhile",
        )
    if ticks.result is Result.REVOKED:
        raise Refused("A sign-off cannot revoke.", code="result", status=422)
    missing = [i for i in items if i.essential and i.id not in ticks.observed]
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


_GRANTS = (Result.ALONE, Result.SUPERVISED)


def _insist_on_path(facts: SigningFacts, taught: Published, ticks: Ticks) -> None:
    """The shorter path is taken where the rule opens it, as of when it was seen."""
    if ticks.path is Path.REFRESHER and facts.path_open(taught) is not Path.REFRESHER:
        raise Refused(
            "The shorter path is not open to this person: they take the full one. "
            "Nothing was recorded.",
            code="path",
        )


def _insist_on_answers(session: Session, taught: Published, ticks: Ticks, person_id: int) -> None:
    """Right answers are a condition where the wording asks for them, and never a pass."""
    if ticks.result in _GRANTS and questions_wanting(session, taught, person_id):
        raise Refused(
            "This person has not answered the questions rightly yet. They come first; "
            "your ticks are kept.",
            code="questions",
            status=422,
        )


def _record(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    taught: Published,
    ticks: Ticks,
    now: datetime,
    zone: ZoneInfo,
    seen_at: datetime,
    on_paper: bool,
    recorded_by_id: int,
) -> int:
    note_digest = log.keep_note(session, ticks.note, now=now)
    session.flush()
    connection = session.connection()
    times = {"occurred_at": seen_at, "recorded_at": now}
    added = _SIGN_OFF(
        connection,
        {
            "key": ticks.key,
            "person_id": person_id,
            "induction_revision_id": taught.revision_id,
            "technician_id": actor.id,
            "path": ticks.path,
            "result": ticks.result,
            "note_digest": note_digest,
            "on_paper": on_paper,
            **times,
        },
    )
    sign_off_id: int = added.inserted_primary_key[0]  # type: ignore[index]
    _ITEM(
        connection,
        [
            {"sign_off_id": sign_off_id, "item_id": item.id, "observed": item.id in ticks.observed}
            for item in taught.items_on(ticks.path)
        ],
    )
    _BRIEFINGS(connection, {"sign_off": sign_off_id, "induction": taught.id, "at": seen_at})
    _TRAINING_RECORD(
        connection,
        {
            "person_id": person_id,
            "induction_id": taught.id,
            "revision_number": taught.number,
            "result": ticks.result,
            "ground": Ground.SIGN_OFF,
            "sign_off_id": sign_off_id,
            "note_digest": None,
            "expires_on": expiry(taught, ticks.result, local_date(seen_at, zone), ticks.path),
            "recorded_by_id": recorded_by_id,
            **times,
        },
    )
    log.record(
        session,
        action="training:sign_off:record",
        subject=f"sign_off:{sign_off_id}",
        actor_id=recorded_by_id,
        now=now,
        detail={
            "person": person_id,
            "induction": taught.id,
            "result": ticks.result.value,
            **({"seen_at": seen_at.isoformat()} if seen_at != now else {}),
            **({"on_paper": True} if on_paper else {}),
            **({"seen_by": actor.id} if actor.id != recorded_by_id else {}),
            **({"path": ticks.path.value} if ticks.path is not Path.FULL else {}),
        },
    )
    return sign_off_id


def expiry(taught: Published, result: Result, day: date, path: Path = Path.FULL) -> date | None:
    """Return the last day that the result holds; a result that grants nothing has none."""
    months = taught.validity_on(path)
    if months is None or result not in _GRANTS:
        return None
    return add_months(day, months)
