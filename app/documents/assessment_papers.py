"""What is drawn from a frozen assessment: the sheet at the machine, local rules, substances."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.db import by_then
from app.documents.asked import Asked, head_of, site_then
from app.errors import NotFound
from app.people.models import Person
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Fate, Revision, RevisionFate
from app.site import Site
from assessments.document.content import RiskAssessment
from assessments.document.frozen import thaw
from assessments.document.laser_rules import LaserRules, beam_lines, laser_rules_of
from assessments.document.paper import Head
from assessments.document.substance_assessment import (
    NAMES,
    SubstanceAssessment,
    substance_assessment_of,
    substance_lines,
)
from assessments.document.wording import moment, unbroken
from assessments.document.working_sheet import WorkingSheet, working_sheet_of


@dataclass(frozen=True, kw_only=True)
class Taken:
    """A frozen revision with what had become of it by that moment."""

    content: RiskAssessment
    head: Head
    approved: str
    site: Site

    @property
    def review_due(self) -> str:
        return unbroken(self.content.review_due_on)


def papers_of(content: RiskAssessment) -> list[str]:
    """Return the kinds of documents that can be drawn from an assessment."""
    found = ["working-sheet"]
    if beam_lines(content):
        found.append("laser-rules")
    if substance_lines(content):
        found.append("substance-assessment")
    return found


def working_sheet(session: Session, asked: Asked) -> WorkingSheet:
    """Return the sheet that hangs at the machines of a revision."""
    taken = _taken(session, asked)
    return working_sheet_of(taken.content, taken.head)


def laser_rules(session: Session, asked: Asked) -> LaserRules:
    """Return the local rules of the lasers of a revision."""
    taken = _taken(session, asked)
    return laser_rules_of(
        taken.content, taken.head, approved=taken.approved, review_due=taken.review_due
    )


def substance_assessment(session: Session, asked: Asked) -> SubstanceAssessment:
    """Return what a revision says of substances, under the name that the local law gives it."""
    regime = site_then(session, asked).regime
    taken = _taken(session, asked, kind=NAMES.get(regime or "", ""))
    return substance_assessment_of(
        taken.content,
        taken.head,
        regime=regime,
        approved=taken.approved,
        review_due=taken.review_due,
    )


def _taken(session: Session, asked: Asked, *, kind: str = "") -> Taken:
    row = session.get(Revision, asked.subject)
    if row is None or row.submitted_at > min(asked.at, asked.known):
        raise NotFound("There is no such assessment revision, or there was none at that moment.")
    place = site_then(session, asked)
    content = thaw(row.content)
    happened = list(
        session.execute(
            select(RevisionFate)
            .where(
                RevisionFate.revision_id == row.id,
                *by_then(RevisionFate, asked.at, asked.known),
            )
            .order_by(RevisionFate.occurred_at, RevisionFate.id)
        ).scalars()
    )
    approval = next((each for each in happened if each.fate is Fate.APPROVED), None)
    approved = ""
    if approval is not None:
        by = session.get_one(Person, approval.recorded_by_id).name
        approved = f"{by}, on {moment(approval.occurred_at.astimezone(place.tz))}"
    holds = session.execute(
        select(Revision.id).where(Revision.id == row.id, in_force(asked.at, asked.known))
    ).first()
    if holds:
        word, standing = (
            "In force",
            f"Approved by {approved}. Review due {unbroken(row.review_due_on)}",
        )
    else:
        word, standing = "Not in force", _why_not(happened)
    head = head_of(
        place,
        asked,
        reference=content.reference,
        title=content.title,
        edition=f"revision {content.number}",
        dated=content.prepared_on,
        word=word,
        standing=standing,
        loud=not holds,
        kind=kind,
    )
    return Taken(content=content, head=head, approved=approved, site=place)


def _why_not(happened: list[RevisionFate]) -> str:
    """Say why a revision is not in force."""
    last = happened[-1].fate if happened else None
    return {
        None: "Submitted, not approved",
        Fate.RETURNED: "Returned to its author, not approved",
        Fate.WITHDRAWN: "Withdrawn",
        Fate.APPROVED: "Superseded by a later revision",
    }[last]
