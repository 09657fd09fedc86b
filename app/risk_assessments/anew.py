"""Freeze the wording of a revision once more, with the approver's answer about what is material.

A frozen text never changes, and what is in force is one such text. Where the approver judges the
change otherwise than its author did, the same wording is frozen as the next revision with that
answer in it, and what is printed is what was approved.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.risk_assessments.models import (
    Revision,
    RevisionCheck,
    RevisionConditions,
    RevisionInduction,
    RevisionMachine,
)
from assessments.document import frozen


def frozen_anew(
    session: Session, revision: Revision, *, material: bool, actor_id: int, now: datetime
) -> Revision:
    """Return the next revision: the same author and wording, material as the approver says.

    Refused where a newer revision was submitted meanwhile: this one would overtake it.
    """
    newest = session.execute(
        select(func.max(Revision.number)).where(Revision.assessment_id == revision.assessment_id)
    ).scalar_one()
    if newest > revision.number:
        raise Refused(
            f"Revision {newest} was submitted after this one: decide on that one, or give this "
            "one back.",
            code="newer-submitted",
        )
    content = frozen.thaw(revision.content)
    text = frozen.freeze(replace(content, number=newest + 1, material_change=material))
    row = Revision(
        assessment_id=revision.assessment_id,
        number=newest + 1,
        content=text,
        digest=frozen.digest(text),
        run_mode=revision.run_mode,
        material=material,
        review_due_on=revision.review_due_on,
        prepared_by_id=revision.prepared_by_id,
        submitted_at=now,
    )
    session.add(row)
    session.flush()
    for ties in (RevisionMachine, RevisionInduction, RevisionCheck, RevisionConditions):
        _copy(session, ties, revision.id, row.id)
    log.record(
        session,
        action="risk_assessments:revision:anew",
        subject=f"assessment_revision:{row.id}",
        actor_id=actor_id,
        now=now,
        detail={
            "digest": row.digest,
            "number": row.number,
            "material": material,
            "of": revision.id,
        },
    )
    return row


def _copy(
    session: Session,
    ties: type[RevisionMachine | RevisionInduction | RevisionCheck | RevisionConditions],
    old: int,
    new: int,
) -> None:
    """Tie to the new revision what the scan enforces of the old one."""
    names = [c.key for c in ties.__table__.columns if c.key not in ("id", "revision_id")]
    for tie in session.execute(select(ties).where(ties.revision_id == old)).scalars().all():
        session.add(ties(revision_id=new, **{name: getattr(tie, name) for name in names}))
