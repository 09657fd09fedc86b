"""Which revision of which assessment is in force for a machine."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Exists,
    ScalarSelect,
    and_,
    bindparam,
    func,
    or_,
    select,
)
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from app.db import Moment, UtcDateTime, by_then, constant, prepared
from app.risk_assessments.models import (
    Fate,
    Revision,
    RevisionFate,
    RevisionInduction,
    RevisionMachine,
)


def has_fate(
    revision_id: InstrumentedAttribute[int], fate: Fate, at: Moment, known: Moment | None = None
) -> Exists:
    """Say, for a revision, whether this had happened to it by ``at``, as known by ``known``."""
    row = aliased(RevisionFate)
    return (
        select(row.id)
        .where(row.revision_id == revision_id, row.fate == constant(fate), *by_then(row, at, known))
        .correlate_except(row)
        .exists()
    )


def in_force(at: Moment, known: Moment | None = None) -> ColumnElement[bool]:
    """Say, for a row of `Revision`, whether it is in force at ``at``.

    The newest approved revision is, unless it was withdrawn: an older one does not come
    back by itself, since it was replaced for a reason.
    """
    newer = aliased(Revision)
    return and_(
        has_fate(Revision.id, Fate.APPROVED, at, known),
        ~has_fate(Revision.id, Fate.WITHDRAWN, at, known),
        ~select(newer.id)
        .where(
            newer.assessment_id == Revision.assessment_id,
            newer.number > Revision.number,
            has_fate(newer.id, Fate.APPROVED, at, known),
        )
        .correlate_except(newer)
        .exists(),
    )


def withdrawn(at: Moment, known: Moment | None = None) -> ColumnElement[bool]:
    """Say, for a row of `Revision`, whether it is the newest approved one and was withdrawn.

    What it covered is then assessed by nothing in that part, whatever else is in force.
    """
    newer = aliased(Revision)
    return and_(
        has_fate(Revision.id, Fate.WITHDRAWN, at, known),
        ~select(newer.id)
        .where(
            newer.assessment_id == Revision.assessment_id,
            newer.number > Revision.number,
            has_fate(newer.id, Fate.APPROVED, at, known),
        )
        .correlate_except(newer)
        .exists(),
    )


def material_number(at: Moment, known: Moment | None = None) -> ScalarSelect[int]:
    """Return, for a row of `Revision` in force, the latest revision that changed it materially.

    The first revision is material by its nature: nobody was briefed before it.
    """
    other = aliased(Revision)
    return (
        select(func.coalesce(func.max(other.number), 1))
        .where(
            other.assessment_id == Revision.assessment_id,
            other.number <= Revision.number,
            or_(other.material.is_(True), other.number == 1),
            has_fate(other.id, Fate.APPROVED, at, known),
        )
        # However deep it is asked: it is about the row of `Revision` outside.
        .correlate_except(other)
        .scalar_subquery()
    )


def revisions_for(session: Session, machine_ids: list[int], *, at: datetime) -> list[Revision]:
    """Return the revisions in force that cover any of the machines."""
    return list(
        session.execute(
            select(Revision)
            .where(
                in_force(at),
                Revision.id.in_(
                    select(RevisionMachine.revision_id).where(
                        RevisionMachine.machine_id.in_(machine_ids)
                    )
                ),
            )
            .order_by(Revision.id)
        ).scalars()
    )


_AT: BindParameter[datetime] = bindparam("at", type_=UtcDateTime())
# The revisions in force that require an ``induction``, as of ``at``.
NEEDING = (
    select(Revision.id)
    .join(RevisionInduction, RevisionInduction.revision_id == Revision.id)
    .where(RevisionInduction.induction_id == bindparam("induction"), in_force(_AT))
    .order_by(Revision.id)
)
_NEEDING = prepared(NEEDING)


def revisions_needing(session: Session, induction_id: int, *, at: datetime) -> list[int]:
    """Return the revisions in force that require an induction."""
    asked = {"induction": induction_id, "at": at}
    return list(_NEEDING(session.connection(), asked).scalars())
