"""Checks as they stood at a moment: who relies on them, their terms, their results."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from app.clearance.facts import machine_files
from app.dates import local_date
from app.db import by_then
from app.documents.standing_then import Moment
from app.hazards.due import good_through
from app.hazards.models import Check, CheckResult, CheckTerms, ExaminationReport
from app.hazards.status import Unit, unit
from app.machines.models import Machine
from app.people.models import Person


def relied_on_then(session: Session, now: Moment) -> dict[Unit, list[Machine]]:
    """Return each check of each unit that an assessment then in force relies on, with whose."""
    day = local_date(now.at, now.zone)
    machines = {
        machine.id: machine
        for machine in session.execute(
            select(Machine)
            .where(or_(Machine.retired_on.is_(None), Machine.retired_on > day))
            .order_by(Machine.name)
        ).scalars()
    }
    if not machines:
        return {}
    files = machine_files(session, list(machines), at=now.at, known=now.known)
    ids = {check.id for file in files.values() for check in file.facts.checks}
    checks = {
        check.id: check
        for check in session.execute(select(Check).where(Check.id.in_(ids))).scalars()
    }
    found: dict[Unit, list[Machine]] = defaultdict(list)
    for machine_id, machine in machines.items():
        for check_id in sorted({check.id for check in files[machine_id].facts.checks}):
            found[unit(checks[check_id], machine_id)].append(machine)
    return found


def terms_then(session: Session, check_ids: Iterable[int], now: Moment) -> dict[int, CheckTerms]:
    """Return the terms of checks in force at that moment."""
    newest = (
        select(func.max(CheckTerms.id))
        .where(CheckTerms.check_id.in_(list(check_ids)), *by_then(CheckTerms, now.at, now.known))
        .group_by(CheckTerms.check_id)
    )
    rows = session.execute(select(CheckTerms).where(CheckTerms.id.in_(newest))).scalars()
    return {row.check_id: row for row in rows}


def results_then(
    session: Session, check_ids: Iterable[int], now: Moment
) -> dict[Unit, list[CheckResult]]:
    """Return the results of checks by unit, the oldest first."""
    found: dict[Unit, list[CheckResult]] = defaultdict(list)
    for row in session.execute(
        select(CheckResult)
        .where(CheckResult.check_id.in_(list(check_ids)), *by_then(CheckResult, now.at, now.known))
        # Of two at the same instant a failure counts, as it does in the decision.
        .order_by(CheckResult.occurred_at, CheckResult.outcome.desc(), CheckResult.id)
    ).scalars():
        found[row.check_id, row.machine_id].append(row)
    return found


def through(row: CheckResult, terms: CheckTerms, now: Moment) -> date:
    """Return through which day a result counts by these terms."""
    return good_through(
        row.next_due_on,
        local_date(row.occurred_at, now.zone),
        every=terms.every,
        unit=terms.unit,
    )


def reports_of(session: Session, result_ids: Iterable[int], now: Moment) -> dict[int, str]:
    """Return, by result, who examined and under which reference the report is kept."""
    rows = session.execute(
        select(ExaminationReport)
        .where(
            ExaminationReport.result_id.in_(list(result_ids)),
            ExaminationReport.recorded_at <= now.known,
        )
        .order_by(ExaminationReport.id)
    ).scalars()
    return {
        row.result_id: ", ".join(
            words
            for words in (
                row.examiner,
                row.employer,
                f"report {row.reference}" if row.reference else "",
                "the file is kept" if row.file_digest else "",
            )
            if words
        )
        for row in rows
    }


def names_of(session: Session, model: type[Person] | type[Machine]) -> dict[int, str]:
    """Return all names of people, or of machines, by number."""
    return {row.id: row.name for row in session.execute(select(model.id, model.name))}
