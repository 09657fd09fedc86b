"""Risk assessments: the draft that is written, the revisions that were frozen, and their fate.

What the scan enforces is what was approved: the machines covered, the inductions required
and the checks relied on are frozen with the revision, as rows beside its text.
"""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import ForeignKey, Index, SmallInteger, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once
from app.risk_assessments.run_mode import RunMode


class Fate(StrEnum):
    """What happened to a frozen revision. It was submitted by being frozen."""

    APPROVED = "approved"
    RETURNED = "returned"
    WITHDRAWN = "withdrawn"


class RiskAssessment(Base):
    """An assessment and its draft. The draft's prose is the author's and is checked when frozen."""

    __tablename__ = "risk_assessment"
    id: Mapped[Key]
    reference: Mapped[str] = mapped_column(String(40), unique=True)
    title: Mapped[Name]
    run_mode: Mapped[RunMode]
    review_months: Mapped[int] = mapped_column(SmallInteger)
    prose: Mapped[dict[str, Any]]  # with the conditions of use; checked when frozen
    kind: Mapped[str] = mapped_column(String(60), default="")  # of the catalogue, if it began there
    copied_from_id: Mapped[int | None] = mapped_column(ForeignKey("risk_assessment.id"))
    version: Mapped[int] = mapped_column(default=1)  # of the draft: who saves an older one is told
    edited_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    edited_at: Mapped[datetime | None]


class AssessmentMachine(Base):
    """A machine that the draft covers, and what sets this unit apart."""

    __tablename__ = "assessment_machine"
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessment.id"), primary_key=True)
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), primary_key=True, index=True)
    differences: Mapped[Words]


class AssessmentInduction(Base):
    """An induction that the draft requires."""

    __tablename__ = "assessment_induction"
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessment.id"), primary_key=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("induction.id"), primary_key=True)


class Revision(AppendOnly, Base):
    """One frozen wording of an assessment: canonical JSON under its digest."""

    __tablename__ = "assessment_revision"
    id: Mapped[Key]
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessment.id"))
    number: Mapped[int] = mapped_column(SmallInteger)
    content: Mapped[str] = mapped_column(Text)
    digest: Mapped[Digest]
    run_mode: Mapped[RunMode]
    material: Mapped[bool]  # people signed off before must be briefed again
    review_due_on: Mapped[date]
    prepared_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    submitted_at: Mapped[datetime]


Index("uq_assessment_revision_number", Revision.assessment_id, Revision.number, unique=True)


class RevisionMachine(AppendOnly, Base):
    __tablename__ = "revision_machine"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"), index=True)
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)


class RevisionInduction(AppendOnly, Base):
    __tablename__ = "revision_induction"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"), index=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("induction.id"), index=True)


class RevisionCheck(AppendOnly, Base):
    __tablename__ = "revision_check"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"), index=True)
    check_id: Mapped[int] = mapped_column(ForeignKey("check_of_control.id"), index=True)


class Lone(StrEnum):
    """Whether somebody may use it with nobody else about."""

    NEVER = "never alone"
    CHECK_IN = "with check-in"
    ALLOWED = "allowed"


class RevisionConditions(AppendOnly, Base):
    """Under which conditions of the moment a revision allows use. One row for a revision.

    A revision without one was frozen before there were such conditions, and sets none.
    """

    __tablename__ = "revision_conditions"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"), unique=True)
    lone: Mapped[Lone]
    companions: Mapped[int] = mapped_column(SmallInteger)  # others who are present meanwhile
    unstaffed: Mapped[bool]  # cleared people may use it in unstaffed hours
    first_aider: Mapped[bool]  # one has to be present
    minimum_age: Mapped[int | None] = mapped_column(SmallInteger)
    supervised_under: Mapped[int | None] = mapped_column(SmallInteger)  # age
    disuse_months: Mapped[int | None] = mapped_column(SmallInteger)
    equipment: Mapped[list[str]]  # issued or fitted to the person first


class Trigger(StrEnum):
    """Why an assessment is to be looked at again."""

    DATE = "its review date"
    CHECK_FAILED = "a failed check"
    REPORT = "a fault, near miss or incident"
    MACHINE = "a changed machine"
    LIMIT = "a changed limit or method"
    FINDING = "a changed finding"
    ASKED = "somebody asked"


class Review(AppendOnly, Base):
    """An assessment is to be looked at again by a day; a later row says what came of it."""

    __tablename__ = "review"
    id: Mapped[Key]
    key: Mapped[str | None] = mapped_column(String(100), unique=True)  # one cause, one review
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessment.id"), index=True)
    trigger: Mapped[Trigger]
    why: Mapped[Words]
    due_on: Mapped[date]
    outcome: Mapped[Words]  # of the row that ends it
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("review.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))  # None: by itself
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Review)


class SiteKind(AppendOnly, Base):
    """A kind of machine that the site wrote itself, as a catalogue file. The latest row counts."""

    __tablename__ = "site_kind"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(60), index=True)
    content: Mapped[str] = mapped_column(Text)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class RevisionFate(AppendOnly, Base):
    """An approval, a return to the author, or a withdrawal."""

    __tablename__ = "revision_fate"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("assessment_revision.id"), index=True)
    fate: Mapped[Fate]
    note: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]
