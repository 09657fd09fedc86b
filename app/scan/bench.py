"""The tools of a bench, each with what it answers to this person: by the rules of one scan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.clearance.decision import Facts, Verdict, reasons_of, worst
from app.clearance.facts import machine_files, person_facts
from app.clearance.person_facts import asks_more
from app.clearance.wording import words
from app.db import AnyRow
from app.parts import now, parts
from app.people.identity import Identity

NAMES = {
    Verdict.CLEARED: "cleared",
    Verdict.SUPERVISED: "supervised",
    Verdict.NOT_CLEARED: "not-cleared",
    Verdict.OUT_OF_USE: "out-of-use",
}


@dataclass(frozen=True, kw_only=True)
class Tool:
    """One tool of a bench."""

    name: str
    code: str | None
    verdict: str  # chooses shape and colour
    word: str
    why: str


def tools(session: Session, carried: Sequence[AnyRow], person: Identity | None) -> list[Tool]:
    """Return the tools with their answers. Three statements, however many there are.

    Of the moment nothing is asked here: each tool's own scan does that.
    """
    if not carried:
        return []
    files = machine_files(session, [row.id for row in carried], at=now())
    facts = None
    if person is not None:
        facts = person_facts(
            session,
            {person.id: person},
            inductions={i for file in files.values() for i in file.facts.inductions},
            assessments={a.id for file in files.values() for a in file.facts.assessments},
            at=now(),
            more=any(asks_more(file.facts) for file in files.values()),
        )[person.id]
    zone, found = parts().site(session).tz, []
    for row in carried:
        asked = Facts(machine=files[row.id].facts, person=facts, now=now(), zone=zone)
        reasons = reasons_of(asked)
        unknown = person is None and worst(reasons) is not Verdict.OUT_OF_USE
        found.append(
            Tool(
                name=row.name,
                code=row.more,
                verdict="not-confirmed" if unknown else NAMES[worst(reasons)],
                word="not confirmed" if unknown else worst(reasons).words,
                why="" if unknown or not reasons else words(reasons[0]).sentence,
            )
        )
    return found
