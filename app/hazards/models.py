"""Hazard lines of a draft, the controls against them, and the checks that prove those."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, SmallInteger, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once
from app.hazards.due import IntervalUnit


class Basis(StrEnum):
    """Why a check has the interval that it has."""

    STATUTORY = "statutory"
    MAKER = "maker"
    COMMON_PRACTICE = "common practice"


class Scope(StrEnum):
    """What one result of a check speaks for."""

    CONTROL = "control"  # one extraction system serves several machines
    MACHINE = "machine"  # each unit has its own guard


class Outcome(StrEnum):
    PASSED = "passed"
    FAILED = "failed"


class Hazard(Base):
    """A line of an assessment's draft: one way to be hurt."""

    __tablename__ = "hazard"
    id: Mapped[Key]
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessment.id"), index=True)
    position: Mapped[int] = mapped_column(SmallInteger)
    kind: Mapped[Name]
    sign: Mapped[str] = mapped_column(String(8), default="")
    how: Mapped[Words]
    who: Mapped[list[str]]
    states: Mapped[list[str]]
    severity_before: Mapped[int] = mapped_column(SmallInteger)
    likelihood_before: Mapped[int] = mapped_column(SmallInteger)
    severity_after: Mapped[int] = mapped_column(SmallInteger)
    likelihood_after: Mapped[int] = mapped_column(SmallInteger)
    residual: Mapped[Words]
    reason: Mapped[Words]
    source: Mapped[Words]  # where a suggested line came from
    suggested: Mapped[list[dict[str, Any]]] = mapped_column(JSON, default=list)  # methods to ask
    to_confirm: Mapped[bool] = mapped_column(default=False)  # suggested, and nobody looked yet
    confirmed_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    confirmed_at: Mapped[datetime | None]


class Control(Base):
    """A measure against a hazard, at one level of the hierarchy. Machines may share it."""

    __tablename__ = "control"
    id: Mapped[Key]
    title: Mapped[Name]
    level: Mapped[int] = mapped_column(SmallInteger)  # assessments.hierarchy.Level
    details: Mapped[Words]
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))


class HazardControl(Base):
    """A control that a line relies on, and how it is proved on this site."""

    __tablename__ = "hazard_control"
    hazard_id: Mapped[int] = mapped_column(ForeignKey("hazard.id"), primary_key=True)
    control_id: Mapped[int] = mapped_column(ForeignKey("control.id"), primary_key=True)
    proved_here: Mapped[Words]
    to_confirm: Mapped[bool] = mapped_column(default=False)  # copied, and nobody looked yet
    confirmed_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    confirmed_at: Mapped[datetime | None]


class SuggestedControl(Base):
    """A control that a kind of machine suggests for a line, until the author decides on it."""

    __tablename__ = "suggested_control"
    id: Mapped[Key]
    assessment_id: Mapped[int] = mapped_column(ForeignKey("risk_assessment.id"), index=True)
    key: Mapped[str] = mapped_column(String(60))
    hazards: Mapped[list[int]] = mapped_column(JSON)  # hazard ids that it answers
    title: Mapped[Name]
    level: Mapped[int] = mapped_column(SmallInteger)
    details: Mapped[Words]
    shared: Mapped[bool]
    source: Mapped[Words]
    checks: Mapped[list[dict[str, Any]]] = mapped_column(JSON)  # as the kind proposes them
    control_id: Mapped[int | None] = mapped_column(ForeignKey("control.id"))  # what it became
    left_out_because: Mapped[Words]
    decided_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    decided_at: Mapped[datetime | None]


class Check(AppendOnly, Base):
    """The recurring proof that a control is alive. What it proves, and for what, never changes."""

    __tablename__ = "check_of_control"  # CHECK is a reserved word
    id: Mapped[Key]
    control_id: Mapped[int] = mapped_column(ForeignKey("control.id"), index=True)
    title: Mapped[Name]
    scope: Mapped[Scope]


class CheckTerms(AppendOnly, Base):
    """How often a check is due and what passes. A change is a new row; the latest counts."""

    __tablename__ = "check_terms"
    id: Mapped[Key]
    check_id: Mapped[int] = mapped_column(ForeignKey("check_of_control.id"), index=True)
    every: Mapped[int] = mapped_column(SmallInteger)
    unit: Mapped[IntervalUnit]
    basis: Mapped[Basis]
    basis_source: Mapped[Words]
    done_by: Mapped[Words]
    passes_when: Mapped[Words]
    measure: Mapped[str] = mapped_column(String(20), default="")  # unit of a reading; "": none
    low: Mapped[str] = mapped_column(String(40), default="")  # the reading passes from here
    high: Mapped[str] = mapped_column(String(40), default="")  # up to here
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class CheckRound(AppendOnly, Base):
    """A walk through an area in which everything that was due was looked at, in one go."""

    __tablename__ = "check_round"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(64), unique=True)  # of the form: sent twice, kept once
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    note: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class CheckResult(AppendOnly, Base):
    """One check, done. ``done_at`` and ``recorded_at`` differ when a round is written up later."""

    __tablename__ = "check_result"
    id: Mapped[Key]
    check_id: Mapped[int] = mapped_column(ForeignKey("check_of_control.id"))
    machine_id: Mapped[int | None] = mapped_column(ForeignKey("machine.id"))
    outcome: Mapped[Outcome]
    reading: Mapped[Words]
    note: Mapped[Words]
    next_due_on: Mapped[date]
    retakes_id: Mapped[int | None] = mapped_column(ForeignKey("check_result.id"))  # mistyped
    round_id: Mapped[int | None] = mapped_column(ForeignKey("check_round.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


Index(
    "ix_check_result_latest",
    CheckResult.check_id,
    CheckResult.machine_id,
    CheckResult.occurred_at,
)


class HazardFinding(AppendOnly, Base):
    """A number attached to a hazard line: frozen with its inputs, under its digest.

    ``limits`` says whose it was held against: the site's, or those of a regime that somebody
    named. ``taken_from`` holds, for each cell of the form that was filled from a machine's data
    sheet, the row it came from.
    """

    __tablename__ = "hazard_finding"
    id: Mapped[Key]
    hazard_id: Mapped[int] = mapped_column(ForeignKey("hazard.id"), index=True)
    method: Mapped[str] = mapped_column(String(60))
    content: Mapped[str] = mapped_column(Text)
    digest: Mapped[Digest]
    limits: Mapped[str] = mapped_column(String(8), default="site")
    taken_from: Mapped[dict[str, Any]] = mapped_column(default=dict)  # cell: machine_datum.id
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("hazard_finding.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


ends_once(HazardFinding)


class ExaminationReport(AppendOnly, Base):
    """The examiner's report behind a result, as a file in the store."""

    __tablename__ = "examination_report"
    id: Mapped[Key]
    result_id: Mapped[int] = mapped_column(ForeignKey("check_result.id"), index=True)
    examiner: Mapped[Name]
    employer: Mapped[Words]
    reference: Mapped[Name]
    file_digest: Mapped[Digest | None]
    file_name: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]
