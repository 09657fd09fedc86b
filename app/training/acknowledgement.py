"""A person's own word that they have read an assessment and will follow it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.audit import log
from app.errors import Forbidden, NotFound
from app.people.identity import Actor
from app.people.rights import Act
from app.risk_assessments.in_force import in_force, material_number
from app.risk_assessments.models import Revision, RevisionInduction
from app.training.models import Acknowledgement, TrainingRecord, Way
from app.training.standing import Result


def acknowledge(
    session: Session,
    *,
    actor: Actor,
    person_id: int,
    revision_id: int,
    now: datetime,
    shared: bool = False,
) -> Acknowledgement:
    """Record it once: by the person, or face to face with the technician as witness.

    ``shared`` says that the person signed in on a device that belongs to nobody: what it says
    about whose hands it was in is weaker than their own phone, and is kept as such.
    """
    revision = session.execute(
        select(Revision).where(Revision.id == revision_id, in_force(now))
    ).scalar_one_or_none()
    if revision is None:
        raise NotFound("That assessment revision is not in force.")
    own = actor.id == person_id
    if not own and not actor.may(Act.WITNESS):
        raise Forbidden("Only a technician witnesses an acknowledgement.")
    before = session.execute(
        select(Acknowledgement).where(
            Acknowledgement.person_id == person_id, Acknowledgement.revision_id == revision_id
        )
    ).scalar_one_or_none()
    if before is not None:
        return before
    row = Acknowledgement(
        person_id=person_id,
        revision_id=revision_id,
        way=_way(own=own, shared=shared),
        witness_id=None if own else actor.id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="training:acknowledgement:record",
        subject=f"acknowledgement:{row.id}",
        actor_id=actor.id,
        now=now,
        detail={"person": person_id, "revision": revision_id, "way": row.way.value},
    )
    return row


def _way(*, own: bool, shared: bool) -> Way:
    if not own:
        return Way.FACE_TO_FACE
    return Way.SHARED_DEVICE if shared else Way.OWN_PHONE


def taken_from_paper(way: Way, typed_by: str | None) -> str:
    """Return how an acknowledgement was given, and who typed it in where that was on paper."""
    return way.value if typed_by is None else f"{way.value}, typed in by {typed_by}"


def outstanding(session: Session, person_id: int, *, at: datetime) -> list[Revision]:
    """Return the revisions in force that this person was inducted for and has not acknowledged.

    Asked of everybody whose sign-off lists the assessment, or who holds a standing in an
    induction that it requires; an acknowledgement holds until the next material change.
    """
    return outstanding_of(session, [person_id], at=at).get(person_id, [])


def outstanding_of(
    session: Session, person_ids: Iterable[int], *, at: datetime, induction_id: int | None = None
) -> dict[int, list[Revision]]:
    """Return what each of these people has still to acknowledge; of one induction, or of all."""
    signed_for = (
        select(TrainingRecord.person_id, RevisionInduction.revision_id)
        .join(RevisionInduction, RevisionInduction.induction_id == TrainingRecord.induction_id)
        .where(
            TrainingRecord.person_id.in_(list(person_ids)),
            TrainingRecord.result.in_((Result.ALONE, Result.SUPERVISED)),
            *([] if induction_id is None else [TrainingRecord.induction_id == induction_id]),
        )
        .distinct()
        .subquery()
    )
    own = aliased(Revision)
    good_enough = (
        select(Acknowledgement.id)
        .join(own, own.id == Acknowledgement.revision_id)
        .where(
            Acknowledgement.person_id == signed_for.c.person_id,
            own.assessment_id == Revision.assessment_id,
            own.number >= material_number(at),
        )
        .exists()
    )
    found: dict[int, list[Revision]] = {}
    for person_id, revision in session.execute(
        select(signed_for.c.person_id, Revision)
        .join(Revision, Revision.id == signed_for.c.revision_id)
        .where(in_force(at), ~good_enough)
        .order_by(signed_for.c.person_id, Revision.assessment_id)
    ):
        found.setdefault(person_id, []).append(revision)
    return found
