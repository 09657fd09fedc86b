"""Who was seen to do what, what that is worth until when, and who may not for now."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, Index, SmallInteger, String, false
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, ends_once
from app.inductions.refresher import Path
from app.training.standing import Result


class Ground(StrEnum):
    """What a training record rests on."""

    SIGN_OFF = "sign-off"
    OUTSIDE_COMPETENCE = "outside competence"
    REVOCATION = "revocation"


class Way(StrEnum):
    """How an acknowledgement was given."""

    OWN_PHONE = "on their own phone"
    SHARED_DEVICE = "on a shared device"
    FACE_TO_FACE = "face to face"
    ON_PAPER = "on paper"


class SignOff(AppendOnly, Base):
    """A technician's record of what a person was seen to do."""

    __tablename__ = "sign_off"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(64), unique=True)  # of the form: a double tap is one
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    induction_revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"))
    technician_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    path: Mapped[Path] = mapped_column(default=Path.FULL)
    result: Mapped[Result]
    note_digest: Mapped[Digest | None]
    on_paper: Mapped[bool] = mapped_column(default=False, server_default=false())  # written first
    occurred_at: Mapped[datetime]  # when it was seen; the rest of the row is as of `recorded_at`
    recorded_at: Mapped[datetime]


class SignOffPaper(AppendOnly, Base):
    """The printed sheet that a sign-off was written on, and who typed it in."""

    __tablename__ = "sign_off_paper"
    id: Mapped[Key]
    sign_off_id: Mapped[int] = mapped_column(ForeignKey("sign_off.id"), unique=True)
    sheet: Mapped[str] = mapped_column(String(20), index=True)  # the reference printed on it
    typed_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class SignOffItem(AppendOnly, Base):
    """One item of the checklist, and whether it was seen."""

    __tablename__ = "sign_off_item"
    id: Mapped[Key]
    sign_off_id: Mapped[int] = mapped_column(ForeignKey("sign_off.id"), index=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("induction_item.id"))
    observed: Mapped[bool]


class SignOffBriefing(AppendOnly, Base):
    """An assessment revision that was in force and gone through at a sign-off."""

    __tablename__ = "sign_off_briefing"
    id: Mapped[Key]
    sign_off_id: Mapped[int] = mapped_column(ForeignKey("sign_off.id"), index=True)
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"))


class TrainingRecord(AppendOnly, Base):
    """What a person's standing in one induction became. The latest by ``occurred_at`` counts."""

    __tablename__ = "training_record"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    induction_id: Mapped[int] = mapped_column(ForeignKey("induction.id"))
    revision_number: Mapped[int] = mapped_column(SmallInteger)  # of the induction
    result: Mapped[Result]
    ground: Mapped[Ground]
    sign_off_id: Mapped[int | None] = mapped_column(ForeignKey("sign_off.id"))
    note_digest: Mapped[Digest | None]  # the evidence or the reason, in private words
    expires_on: Mapped[date | None]  # valid through this day
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


Index(
    "ix_training_record_standing",
    TrainingRecord.person_id,
    TrainingRecord.induction_id,
    TrainingRecord.occurred_at,
)


class Acknowledgement(AppendOnly, Base):
    """A person's own word that they have read an assessment revision and will follow it."""

    __tablename__ = "acknowledgement"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"))
    way: Mapped[Way]
    witness_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


Index(
    "uq_acknowledgement_once",
    Acknowledgement.person_id,
    Acknowledgement.revision_id,
    unique=True,
)


class AcknowledgementPaper(AppendOnly, Base):
    """The printed sheet that somebody signed an acknowledgement on, and who typed it in."""

    __tablename__ = "acknowledgement_paper"
    id: Mapped[Key]
    acknowledgement_id: Mapped[int] = mapped_column(ForeignKey("acknowledgement.id"), unique=True)
    sheet: Mapped[str] = mapped_column(String(20), index=True)  # the reference printed on it
    typed_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class Suspension(AppendOnly, Base):
    """A person may not, everywhere or in one area or at one machine; a later row lifts it."""

    __tablename__ = "suspension"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))
    machine_id: Mapped[int | None] = mapped_column(ForeignKey("machine.id"))
    note_digest: Mapped[Digest | None]  # the reason is seen only by those entitled
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("suspension.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Suspension)


class PersonMark(AppendOnly, Base):
    """“Speak to a technician” before a person uses a machine. Its ground is held elsewhere."""

    __tablename__ = "person_mark"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))
    machine_id: Mapped[int | None] = mapped_column(ForeignKey("machine.id"))
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("person_mark.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(PersonMark)


class EquipmentIssue(AppendOnly, Base):
    """Protective equipment issued or fitted to a person; a later row takes it back."""

    __tablename__ = "equipment_issue"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    equipment: Mapped[Name]
    expires_on: Mapped[date | None]  # a face fit is tested again; valid through this day
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("equipment_issue.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(EquipmentIssue)
