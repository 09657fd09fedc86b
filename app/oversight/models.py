"""What an audit found, which drills were held, and who holds a first-aid certificate."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key, Name, Words, ends_once


class Weight(StrEnum):
    """How much a finding weighs. *Nonconformity* is the word of ISO 45001:2018, 3.34."""

    NONCONFORMITY = "nonconformity"
    OBSERVATION = "observation"


class AuditFinding(AppendOnly, Base):
    """One finding of an audit, as the auditor worded it; the row that names it verifies its end.

    Who does what about it by which day are actions about `audit_finding:N`.
    """

    __tablename__ = "audit_finding"
    id: Mapped[Key]
    audit: Mapped[Name]
    reference: Mapped[str] = mapped_column(String(40))  # its number in the auditor's report
    weight: Mapped[Weight]
    words: Mapped[Words]
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))  # None: the whole site
    found_on: Mapped[date]
    verified: Mapped[Words]  # of the row that ends it
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("audit_finding.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(AuditFinding)


class DrillKind(StrEnum):
    """What was practised."""

    EVACUATION = "evacuation"
    FIRST_AID = "first aid"
    RELEASE = "release of a trapped person"
    SPILL = "spill"
    POWER_LOSS = "loss of power"


class Drill(AppendOnly, Base):
    """A drill that was held; a later row that names it strikes it out, with why in `learnt`."""

    __tablename__ = "drill"
    id: Mapped[Key]
    kind: Mapped[DrillKind]
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))  # None: the whole site
    held_on: Mapped[date]
    people: Mapped[int | None] = mapped_column(SmallInteger)  # who took part; None: not counted
    minutes: Mapped[int | None] = mapped_column(SmallInteger)  # until it was over
    learnt: Mapped[Words]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("drill.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Drill)


class AidDuty(StrEnum):
    """For what somebody is appointed."""

    FIRST_AIDER = "first aider"
    FIRE_WARDEN = "fire warden"


class AidCertificate(AppendOnly, Base):
    """A certificate by which somebody is a first aider or a fire warden; a later row ends it.

    It is a paper of the register. Who counts as a first aider at a scan is decided by the
    induction that the site names for it.
    """

    __tablename__ = "aid_certificate"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    duty: Mapped[AidDuty]
    certificate: Mapped[Name]
    issued_by: Mapped[Name]
    issued_on: Mapped[date]
    expires_on: Mapped[date | None]  # valid through this day
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("aid_certificate.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(AidCertificate)
