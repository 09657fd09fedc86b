"""People, the groups they come in, what they may do here, and their sign-ins."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once
from app.people.rights import Role


class Person(Base):
    """Somebody who uses the workshop or works in it."""

    __tablename__ = "person"
    id: Mapped[Key]
    name: Mapped[Name]
    email: Mapped[str | None] = mapped_column(String(254), unique=True)
    card: Mapped[str | None] = mapped_column(String(64), unique=True)
    password_hash: Mapped[str | None] = mapped_column(String(200))
    adult_on: Mapped[date | None]  # the day they turn 18, or one by which they had; None: not known
    registered_at: Mapped[datetime]
    erased_at: Mapped[datetime | None]


class Membership(AppendOnly, Base):
    """From when until when a person belongs here. The latest row counts."""

    __tablename__ = "membership"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    starts_on: Mapped[date]
    ends_on: Mapped[date | None]  # valid through this day
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class Cohort(Base):
    """A group that came together: a course, a year, a residency."""

    __tablename__ = "cohort"
    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(200), unique=True)
    starts_on: Mapped[date]
    ends_on: Mapped[date | None]


class CohortMember(Base):
    __tablename__ = "cohort_member"
    cohort_id: Mapped[int] = mapped_column(ForeignKey("cohort.id"), primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), primary_key=True, index=True)


class RoleGrant(AppendOnly, Base):
    """A role given, in one area or everywhere; a later row that names it ends it."""

    __tablename__ = "role_grant"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    role: Mapped[Role]
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))
    ends_on: Mapped[date | None]  # an auditor's entry ends by itself
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("role_grant.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


ends_once(RoleGrant)


class SignIn(Base):
    """One sign-in on one device, that can be revoked by itself."""

    __tablename__ = "sign_in"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    token_digest: Mapped[Digest] = mapped_column(unique=True)
    device: Mapped[Words]
    started_at: Mapped[datetime]
    confirmed_at: Mapped[datetime]  # when the password was last given
    expires_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]


class SignInAttempt(Base):
    """A failed try, so that guessing can be slowed over all web processes."""

    __tablename__ = "sign_in_attempt"
    id: Mapped[Key]
    key_digest: Mapped[Digest]
    tried_at: Mapped[datetime]


Index("ix_sign_in_attempt_key", SignInAttempt.key_digest, SignInAttempt.tried_at)


class SharedDevice(Base):
    """A tablet on the wall. It forgets whoever was shown after a minute."""

    __tablename__ = "shared_device"
    id: Mapped[Key]
    name: Mapped[Name]
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))
    token_digest: Mapped[Digest] = mapped_column(unique=True)
    enrolled_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    enrolled_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]


class VisitKind(StrEnum):
    """Why somebody is here who is no member."""

    VISITOR = "visitor"
    CONTRACTOR = "contractor"
    CLEANER = "cleaner"
    TASTER = "one-day course"


class Visit(AppendOnly, Base):
    """Somebody here for a day under a host; a later row that names it ends it before the night."""

    __tablename__ = "visit"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    host_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    kind: Mapped[VisitKind]
    day: Mapped[date]  # over with this day
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("visit.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Visit)
