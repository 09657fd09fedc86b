"""Acknowledgements that were signed on paper: of what the sheet named, as of when it was signed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Refused
from app.people.identity import Actor
from app.people.models import Person
from app.people.rights import Act
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RiskAssessment
from app.sessions.models import PaperSheet
from app.training.models import Acknowledgement, AcknowledgementPaper, Way


@dataclass(frozen=True, kw_only=True)
class ToRead:
    """An assessment revision that a sheet names."""

    revision_id: int
    reference: str
    title: str
    number: int


def to_read(session: Session, revision_ids: Iterable[int]) -> list[ToRead]:
    """Return these revisions by their references."""
    rows = session.execute(
        select(Revision.id, RiskAssessment.reference, RiskAssessment.title, Revision.number)
        .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
        .where(Revision.id.in_(list(revision_ids)))
        .order_by(RiskAssessment.reference)
    )
    return [
        ToRead(revision_id=row.id, reference=row.reference, title=row.title, number=row.number)
        for row in rows
    ]


def printed_to_read(session: Session, sheet: PaperSheet) -> list[ToRead]:
    """Return what people signed for having read on this sheet."""
    return to_read(session, map(int, sheet.revisions))


def acknowledge_on_paper(
    session: Session,
    sheet: PaperSheet,
    person_id: int,
    *,
    saw: Actor,
    typist: Actor,
    seen_at: datetime,
    now: datetime,
) -> int:
    """Record one person's word for each revision on the sheet; return how many are news.

    The witness is whoever saw it. It counts from when it was signed, and for the wording that
    was on the sheet: a material change since asks for a new one.

    Raises:
        Refused: the sheet asks nobody to read anything, whoever saw it could be no witness, or
            a revision was not in force at that time.
    """
    name = session.get_one(Person, person_id).name
    named = printed_to_read(session, sheet)
    if not named:
        raise _refused(f"{name}: this sheet names nothing to be read.")
    if not saw.may(Act.WITNESS):
        raise _refused(f"{name}: {saw.name} could not witness an acknowledgement then.")
    then = set(
        session.execute(
            select(Revision.id).where(
                Revision.id.in_([each.revision_id for each in named]), in_force(seen_at)
            )
        ).scalars()
    )
    for each in named:
        if each.revision_id not in then:
            raise _refused(
                f"{name}: {each.reference}, revision {each.number}, was not in force any more "
                "when it was signed."
            )
    return sum(
        _record(session, sheet, person_id, each, saw.id, typist.id, seen_at, now) for each in named
    )


def _record(
    session: Session,
    sheet: PaperSheet,
    person_id: int,
    what: ToRead,
    witness_id: int,
    typist_id: int,
    seen_at: datetime,
    now: datetime,
) -> bool:
    """Record it once: a word that was given otherwise stands as it was given."""
    before = select(Acknowledgement.id).where(
        Acknowledgement.person_id == person_id, Acknowledgement.revision_id == what.revision_id
    )
    if session.execute(before).first() is not None:
        return False
    row = Acknowledgement(
        person_id=person_id,
        revision_id=what.revision_id,
        way=Way.ON_PAPER,
        witness_id=witness_id,
        occurred_at=seen_at,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    session.add(
        AcknowledgementPaper(
            acknowledgement_id=row.id,
            sheet=sheet.reference,
            typed_by_id=typist_id,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="training:acknowledgement:record",
        subject=f"acknowledgement:{row.id}",
        actor_id=typist_id,
        now=now,
        detail={
            "person": person_id,
            "revision": what.revision_id,
            "way": row.way.value,
            "seen_at": seen_at.isoformat(),
            "seen_by": witness_id,
            "sheet": sheet.reference,
        },
    )
    return True


def _refused(sentence: str) -> Refused:
    return Refused(f"{sentence} Nothing of the sheet was recorded.", code="read", status=422)
