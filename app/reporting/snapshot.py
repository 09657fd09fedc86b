"""What was so at a machine at a moment, in numbers and codes: kept with a report for ever.

Nothing here is words about a person; names are looked up when it is shown, and an erased person
has none. Somebody who reports without a name is left out, unless they are on record as present.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy.orm import Session

from app.clearance.decision import (
    RULES,
    Facts,
    MachineFacts,
    Reason,
    machine_part,
    reasons_of,
    worst,
)
from app.clearance.facts import MachineFile, machine_files, person_facts
from app.dates import local_date
from app.hazards.models import Check
from app.hazards.status import checks_by_id, statuses, unit
from app.machines.hours import opening
from app.people.identity import identities
from app.presence.here import around
from app.presence.present import Present
from app.site import Site


def snapshot(
    session: Session, machine_id: int, *, reporter_id: int | None, at: datetime, site: Site
) -> dict[str, Any]:
    """Return the state of a machine and of those about it at a moment, as JSON-ready data."""
    file = machine_files(session, [machine_id], at=at)[machine_id]
    found = around(session, area_id=file.facts.area_id, machine_id=machine_id, at=at)
    about = [each for each in found.present if each.at(at)]
    people = {each.person_id for each in about} | ({reporter_id} if reporter_id else set())
    calendar = found.calendar
    return {
        "at": at.isoformat(),
        "rules": RULES,
        "hours": opening(calendar, at, site.tz).value if calendar is not None else "no hours set",
        "machine": _answer(machine_part(file.facts, at, site.tz)),
        "revisions": [_revision(row) for row in file.revisions],
        "checks": _checks(session, file.facts, at, site),
        "present": [_presence(each) for each in about],
        "clearances": _clearances(session, file, people, at, site),
        **({"reporter": reporter_id} if reporter_id else {}),
    }


def _answer(reasons: Iterable[Reason]) -> dict[str, Any]:
    found = tuple(reasons)
    return {"verdict": worst(found).words, "codes": [reason.code.value for reason in found]}


def _revision(row: Any) -> dict[str, Any]:
    return {
        "revision": row.revision_id,
        "reference": row.reference,
        "number": row.number,
        "digest": row.digest,
    }


def _checks(
    session: Session, machine: MachineFacts, at: datetime, site: Site
) -> list[dict[str, Any]]:
    """Return the last result of each check that the machine relies on."""
    checks = checks_by_id(session, [each.id for each in machine.checks])
    units = {check_id: unit(check, machine.id) for check_id, check in checks.items()}
    found = statuses(session, units.values(), at=at, zone=site.tz)
    return [
        _check(check, found[units[check.id]])
        for check in sorted(checks.values(), key=lambda each: each.id)
    ]


def _check(check: Check, status: Any) -> dict[str, Any]:
    latest = status.latest
    return {
        "check": check.id,
        "result": latest.id if latest is not None else None,
        "outcome": latest.outcome.value if latest is not None else "never done",
        "done_at": latest.occurred_at.isoformat() if latest is not None else None,
        "good_through": status.good_through.isoformat() if status.good_through else None,
    }


def _presence(each: Present) -> dict[str, Any]:
    return {
        "person": each.person_id,
        "being": each.being.value,
        "machine": each.machine_id,
        "supervised": each.supervised,
        "supervisor": each.supervisor_id,
        "use": each.use_id,
    }


def _clearances(
    session: Session, file: MachineFile, people: set[int], at: datetime, site: Site
) -> list[dict[str, Any]]:
    """Return how each of these people stood at this machine, without the rules of the moment."""
    known = identities(session, sorted(people), local_date(at, site.tz), at=at)
    if not known:
        return []
    facts = person_facts(
        session,
        known,
        inductions=file.facts.inductions,
        assessments=[each.id for each in file.facts.assessments],
        at=at,
    )
    return [
        {"person": person_id}
        | _answer(
            reasons_of(Facts(machine=file.facts, person=facts[person_id], now=at, zone=site.tz))
        )
        for person_id in sorted(facts)
    ]
