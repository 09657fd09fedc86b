"""Who is here and at what: uses, duty, jobs that run on alone, loans, bookings."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once


class Start(AppendOnly, Base):
    """Somebody said that they start. Only a start is kept: looking at an answer writes nothing.

    It is a presence until it is finished or runs out.
    """

    __tablename__ = "start"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(64), unique=True)
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    verdict: Mapped[str] = mapped_column(String(40))
    reasons: Mapped[list[str]]
    rules: Mapped[int] = mapped_column(SmallInteger)  # version of the rule set that answered
    material: Mapped[Words]  # as the person said; empty: not asked
    partner_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    supervisor_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    runs_out_at: Mapped[datetime | None]  # None: of a time when presences were not kept
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


# Who is about now is asked at each scan, of a table that holds the starts of years.
Index("ix_start_machine_runs_out", Start.machine_id, Start.runs_out_at)
Index("ix_start_runs_out", Start.runs_out_at)


class UseExtended(AppendOnly, Base):
    """“Still here”: a use runs out later. The latest row counts."""

    __tablename__ = "use_extended"
    id: Mapped[Key]
    start_id: Mapped[int] = mapped_column(ForeignKey("start.id"), index=True)
    runs_out_at: Mapped[datetime]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


Index("ix_use_extended_runs_out", UseExtended.runs_out_at)


class UseFinished(AppendOnly, Base):
    """A use was finished. A supervised one may be counted by the supervisor who watched it."""

    __tablename__ = "use_finished"
    id: Mapped[Key]
    start_id: Mapped[int] = mapped_column(ForeignKey("start.id"), unique=True)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class UseWatched(AppendOnly, Base):
    """A supervisor's word that they watched a use. It counts toward working alone."""

    __tablename__ = "use_watched"
    id: Mapped[Key]
    start_id: Mapped[int] = mapped_column(ForeignKey("start.id"), unique=True)
    supervisor_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    went_well: Mapped[bool]
    note_digest: Mapped[Digest | None]
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class Duty(AppendOnly, Base):
    """A technician is on duty in an area until it runs out; a later row ends it."""

    __tablename__ = "duty"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    runs_out_at: Mapped[datetime]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("duty.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Duty)
Index("ix_duty_runs_out", Duty.area_id, Duty.runs_out_at)


class UnattendedJob(AppendOnly, Base):
    """A firing or an overnight print: it runs with nobody there, under a contact. No presence."""

    __tablename__ = "unattended_job"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    contact_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    what: Mapped[Name]
    reach_digest: Mapped[Digest | None]  # how the contact is reached, in private words
    expected_end_at: Mapped[datetime]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("unattended_job.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(UnattendedJob)


class Loan(AppendOnly, Base):
    """A tool taken out; the row that names it brings it back."""

    __tablename__ = "loan"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    condition: Mapped[Words]  # as it went out, or as it came back
    photo_digest: Mapped[Digest | None]
    accessories: Mapped[Words]
    place: Mapped[Words]  # where it is to be used
    evidence: Mapped[Words]  # of its last inspection, that travels with it
    vibration: Mapped[str] = mapped_column(String(40))  # m/s2, as on its data sheet; "": unknown
    trigger_minutes: Mapped[int | None] = mapped_column(SmallInteger)  # allowed, or used
    due_at: Mapped[datetime]
    defect: Mapped[bool] = mapped_column(default=False)
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("loan.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Loan)


class Booking(AppendOnly, Base):
    """A machine or bench kept for somebody; a later row that names it gives it up."""

    __tablename__ = "booking"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    starts_at: Mapped[datetime]
    ends_at: Mapped[datetime]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("booking.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Booking)
Index("ix_booking_ends_at", Booking.machine_id, Booking.ends_at)
