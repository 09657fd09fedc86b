"""What came of a review: nothing has to change, and why, or a revision that was approved since."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.errors import Refused
from app.risk_assessments.models import Fate, Review, Revision, RevisionFate


class CameOf(StrEnum):
    """The two ways in which a review ends."""

    NO_CHANGE = "no change needed"
    REVISION = "a new revision"


def answering(session: Session, review: Review) -> list[int]:
    """Return the revisions that were approved since the review was opened: one may answer it."""
    return list(
        session.execute(
            select(Revision.number)
            .join(RevisionFate, RevisionFate.revision_id == Revision.id)
            .where(
                Revision.assessment_id == review.assessment_id,
                RevisionFate.fate == Fate.APPROVED,
                RevisionFate.occurred_at > review.occurred_at,
            )
            .order_by(Revision.number)
        ).scalars()
    )


def outcome(session: Session, review: Review, came_of: CameOf, why: str) -> str:
    """Return the outcome in the words that are kept with the review."""
    if came_of is CameOf.NO_CHANGE:
        if not why.strip():
            raise Refused("Say why nothing has to change.", code="outcome-missing", status=422)
        return f"No change needed: {why.strip()}"
    numbers = answering(session, review)
    if not numbers:
        raise Refused("No revision was approved since this review was opened.", code="no-revision")
    return ". ".join(part for part in (f"Revision {numbers[-1]}", why.strip()) if part)
