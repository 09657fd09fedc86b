"""The fate of a frozen revision: approved, returned to its author, or withdrawn."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.jobs import outbox
from app.machines.models import Machine
from app.risk_assessments.anew import frozen_anew
from app.risk_assessments.material import why_material_of
from app.risk_assessments.models import Fate, Revision, RevisionFate, RevisionMachine
from app.site import Site

PRINT_JOB = "risk-assessment-print"


def fates(session: Session, revision_id: int) -> list[RevisionFate]:
    """Return what happened to a revision, in order."""
    return list(
        session.execute(
            select(RevisionFate)
            .where(RevisionFate.revision_id == revision_id)
            .order_by(RevisionFate.id)
        ).scalars()
    )


def areas_covered(session: Session, revision_id: int) -> list[int]:
    """Return the areas of the machines that a revision covers, as they stand now."""
    return list(
        session.execute(
            select(Machine.area_id)
            .distinct()
            .join(RevisionMachine, RevisionMachine.machine_id == Machine.id)
            .where(RevisionMachine.revision_id == revision_id)
            .order_by(Machine.area_id)
        ).scalars()
    )


def approve(
    session: Session,
    revision: Revision,
    *,
    actor_id: int,
    site: Site,
    note: str,
    now: datetime,
    material: bool | None = None,
) -> RevisionFate:
    """Put a submitted revision in force at once; the row returned names what is in force.

    ``material`` is the approver's own answer; None: as its author said. Where it is another
    answer, the same wording is frozen anew with it. A change that asks nobody for a new
    briefing needs its reason in ``note``, and is refused where the program finds it material.
    """
    _insist_on_approval(session, revision, actor_id, site)
    answer = revision.material if material is None else material
    if not answer:
        _insist_on_not_material(session, revision, note)
    if answer != revision.material:
        anew = frozen_anew(session, revision, material=answer, actor_id=actor_id, now=now)
        said = "material" if answer else "not material"
        back = f"The change is {said}: the same wording is revision {anew.number}."
        _decide(session, revision, Fate.RETURNED, actor_id=actor_id, note=back, now=now)
        revision = anew
    return _decide(session, revision, Fate.APPROVED, actor_id=actor_id, note=note, now=now)


def _insist_on_approval(session: Session, revision: Revision, actor_id: int, site: Site) -> None:
    if fates(session, revision.id):
        raise Refused("This revision was decided on already.", code="decided")
    if revision.prepared_by_id == actor_id and not site.one_person_may_approve:
        raise Refused(
            "The one who wrote an assessment cannot approve it.", code="own-work", status=403
        )
    newer = session.execute(
        select(Revision.number)
        .join(RevisionFate, RevisionFate.revision_id == Revision.id)
        .where(
            Revision.assessment_id == revision.assessment_id,
            Revision.number > revision.number,
            RevisionFate.fate == Fate.APPROVED,
        )
    ).first()
    if newer is not None:
        raise Refused(f"Revision {newer.number} was approved after this one.", code="overtaken")


def _insist_on_not_material(session: Session, revision: Revision, note: str) -> None:
    why = why_material_of(session, revision)
    if why:
        raise Refused(
            f"The change is material whoever approves it: {', and '.join(why)}.",
            code="material",
            status=422,
        )
    if not note.strip():
        raise Refused(
            "Write why nobody needs a new briefing for this change.",
            code="reason-missing",
            status=422,
        )


def give_back(
    session: Session, revision: Revision, *, actor_id: int, note: str, now: datetime
) -> RevisionFate:
    """Return a submitted revision to its author, saying what is missing."""
    if fates(session, revision.id):
        raise Refused("This revision was decided on already.", code="decided")
    if not note.strip():
        raise Refused("Say what is missing.", code="reason-missing", status=422)
    return _decide(session, revision, Fate.RETURNED, actor_id=actor_id, note=note, now=now)


def withdraw(
    session: Session, revision: Revision, *, actor_id: int, note: str, now: datetime
) -> RevisionFate:
    """Take an approved revision out of force. Its machines are then out of use for everybody."""
    if [f.fate for f in fates(session, revision.id)] != [Fate.APPROVED]:
        raise Refused("Only a revision that was approved can be withdrawn.", code="not-approved")
    if not note.strip():
        raise Refused("Say why it is withdrawn.", code="reason-missing", status=422)
    return _decide(session, revision, Fate.WITHDRAWN, actor_id=actor_id, note=note, now=now)


def _decide(
    session: Session, revision: Revision, fate: Fate, *, actor_id: int, note: str, now: datetime
) -> RevisionFate:
    row = RevisionFate(
        revision_id=revision.id,
        fate=fate,
        note=note.strip(),
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action=f"risk_assessments:revision:{fate}",
        subject=f"assessment_revision:{revision.id}",
        actor_id=actor_id,
        now=now,
        detail={"digest": revision.digest},
    )
    _ask_for_prints(session, revision, row.id, now)
    return row


def _ask_for_prints(session: Session, revision: Revision, fate_id: int, now: datetime) -> None:
    """Ask for the print of this revision, and of those whose standing it changed."""
    for other in session.execute(
        select(Revision.id)
        .join(RevisionFate, RevisionFate.revision_id == Revision.id)
        .where(Revision.assessment_id == revision.assessment_id, RevisionFate.fate == Fate.APPROVED)
        .distinct()
    ).scalars():
        outbox.ask(
            session,
            PRINT_JOB,
            key=f"{PRINT_JOB}:{other}:fate-{fate_id}",
            payload={"revision": other},
            now=now,
        )
