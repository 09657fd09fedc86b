"""Part 4: the index of risk assessments, overdue ones in front and why; what is bound behind it."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select

from app.db import stands
from app.pack.ground import Ground
from app.risk_assessments.models import (
    Review,
    Revision,
    RevisionMachine,
    RiskAssessment,
)
from assessments.document.content import Approval
from assessments.document.pack import Cell, Column, Figure, Figures, Part, Table
from assessments.document.wording import ended

INDEX = (
    Column(key="reference", heading="Reference", says="of the assessment", mm=20),
    Column(key="title", heading="What it covers", says="its title"),
    Column(key="revision", heading="Rev.", says="the revision in force", sort="number", mm=12),
    Column(key="machines", heading="Mach.", says="how many it covers", sort="number", mm=12),
    Column(key="approved_by", heading="Approved by", says="the approver", mm=30),
    Column(key="approved_on", heading="On", says="the day of approval", sort="day", mm=20),
    Column(key="review_due_on", heading="Review due", says="by its date", sort="day", mm=20),
)
LATE = (
    INDEX[0],
    INDEX[1],
    INDEX[6],
    Column(key="days", heading="Days", says="over its day", sort="number", mm=12),
    Column(key="why", heading="Why, as far as it is on record", says="open reviews", mm=60),
)


@dataclass(frozen=True, kw_only=True)
class Bound:
    """A revision that was in force at the moment: its print is bound behind the index."""

    revision: Revision
    title: str
    approval: Approval | None


def bound(ground: Ground) -> list[Bound]:
    """Return what is bound, by reference."""
    approvals = _approvals(ground)
    return [
        Bound(
            revision=revision,
            title=f"{of.reference}, revision {revision.number}: {of.title}",
            approval=approvals.get(revision.id),
        )
        for revision, of in ground.revisions
    ]


def part(ground: Ground) -> Part:
    """Return the index."""
    approvals, machines = _approvals(ground), _machines(ground)
    late = [(r, of) for r, of in ground.revisions if r.review_due_on < ground.today]
    bare = [f for f in ground.files.values() if not f.facts.assessments]
    covered = len(ground.files) - len(bare)
    return Part(
        number=4,
        key="assessments",
        title="Risk assessments",
        lead="The revisions in force, those over their review date in front. Each is bound behind "
        "this index as it was printed, with its frozen content inside the file.",
        blocks=(
            Figures(
                figures=(
                    Figure(
                        what="Machines with an assessment in force",
                        numerator=covered,
                        denominator=len(ground.files),
                        counted="machines",
                    ),
                    Figure(
                        what="Assessments within their review date",
                        numerator=len(ground.revisions) - len(late),
                        denominator=len(ground.revisions),
                        counted="in force",
                    ),
                )
            ),
            Table(
                name="reviews-overdue",
                title="Over their review date",
                columns=LATE,
                rows=_late(ground, late),
                otherwise="None is over its review date.",
            ),
            Table(
                name="machines-without-assessment",
                title="Machines without an assessment in force",
                columns=(
                    Column(key="machine", heading="Machine", says="its name", mm=60),
                    Column(key="area", heading="Area", says="where it stood"),
                ),
                rows=tuple((f.facts.name, f.row.area) for f in bare),
                otherwise="Every machine has one.",
            ),
            Table(
                name="assessments",
                title="In force",
                columns=INDEX,
                rows=tuple(
                    _row(revision, of, approvals.get(revision.id), machines[revision.id])
                    for revision, of in ground.revisions
                ),
                otherwise="No assessment was in force.",
            ),
        ),
    )


def _row(
    revision: Revision, of: RiskAssessment, approval: Approval | None, machines: int
) -> tuple[Cell, ...]:
    return (
        of.reference,
        of.title,
        revision.number,
        machines,
        "not on record" if approval is None else approval.approved_by,
        None if approval is None else approval.approved_at.date(),
        revision.review_due_on,
    )


def _late(
    ground: Ground, late: list[tuple[Revision, RiskAssessment]]
) -> tuple[tuple[Cell, ...], ...]:
    rows = ground.session.execute(
        select(Review).where(stands(Review, ground.at, ground.known)).order_by(Review.due_on)
    ).scalars()
    reviews: dict[int, list[Review]] = defaultdict(list)
    for review in rows:
        reviews[review.assessment_id].append(review)
    return tuple(
        (
            of.reference,
            of.title,
            revision.review_due_on,
            (ground.today - revision.review_due_on).days,
            _why(reviews.get(of.id, []), ground.today),
        )
        for revision, of in sorted(late, key=lambda each: each[0].review_due_on)
    )


def _why(reviews: list[Review], today: date) -> str:
    if not reviews:
        return "No reason is on record: nobody has opened a review."
    said = (
        f"Review for {each.trigger.value}, {'was' if each.due_on < today else 'is'} due "
        f"{each.due_on.isoformat()}{f': {each.why}' if each.why else ''}"
        for each in reviews
    )
    return " ".join(map(ended, said))


def _machines(ground: Ground) -> Counter[int]:
    ids = {revision.id for revision, _of in ground.revisions}
    rows = ground.session.execute(select(RevisionMachine.revision_id, RevisionMachine.machine_id))
    return Counter(revision_id for revision_id, _machine in rows if revision_id in ids)


def _approvals(ground: Ground) -> dict[int, Approval]:
    rows = ground.approvals
    ground.look_up(row.recorded_by_id for row in rows.values())
    return {
        revision.id: Approval(
            approved_by=ground.name(row.recorded_by_id),
            approved_at=row.occurred_at.astimezone(ground.zone),
            same_person=row.recorded_by_id == revision.prepared_by_id,
            note=row.note,
        )
        for revision, _of in ground.revisions
        if (row := rows.get(revision.id)) is not None
    }
