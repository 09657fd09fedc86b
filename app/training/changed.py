"""What changed in an assessment since somebody last knew it: by their own word, or a briefing."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from app.risk_assessments.difference import Difference, difference
from app.risk_assessments.models import Revision
from app.training.models import Acknowledgement, SignOff, SignOffBriefing
from assessments.document.frozen import thaw


@dataclass(frozen=True, kw_only=True)
class Changed:
    """The revision that somebody knew, and what differs from it now."""

    number: int
    acknowledged: bool  # by their own word; else they were briefed on it at a sign-off
    difference: Difference


def changed_since(session: Session, person_id: int, revision: Revision) -> Changed | None:
    """Return what is new to a person; None where they never knew an earlier revision."""
    earlier = (
        Revision.assessment_id == revision.assessment_id,
        Revision.number < revision.number,
    )
    acknowledged = _newest(
        session,
        select(Revision)
        .join(Acknowledgement, Acknowledgement.revision_id == Revision.id)
        .where(Acknowledgement.person_id == person_id, *earlier),
    )
    briefed = _newest(
        session,
        select(Revision)
        .join(SignOffBriefing, SignOffBriefing.revision_id == Revision.id)
        .join(SignOff, SignOff.id == SignOffBriefing.sign_off_id)
        .where(SignOff.person_id == person_id, *earlier),
    )
    known = [each for each in (acknowledged, briefed) if each is not None]
    if not known:
        return None
    last = max(known, key=lambda each: each.number)
    return Changed(
        number=last.number,
        acknowledged=last is acknowledged,
        difference=difference(thaw(last.content), thaw(revision.content)),
    )


def _newest(session: Session, asked: Select[Revision]) -> Revision | None:
    return session.execute(asked.order_by(Revision.number.desc()).limit(1)).scalar_one_or_none()
