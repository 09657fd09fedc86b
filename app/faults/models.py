"""What went wrong or nearly did, as it was reported, and what was made of it."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Words


class ReportKind(StrEnum):
    FAULT = "fault"
    NEAR_MISS = "near miss"
    INCIDENT = "incident"


class Progress(StrEnum):
    """How far the look into a report has come."""

    SEEN = "seen"
    INVESTIGATED = "investigated"
    CLOSED = "closed"


class Report(AppendOnly, Base):
    """A fault, near miss or incident at a machine or in an area, with the state of that moment.

    What happened is in private words; ``snapshot`` holds numbers and codes only.
    """

    __tablename__ = "report"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(64), unique=True)
    kind: Mapped[ReportKind]
    machine_id: Mapped[int | None] = mapped_column(ForeignKey("machine.id"), index=True)
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    reporter_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))  # None: anonymous
    words_digest: Mapped[Digest | None]
    photo_digest: Mapped[Digest | None]
    stopped: Mapped[bool]  # the reporter says that the machine must not be used
    snapshot: Mapped[dict[str, Any]]
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class ReportStep(AppendOnly, Base):
    """One step of the look into a report. The latest row counts."""

    __tablename__ = "report_step"
    id: Mapped[Key]
    report_id: Mapped[int] = mapped_column(ForeignKey("report.id"), index=True)
    progress: Mapped[Progress]
    potential: Mapped[Words]  # how bad it could have been: minimal, low, medium, high
    causes_digest: Mapped[Digest | None]  # in private words
    statutory: Mapped[Words]  # whether it is reported to the regulator, and the number
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]
