"""How a draft begins: from a kind of the catalogue, from a copy, beside others, or empty."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.machines.models import Machine
from app.risk_assessments.models import AssessmentMachine, RiskAssessment
from app.risk_assessments.run_mode import RunMode

REVIEW_MONTHS = 12  # a year is common practice; laws set no fixed interval (from memory)

# Management of Health and Safety at Work Regulations 1999, regulations 3 and 16 (from memory):
# young persons, and new or expectant mothers; the others are common practice.
AT_RISK = (
    "Young people under 18: inexperience, and no sense yet of what is coming.",
    "New and expectant mothers: ask the adviser in private before first use.",
    "Newcomers in their first weeks, and readers of other languages: show it, have it shown back.",
    "Cleaners and contractors: they are here when nobody explains it.",
)


def empty_prose() -> dict[str, Any]:
    """Return the words of a draft that nobody has written yet."""
    return {
        "scope": "",
        "not_covered": "",
        "lone_working": "",
        "who": list(AT_RISK),
        "signs": [],
        "never": [],
        "before_use": [],
        "emergency": [],
        "sources": [],
        "consulted": [],
        "actions": [],
        "abnormal": [],
        "conditions": None,
        "to_confirm": [],
    }


def draft_from_nothing(
    session: Session,
    machines: Mapping[int, str],  # machine id: what sets this unit apart
    *,
    reference: str,
    title: str,
    actor_id: int,
    now: datetime,
) -> RiskAssessment:
    """Begin an empty draft."""
    draft = new_draft(
        session, machines, reference=reference, title=title, actor_id=actor_id, now=now
    )
    log_begun(session, draft, "empty", actor_id=actor_id, now=now)
    return draft


def join(
    session: Session,
    draft: RiskAssessment,
    machine: Machine,
    *,
    differences: str,
    actor_id: int,
    now: datetime,
) -> None:
    """Let a draft cover one more machine, with a line on what sets this unit apart.

    It covers the machine at the scan once that revision was approved.
    """
    if not differences.strip():
        raise Refused(
            "Say what sets this unit apart from those that the assessment covers already; where "
            "it is nothing, say that it was looked for.",
            code="differences-missing",
            status=422,
        )
    session.add(
        AssessmentMachine(
            assessment_id=draft.id, machine_id=machine.id, differences=differences.strip()
        )
    )
    draft.version += 1
    draft.edited_by_id, draft.edited_at = actor_id, now
    session.flush()
    log.record(
        session,
        action="risk_assessments:draft:join",
        subject=f"risk_assessment:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"machine": machine.id},
    )


def suggest_reference(session: Session, area_id: int | None) -> str:
    """Return the next free reference, counted on from those of the area's own assessments."""
    everywhere = list(session.execute(select(RiskAssessment.reference)).scalars())
    here = session.execute(
        select(RiskAssessment.reference)
        .join(AssessmentMachine, AssessmentMachine.assessment_id == RiskAssessment.id)
        .join(Machine, Machine.id == AssessmentMachine.machine_id)
        .where(Machine.area_id == area_id)
    ).scalars()
    for known in (list(here), everywhere):
        if numbered := [found for each in known if (found := re.fullmatch(r"(.*?)(\d+)", each))]:
            stem, digits = max(numbered, key=lambda found: int(found[2])).groups()
            return _free(everywhere, stem, int(digits) + 1, len(digits))
    return _free(everywhere, "RA-", 1, 2)


def _free(taken: Iterable[str], stem: str, number: int, width: int) -> str:
    known = set(taken)
    while f"{stem}{number:0{width}}" in known:
        number += 1
    return f"{stem}{number:0{width}}"


def new_draft(
    session: Session,
    machines: Mapping[int, str],
    *,
    reference: str,
    title: str,
    actor_id: int,
    now: datetime,
    prose: dict[str, Any] | None = None,
    run_mode: RunMode = RunMode.SUPERVISED,  # until somebody says that it may be looser
    review_months: int = REVIEW_MONTHS,
    kind: str = "",
    copied_from_id: int | None = None,
) -> RiskAssessment:
    _insist_on_name(session, reference, title)
    draft = RiskAssessment(
        reference=reference,
        title=title,
        run_mode=run_mode,
        review_months=review_months,
        prose=prose or empty_prose(),
        kind=kind,
        copied_from_id=copied_from_id,
        edited_by_id=actor_id,
        edited_at=now,
    )
    session.add(draft)
    session.flush()
    session.add_all(
        AssessmentMachine(assessment_id=draft.id, machine_id=machine_id, differences=differences)
        for machine_id, differences in machines.items()
    )
    session.flush()
    return draft


def _insist_on_name(session: Session, reference: str, title: str) -> None:
    if not re.fullmatch(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?", reference):
        raise Refused(
            "A reference has at most 40 letters, digits, full stops, hyphens and underscores, "
            "such as RA-07.",
            code="reference",
            status=422,
        )
    if not 1 <= len(title) <= 200:
        raise Refused(
            "An assessment has a title of at most 200 characters.", code="title", status=422
        )
    taken = select(RiskAssessment.id).where(RiskAssessment.reference == reference)
    if session.execute(taken).first():
        raise Refused(
            f"There is an assessment {reference} already.", code="reference-taken", status=422
        )


def log_begun(
    session: Session, draft: RiskAssessment, source: str, *, actor_id: int, now: datetime
) -> None:
    session.flush()
    log.record(
        session,
        action="risk_assessments:draft:begin",
        subject=f"risk_assessment:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"from": source},
    )
