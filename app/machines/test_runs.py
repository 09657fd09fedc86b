"""The right of a named person to run an out-of-use machine for a while, to prove a repair."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.db import stands
from app.errors import NotFound, Refused
from app.machines.models import Machine, TestRun


def open_test_runs(session: Session, machine_id: int, *, at: datetime) -> list[TestRun]:
    """Return the test runs that are allowed at that moment."""
    return list(
        session.execute(
            select(TestRun)
            .where(TestRun.machine_id == machine_id, TestRun.until > at, stands(TestRun, at))
            .order_by(TestRun.id)
        ).scalars()
    )


def run_or_404(session: Session, test_run_id: int, machine_id: int) -> TestRun:
    """Return a test run of this machine."""
    found = session.get(TestRun, test_run_id)
    if found is None or found.machine_id != machine_id or found.ends_id is not None:
        raise NotFound("There is no such test run of this machine.")
    return found


def allow_test_run(
    session: Session,
    machine: Machine,
    *,
    person_id: int,
    why: str,
    until: datetime,
    actor_id: int,
    now: datetime,
) -> TestRun:
    """Let one person run the machine until a moment. Whether they may be named is asked before."""
    if not why.strip():
        raise Refused("Say what the run is to prove.", code="reason-missing", status=422)
    if until <= now:
        raise Refused("That time has passed already.", code="past", status=422)
    run = TestRun(
        machine_id=machine.id,
        person_id=person_id,
        why=why.strip(),
        until=until,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(run)
    session.flush()
    _log(session, "allow", run, actor_id=actor_id, now=now)
    return run


def end_test_run(
    session: Session, run: TestRun, *, words: str, actor_id: int, now: datetime
) -> None:
    """End a test run before its time, saying what it showed."""
    if not words.strip():
        raise Refused("Say what the run showed.", code="words-missing", status=422)
    if run.id not in {each.id for each in open_test_runs(session, run.machine_id, at=now)}:
        raise Refused("This test run is over already.", code="test-run-ended")
    session.add(
        TestRun(
            machine_id=run.machine_id,
            person_id=run.person_id,
            why=words.strip(),
            until=run.until,
            ends_id=run.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    _log(session, "end", run, actor_id=actor_id, now=now)


def _log(session: Session, verb: str, run: TestRun, *, actor_id: int, now: datetime) -> None:
    log.record(
        session,
        action=f"machines:test_run:{verb}",
        subject=f"machine:{run.machine_id}",
        actor_id=actor_id,
        now=now,
        detail={"test_run": run.id, "person": run.person_id, "until": run.until.isoformat()},
    )
