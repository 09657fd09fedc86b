"""The answer as plain data and as lines: the face of the decision for commands and JSON."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from app.clearance.decision import RULES, decide
from app.clearance.facts import gather, machine_files
from app.clearance.wording import words
from app.dates import local_date
from app.people.identity import identities


def answer(
    session: Session, *, machine_id: int, person_id: int, at: datetime, zone: ZoneInfo
) -> dict[str, Any]:
    """Return the clearance of a pair at a moment, as JSON-ready data."""
    file = machine_files(session, [machine_id], at=at)[machine_id]
    person = identities(session, [person_id], local_date(at, zone))[person_id]
    clearance = decide(gather(session, file, person, now=at, zone=zone))
    until = clearance.holds_until
    return {
        "verdict": clearance.verdict.words,
        "person": {"id": person.id, "name": person.name},
        "machine": {"id": file.facts.id, "name": file.facts.name},
        "reasons": [
            {
                "code": reason.code.value,
                "verdict": reason.verdict.words,
                "sentence": said.sentence,
                "remedy": said.remedy,
                "who_can_mend_it": said.mender,
            }
            for reason in clearance.reasons
            for said in (words(reason),)
        ],
        "decided_at": clearance.decided_at.astimezone(zone).isoformat(),
        "holds_until": until.astimezone(zone).isoformat() if until else None,
        "rules": RULES,
    }


def answer_words(found: dict[str, Any]) -> str:
    """Return the answer as lines for a terminal."""
    lines = [f"{found['person']['name']} at {found['machine']['name']}: {found['verdict']}"]
    lines += [f"- {r['sentence']} {r['remedy']} ({r['code']})" for r in found["reasons"]]
    lines.append(f"Decided at {found['decided_at']}.")
    if found["holds_until"]:
        lines.append(f"If nothing new is recorded it holds until {found['holds_until']}.")
    return "\n".join(lines)
