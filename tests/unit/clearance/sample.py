"""One pair for whom everything is in order, to break one thing at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from app.clearance.decision import (
    AssessmentFact,
    CheckFact,
    Conditions,
    Facts,
    Here,
    InductionFact,
    MachineFacts,
    PersonFacts,
)
from app.presence.present import Being, Present
from app.risk_assessments.run_mode import RunMode
from app.training.standing import Record, Result

NOW = datetime(2026, 3, 10, 9, tzinfo=UTC)
TODAY = date(2026, 3, 10)
YESTERDAY, TOMORROW = TODAY - timedelta(days=1), TODAY + timedelta(days=1)
UTC_ZONE = ZoneInfo("UTC")
SAW_INDUCTION, BASICS = 1, 2  # the saw's own induction, and what comes before it

ASSESSMENT = AssessmentFact(
    id=1,
    reference="RA-SAW",
    number=2,
    run_mode=RunMode.OPEN,
    material_number=2,
    review_due_on=date(2027, 1, 1),
)
GUARD = CheckFact(id=1, title="Riving knife", statutory=False, failed=False, due_on=TODAY)
EXTRACTION = CheckFact(
    id=2, title="Extraction examination", statutory=True, failed=False, due_on=date(2027, 1, 1)
)


def sign_off(result: Result = Result.ALONE, **changed: Any) -> Record:
    """Return a record of a week ago that does not run out."""
    record = Record(
        id=1,
        result=result,
        revision_number=2,
        occurred_at=NOW - timedelta(days=7),
        expires_on=None,
    )
    return replace(record, **changed)


SAW = MachineFacts(
    id=1,
    name="Panel saw",
    area_id=1,
    assessments=(ASSESSMENT,),
    checks=(GUARD, EXTRACTION),
    required=(SAW_INDUCTION,),
    inductions={
        SAW_INDUCTION: InductionFact(
            id=SAW_INDUCTION, title="Panel saw", counts_from=2, requires=(BASICS,)
        ),
        BASICS: InductionFact(id=BASICS, title="Workshop basics", counts_from=1),
    },
)
ADA = PersonFacts(
    id=7,
    name="Ada Quill",
    starts_on=date(2026, 1, 1),
    records={SAW_INDUCTION: (sign_off(),), BASICS: (sign_off(),)},
    briefed={ASSESSMENT.id: 2},
    acknowledged={ASSESSMENT.id: 2},
)
IN_ORDER = Facts(machine=SAW, person=ADA, now=NOW, zone=UTC_ZONE)


def at_the_saw(**changed: Any) -> Facts:
    """Return the facts of Ada at the saw with something about the saw changed."""
    return replace(IN_ORDER, machine=replace(SAW, **changed))


def for_ada(**changed: Any) -> Facts:
    """Return the facts of Ada at the saw with something about Ada changed."""
    return replace(IN_ORDER, person=replace(ADA, **changed))


def with_conditions(**conditions: Any) -> Facts:
    """Return the facts with these conditions of use, and company that they may ask for."""
    asked = replace(ASSESSMENT, conditions=Conditions(**conditions))
    return replace(IN_ORDER, machine=replace(SAW, assessments=(asked,)), here=Here())


def somebody(person_id: int = 8, being: Being = Being.AT_WORK, **changed: Any) -> Present:
    """Return somebody who came half an hour ago and has an hour and a half left."""
    present = Present(
        person_id=person_id,
        name=f"Somebody {person_id}",
        being=being,
        since=NOW - timedelta(minutes=30),
        until=NOW + timedelta(minutes=90),
    )
    return replace(present, **changed)


def here(facts: Facts = IN_ORDER, **around: Any) -> Facts:
    """Return the facts at a moment with this around the saw."""
    return replace(facts, here=Here(**around))


def with_records(induction: int, *records: Record) -> Facts:
    """Return the facts with these records alone of one induction."""
    return for_ada(records={**ADA.records, induction: records})
