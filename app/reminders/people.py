"""What runs out for people and what they are still to acknowledge: few statements for everybody.

The rows come straight from the driver, as in `app.matrix.columns`, and what they are worth is
asked of `app.training.standing` once for each distinct record.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.inductions.catalogue import Catalogue, needed
from app.matrix.cells import instant
from app.matrix.columns import SHIFT, People, raw, told_apart
from app.reminders.known import Changed, Outstanding
from app.risk_assessments.in_force import in_force, material_number
from app.risk_assessments.models import (
    Fate,
    Revision,
    RevisionFate,
    RevisionInduction,
    RiskAssessment,
)
from app.training.models import SignOff, SignOffBriefing
from app.training.standing import Record, Result, State, standing

HOLDS = frozenset({State.CURRENT, State.SUPERVISED})


@dataclass(frozen=True, kw_only=True, slots=True)
class InForce:
    """An assessment in force, as far as acknowledging it goes."""

    assessment_id: int
    reference: str
    title: str
    revision_id: int
    material_number: int
    material_on: date  # the day on which that revision was approved
    inductions: frozenset[int]  # with what stands before them


def in_force_now(
    session: Session, taught: Catalogue, at: datetime, zone: ZoneInfo
) -> list[InForce]:
    """Return the assessments in force with the last material change of each. Three statements."""
    rows = session.execute(
        select(
            Revision.id,
            Revision.assessment_id,
            RiskAssessment.reference,
            RiskAssessment.title,
            material_number(at).label("material"),
        )
        .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
        .where(in_force(at))
        .order_by(RiskAssessment.reference)
    ).all()
    inductions: dict[int, list[int]] = defaultdict(list)
    for revision_id, induction_id in session.execute(
        select(RevisionInduction.revision_id, RevisionInduction.induction_id)
        .join(Revision, Revision.id == RevisionInduction.revision_id)
        .where(in_force(at))
    ):
        inductions[revision_id].append(induction_id)
    approved = {
        (assessment_id, number): moment
        for assessment_id, number, moment in session.execute(
            select(Revision.assessment_id, Revision.number, func.min(RevisionFate.occurred_at))
            .join(RevisionFate, RevisionFate.revision_id == Revision.id)
            .where(RevisionFate.fate == Fate.APPROVED)
            .group_by(Revision.assessment_id, Revision.number)
        )
    }
    return [
        InForce(
            assessment_id=row.assessment_id,
            reference=row.reference,
            title=row.title,
            revision_id=row.id,
            material_number=row.material,
            material_on=local_date(approved[row.assessment_id, row.material], zone),
            inductions=frozenset(each.id for each in needed(taught, inductions[row.id]))
            | frozenset(inductions[row.id]),
        )
        for row in rows
    ]


@dataclass(frozen=True, kw_only=True, slots=True)
class Held:
    """What people hold: by induction, who; and when what they hold runs out."""

    holders: Mapping[int, set[int]]
    runs_out: list[tuple[int, int, date]]


def held(
    people: People,
    taught: Catalogue,
    asked: Iterable[int],
    *,
    now: datetime,
    today: date,
) -> Held:
    """Return who holds which of the inductions asked for, and until when. Pure but for its rows."""
    counts_from = {each: taught[each].counts_from(now) for each in set(asked) if each in taught}
    worth: dict[tuple[int, str], tuple[bool, date | None]] = {}
    holders: dict[int, set[int]] = {each: set() for each in counts_from}
    runs_out: list[tuple[int, int, date]] = []
    for pair, (_happened, said) in people.records.items():
        person_id, induction_id = divmod(pair, SHIFT)
        if induction_id not in counts_from:
            continue
        key = (induction_id, said)
        if key not in worth:
            worth[key] = _worth(said, counts_from[induction_id], now, today)
        holds, until = worth[key]
        if holds:
            holders[induction_id].add(person_id)
            if until is not None:
                runs_out.append((person_id, induction_id, until))
    return Held(holders=holders, runs_out=runs_out)


def _worth(said: str, counts_from: int, now: datetime, today: date) -> tuple[bool, date | None]:
    """Return whether these newest records let somebody in, and the first day one runs out."""
    apart = told_apart(said)
    records = [
        Record(id=i, result=Result(result), revision_number=number, occurred_at=now, expires_on=day)
        for i, (result, number, day) in enumerate(apart)
    ]
    state = standing(records, counts_from=counts_from, now=now, today=today)
    return state in HOLDS, min((day for *_, day in apart if day is not None), default=None)


def still_to_acknowledge(
    session: Session,
    people: People,
    holders: Mapping[int, set[int]],
    assessments: Iterable[InForce],
    *,
    at: datetime,
    zone: ZoneInfo,
) -> list[Changed]:
    """Return the assessments that somebody knew, holds everything for, and has not acknowledged.

    The rule is `clearance.person_rules.assessment_not_acknowledged`, of those who knew a wording
    of it: by their own word, or because they were briefed on it. Who is briefed on the one in
    force owes their word since that day, everybody else since the change.
    """
    briefed = _briefings(session, at)
    found = []
    for each in assessments:
        acknowledged = dict(people.acknowledged.get(each.assessment_id, ()))
        told = dict(people.briefed.get(each.assessment_id, ()))
        holding = [holders.get(induction_id, set()) for induction_id in each.inductions]
        knowing = (acknowledged.keys() | told.keys()).intersection(*holding)
        outstanding = []
        for person_id in sorted(knowing):
            if acknowledged.get(person_id, 0) >= each.material_number:
                continue
            again = told.get(person_id, 0) < each.material_number
            began_on = each.material_on
            if not again:
                last = instant(briefed[each.assessment_id, person_id])
                began_on = max(began_on, local_date(last, zone))
            outstanding.append(Outstanding(person_id=person_id, since=began_on, changed=again))
        if outstanding:
            found.append(
                Changed(
                    assessment_id=each.assessment_id,
                    reference=each.reference,
                    title=each.title,
                    material_number=each.material_number,
                    revision_id=each.revision_id,
                    people=tuple(outstanding),
                )
            )
    return found


_LAST_BRIEFED = (
    select(Revision.assessment_id, SignOff.person_id, func.max(SignOff.occurred_at))
    .join(SignOffBriefing, SignOffBriefing.sign_off_id == SignOff.id)
    .join(Revision, Revision.id == SignOffBriefing.revision_id)
    .group_by(Revision.assessment_id, SignOff.person_id)
)


def _briefings(session: Session, at: datetime) -> dict[tuple[int, int], Any]:
    """Return when somebody was last briefed on an assessment, as the driver gives it."""
    return {
        (assessment_id, person_id): happened
        for assessment_id, person_id, happened in raw(
            session, _LAST_BRIEFED.where(SignOff.occurred_at <= at)
        )
    }
