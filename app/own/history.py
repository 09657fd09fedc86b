"""What was kept about one person, as a list of what happened: the newest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.inductions.models import Induction
from app.machines.models import Area, Machine
from app.people.models import Person
from app.presence.models import Loan, Start, UseWatched
from app.risk_assessments.models import Revision, RiskAssessment
from app.sessions.models import InductionSession, SessionPlace
from app.training.acknowledgement import taken_from_paper
from app.training.models import (
    Acknowledgement,
    AcknowledgementPaper,
    EquipmentIssue,
    Ground,
    Suspension,
    TrainingRecord,
)
from app.words import day

MOST = 100  # of each sort; the file of a person's data holds all


@dataclass(frozen=True, kw_only=True, slots=True)
class Happened:
    """One thing: when, what about, and the rest in words. No private words are in it."""

    at: datetime
    title: str
    words: str


def history_of(session: Session, person_id: int) -> list[Happened]:
    """Return what happened, the newest first. A fixed number of statements."""
    sorts = (_training, _acknowledged, _starts, _watched, _sessions, _loans, _equipment, _stops)
    found = [each for sort in sorts for each in sort(session, person_id)]
    return sorted(found, key=lambda each: each.at, reverse=True)


def _training(session: Session, person_id: int) -> Iterator[Happened]:
    by = aliased(Person)
    rows = session.execute(
        select(TrainingRecord, Induction.title, by.name)
        .join(Induction, Induction.id == TrainingRecord.induction_id)
        .join(by, by.id == TrainingRecord.recorded_by_id)
        .where(TrainingRecord.person_id == person_id)
        .order_by(TrainingRecord.id.desc())
        .limit(MOST)
    )
    for record, title, name in rows:
        if record.ground is Ground.REVOCATION:
            words = f"Taken back by {name}."
        else:
            until = f", through {day(record.expires_on)}" if record.expires_on else ""
            words = f"{record.result.value.capitalize()}{until}. By {name}"
            outside = record.ground is Ground.OUTSIDE_COMPETENCE
            words += ", on outside competence." if outside else "."
        yield Happened(at=record.occurred_at, title=title, words=words)


def _acknowledged(session: Session, person_id: int) -> Iterator[Happened]:
    rows = session.execute(
        select(
            Acknowledgement.occurred_at,
            Acknowledgement.way,
            Revision.number,
            RiskAssessment.reference,
            RiskAssessment.title,
            Person.name.label("typed_by"),
        )
        .join(Revision, Revision.id == Acknowledgement.revision_id)
        .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
        .outerjoin(
            AcknowledgementPaper, AcknowledgementPaper.acknowledgement_id == Acknowledgement.id
        )
        .outerjoin(Person, Person.id == AcknowledgementPaper.typed_by_id)
        .where(Acknowledgement.person_id == person_id)
        .order_by(Acknowledgement.id.desc())
        .limit(MOST)
    )
    for row in rows:
        how = taken_from_paper(row.way, row.typed_by)
        words = f"{row.reference}, revision {row.number}: read and acknowledged, {how}."
        yield Happened(at=row.occurred_at, title=row.title, words=words)


def _starts(session: Session, person_id: int) -> Iterator[Happened]:
    rows = session.execute(
        select(Start.occurred_at, Start.verdict, Start.material, Machine.name)
        .join(Machine, Machine.id == Start.machine_id)
        .where(Start.person_id == person_id)
        .order_by(Start.id.desc())
        .limit(MOST)
    )
    for row in rows:
        material = f" Material: {row.material}." if row.material else ""
        words = f"Started: {row.verdict}.{material}"
        yield Happened(at=row.occurred_at, title=row.name, words=words)


def _watched(session: Session, person_id: int) -> Iterator[Happened]:
    rows = session.execute(
        select(UseWatched.occurred_at, UseWatched.went_well, Machine.name, Person.name)
        .join(Start, Start.id == UseWatched.start_id)
        .join(Machine, Machine.id == Start.machine_id)
        .join(Person, Person.id == UseWatched.supervisor_id)
        .where(Start.person_id == person_id)
        .order_by(UseWatched.id.desc())
        .limit(MOST)
    )
    for at, went_well, machine, supervisor in rows:
        counts = "It counts" if went_well else "It does not count"
        words = f"Supervised use, watched by {supervisor}. {counts} toward working alone."
        yield Happened(at=at, title=machine, words=words)


def _sessions(session: Session, person_id: int) -> Iterator[Happened]:
    rows = session.execute(
        select(SessionPlace.occurred_at, SessionPlace.word, Induction.title, InductionSession)
        .join(InductionSession, InductionSession.id == SessionPlace.session_id)
        .join(Induction, Induction.id == InductionSession.induction_id)
        .where(SessionPlace.person_id == person_id)
        .order_by(SessionPlace.id.desc())
        .limit(MOST)
    )
    for at, word, title, given in rows:
        words = f"Session at {given.place}: {word.value}."
        yield Happened(at=at, title=title, words=words)


def _loans(session: Session, person_id: int) -> Iterator[Happened]:
    rows = session.execute(
        select(Loan.occurred_at, Loan.ends_id, Machine.name)
        .join(Machine, Machine.id == Loan.machine_id)
        .where(Loan.person_id == person_id)
        .order_by(Loan.id.desc())
        .limit(MOST)
    )
    for row in rows:
        words = "Brought back." if row.ends_id else "Taken out on loan."
        yield Happened(at=row.occurred_at, title=row.name, words=words)


def _equipment(session: Session, person_id: int) -> Iterator[Happened]:
    rows = session.execute(
        select(EquipmentIssue)
        .where(EquipmentIssue.person_id == person_id)
        .order_by(EquipmentIssue.id.desc())
        .limit(MOST)
    ).scalars()
    for row in rows:
        words = "No longer counts as issued." if row.ends_id else "Issued or fitted."
        yield Happened(at=row.occurred_at, title=row.equipment, words=words)


def _stops(session: Session, person_id: int) -> Iterator[Happened]:
    """A suspension and its end: that it was, and where. Whoever set it tells why."""
    rows = session.execute(
        select(Suspension.occurred_at, Suspension.ends_id, Area.name, Machine.name)
        .join(Area, Area.id == Suspension.area_id, isouter=True)
        .join(Machine, Machine.id == Suspension.machine_id, isouter=True)
        .where(Suspension.person_id == person_id)
        .order_by(Suspension.id.desc())
        .limit(MOST)
    )
    for at, ends, area, machine in rows:
        where = machine or area or "everywhere"
        words = "Restored." if ends else "Suspended. Ask a technician for the reason."
        yield Happened(at=at, title=where[0].upper() + where[1:], words=words)
