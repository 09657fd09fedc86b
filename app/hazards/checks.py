"""Record checks and find where they stand."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import Forbidden, NotFound, Refused
from app.hazards.due import next_due
from app.hazards.models import Check, CheckResult, CheckTerms, Outcome, Scope
from app.hazards.readings import Range, number, number_or_none, range_of

RETAKE_WITHIN = timedelta(minutes=10)  # a reading that was mistyped


def terms_of(session: Session, check_id: int) -> CheckTerms:
    """Return the terms in force of a check."""
    terms = session.execute(
        select(CheckTerms)
        .where(CheckTerms.check_id == check_id)
        .order_by(CheckTerms.id.desc())
        .limit(1)
    ).scalar_one_or_none()
    if terms is None:
        raise NotFound("This check has no terms on record.")
    return terms


def range_in(terms: CheckTerms) -> Range | None:
    """Return the range in which a reading passes by these terms; None: nothing is measured."""
    return range_of(measure=terms.measure, low=terms.low, high=terms.high)


def judged(
    terms: CheckTerms, *, outcome: Outcome | None, reading: str, note: str
) -> tuple[Outcome, str]:
    """Return what a check came to, and its note; where a number decides, it follows from that.

    Whoever reads may call a check failed whatever the number says, and never the other way.
    """
    asked = range_in(terms)
    if asked is not None and reading:
        value = number(reading, unit=asked.unit)
        wanting = asked.wanting(value)
        if wanting and outcome is Outcome.PASSED:
            raise Refused(
                f"{wanting}: that is a failure and was not recorded as a pass.",
                code="reading-outside",
                status=422,
            )
        if wanting:
            return Outcome.FAILED, f"{wanting}. {note}".strip()
        if outcome is None and asked.bounded:
            outcome = Outcome.PASSED
    elif asked is not None and outcome is not Outcome.FAILED:
        raise Refused(
            f"This check is a reading{f' in {asked.unit}' if asked.unit else ''}: type it.",
            code="reading-missing",
            status=422,
        )
    if outcome is None:
        raise Refused("Say whether it passed or failed.", code="outcome-missing", status=422)
    if outcome is Outcome.FAILED and not note:
        raise Refused("Say what failed.", code="note-missing", status=422)
    return outcome, note


def record_check(
    session: Session,
    check: Check,
    *,
    machine_id: int,
    outcome: Outcome | None,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
    done_at: datetime | None = None,
    reading: str = "",
    note: str = "",
    may_return: bool = False,
    retakes_id: int | None = None,
) -> CheckResult:
    """Record one check done at a machine; of a shared control it speaks for all that rely on it.

    ``outcome`` may be left out where the reading decides. ``may_return`` says that the actor
    may return to use what a failure took out: only they pass a failed check, naming the tests
    in the note. The exception is a mistyped reading, which ``retakes_id`` names.
    """
    result = add_result(
        session,
        check,
        machine_id=machine_id,
        outcome=outcome,
        actor_id=actor_id,
        now=now,
        zone=zone,
        done_at=done_at,
        reading=reading,
        note=note,
        may_return=may_return,
        retakes_id=retakes_id,
    )
    log.record(
        session,
        action=f"hazards:check:{result.outcome}",
        subject=f"check:{check.id}",
        actor_id=actor_id,
        now=now,
        detail={"result": result.id, "machine": machine_id}
        | ({"retakes": retakes_id} if retakes_id is not None else {}),
    )
    return result


def add_result(
    session: Session,
    check: Check,
    *,
    machine_id: int,
    outcome: Outcome | None,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
    done_at: datetime | None = None,
    reading: str = "",
    note: str = "",
    may_return: bool = False,
    retakes_id: int | None = None,
    round_id: int | None = None,
) -> CheckResult:
    """Add one result by all its rules; whoever calls this writes the log."""
    done_at = done_at or now
    if done_at > now:
        raise Refused("A check cannot have been done in the future.", code="future", status=422)
    terms = terms_of(session, check.id)
    reading, note = reading.strip(), note.strip()
    outcome, words = judged(terms, outcome=outcome, reading=reading, note=note)
    if retakes_id is not None:
        _insist_on_retake(
            session, check, machine_id, retakes_id, reading, actor_id=actor_id, now=now
        )
    elif outcome is Outcome.PASSED and undoes_failure(
        latest_result(session, check, machine_id), done_at
    ):
        insist_on_return(check, may_return=may_return, tests=note)
    result = CheckResult(
        check_id=check.id,
        machine_id=unit_of(check, machine_id),
        outcome=outcome,
        reading=reading,
        note=words,
        next_due_on=next_due(local_date(done_at, zone), every=terms.every, unit=terms.unit),
        retakes_id=retakes_id,
        round_id=round_id,
        recorded_by_id=actor_id,
        occurred_at=done_at,
        recorded_at=now,
    )
    session.add(result)
    session.flush()
    return result


def undoes_failure(latest: CheckResult | None, done_at: datetime) -> bool:
    """Say whether a pass of that moment would bring back what a failure took out of use."""
    return latest is not None and latest.outcome is Outcome.FAILED and done_at > latest.occurred_at


def insist_on_return(check: Check, *, may_return: bool, tests: str) -> None:
    """Refuse a pass after a failure unless the right person names the tests."""
    if not may_return:
        raise Forbidden(
            f"{check.title} failed: only somebody who may return machines to use passes it, "
            "after the tests that they name. Nothing was recorded."
        )
    if not tests:
        raise Refused(
            f"{check.title} failed: name the tests that it passed since.",
            code="tests-missing",
            status=422,
        )


def may_retake(
    session: Session, check: Check, machine_id: int, *, actor_id: int, now: datetime
) -> CheckResult | None:
    """Return the failed reading that this person may take again now, or None.

    It is their own, the latest, of the last ten minutes, failed by its number, and not itself a
    second taking. No failure stood before it, or a second reading would undo a true failure.
    """
    last = last_results(session, check, machine_id, most=2)
    if not last or any(before.outcome is Outcome.FAILED for before in last[1:]):
        return None
    latest = last[0]
    own = latest.recorded_by_id == actor_id and now - latest.recorded_at <= RETAKE_WITHIN
    if not own or latest.retakes_id is not None or latest.outcome is not Outcome.FAILED:
        return None
    asked = range_in(terms_of(session, check.id))
    value = number_or_none(latest.reading, unit=asked.unit) if asked else None
    if asked is None or value is None or not asked.wanting(value):
        return None  # words made it fail, and no number
    return latest


def _insist_on_retake(
    session: Session,
    check: Check,
    machine_id: int,
    retakes_id: int,
    reading: str,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    mistaken = may_retake(session, check, machine_id, actor_id=actor_id, now=now)
    if mistaken is None or mistaken.id != retakes_id:
        raise Refused(
            "That reading can no longer be taken again: within ten minutes, once, by whoever "
            "mistyped it. Now the check passes only after named tests. Nothing was recorded.",
            code="no-retake",
        )
    if not reading:
        raise Refused("Type the reading.", code="reading-missing", status=422)


def unit_of(check: Check, machine_id: int) -> int | None:
    """Return the machine that a result at this machine speaks for; None: all that share it."""
    return machine_id if check.scope is Scope.MACHINE else None


def latest_result(session: Session, check: Check, machine_id: int) -> CheckResult | None:
    """Return the last result that speaks for this machine."""
    return next(iter(last_results(session, check, machine_id, most=1)), None)


def last_results(
    session: Session, check: Check, machine_id: int, *, most: int
) -> list[CheckResult]:
    """Return the last results that speak for this machine, the newest first."""
    unit = unit_of(check, machine_id)
    return list(
        session.execute(
            select(CheckResult)
            .where(
                CheckResult.check_id == check.id,
                CheckResult.machine_id.is_(None)
                if unit is None
                else CheckResult.machine_id == unit,
            )
            # Of two at the same instant a failure counts, as it does in the decision.
            .order_by(CheckResult.occurred_at.desc(), CheckResult.outcome, CheckResult.id.desc())
            .limit(most)
        ).scalars()
    )
