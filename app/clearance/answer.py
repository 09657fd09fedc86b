"""The answer as plain data and as lines: the face of the decision for commands and JSON."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import RULES, Clearance, Lifted, Reason, decide
from app.clearance.facts import Beside, gather
from app.clearance.machine_facts import machine_files
from app.clearance.wording import words
from app.dates import local_date
from app.people.identity import identities
from app.people.models import Person


def answer(
    session: Session,
    *,
    machine_id: int,
    person_id: int,
    at: datetime,
    zone: ZoneInfo,
    known: datetime | None = None,
) -> dict[str, Any]:
    """Return the clearance of a pair at a moment, as JSON-ready data; the moment is asked too.

    With ``known`` only what had been recorded by then counts.
    """
    file = machine_files(session, [machine_id], at=at, known=known)[machine_id]
    person = identities(session, [person_id], local_date(at, zone), at=at, known=known)[person_id]
    clearance = decide(
        gather(session, file, person, now=at, zone=zone, moment=Beside(), known=known)
    )
    return {
        "verdict": clearance.verdict.words,
        "person": {"id": person.id, "name": person.name},
        "machine": {"id": file.facts.id, "name": file.facts.name},
        "codes": [reason.code.value for reason in clearance.reasons],
        "reasons": [_reason(reason) for reason in clearance.reasons],
        "lifted": [_lifted(each, name, zone) for each, name in _with_authors(session, clearance)],
        "supervisors": [{"id": i, "name": name} for i, name in clearance.supervisors],
        "decided_at": _told(clearance.decided_at, zone),
        "known_at": _told(known, zone),
        "holds_until": _told(clearance.holds_until, zone),
        "opens_at": _told(clearance.opens_at, zone),
        "rules": RULES,
    }


def _told(at: datetime | None, zone: ZoneInfo) -> str | None:
    return at.astimezone(zone).isoformat() if at else None


def _reason(reason: Reason) -> dict[str, Any]:
    said = words(reason)
    return {
        "code": reason.code.value,
        "verdict": reason.verdict.words,
        "sentence": said.sentence,
        "remedy": said.remedy,
        "who_can_mend_it": said.mender,
    }


def _with_authors(session: Session, clearance: Clearance) -> list[tuple[Lifted, str]]:
    """Return what was lifted, each with who lifted it. One statement where anything was."""
    if not clearance.lifted:
        return []
    ids = {each.author_id for each in clearance.lifted}
    names: dict[int, str] = {
        row.id: row.name
        for row in session.execute(select(Person.id, Person.name).where(Person.id.in_(ids)))
    }
    return [(each, names[each.author_id]) for each in clearance.lifted]


def _lifted(each: Lifted, author: str, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "code": each.reason.code.value,
        "sentence": words(each.reason).sentence,
        "override": each.override_id,
        "by": {"id": each.author_id, "name": author},
        "until": _told(each.until, zone),
    }


def answer_words(found: dict[str, Any]) -> str:
    """Return the answer as lines for a terminal."""
    lines = [f"{found['person']['name']} at {found['machine']['name']}: {found['verdict']}"]
    lines += [f"- {r['sentence']} {r['remedy']} ({r['code']})" for r in found["reasons"]]
    lines += [
        f"- Lifted by {each['by']['name']} until {each['until']}: {each['sentence']}"
        for each in found["lifted"]
    ]
    if found["supervisors"]:
        names = ", ".join(each["name"] for each in found["supervisors"])
        lines.append(f"On duty and cleared here: {names}.")
    known = f" as known at {found['known_at']}" if found["known_at"] else ""
    lines.append(f"Decided at {found['decided_at']}{known}.")
    if found["holds_until"]:
        lines.append(f"If nothing new is recorded it holds until {found['holds_until']}.")
    if found["opens_at"]:
        lines.append(f"The area opens at {found['opens_at']}.")
    return "\n".join(lines)
