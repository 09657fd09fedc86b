"""Induction sessions: when, where, by whom and for whom; and the plan of a term."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, ForeignKey, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once


class InductionSession(AppendOnly, Base):
    """One induction given to a group; a later row that names it calls it off.

    Of such a later row `place` is the digest of the private note that says why.
    """

    __tablename__ = "induction_session"
    id: Mapped[Key]
    induction_id: Mapped[int] = mapped_column(ForeignKey("induction.id"), index=True)
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    place: Mapped[Words]
    technician_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    starts_at: Mapped[datetime]
    ends_at: Mapped[datetime]
    places: Mapped[int] = mapped_column(SmallInteger)
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("induction_session.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(InductionSession)


class PlaceWord(StrEnum):
    """How a person stands to a session. The latest row of a person counts."""

    BOOKED = "booked"
    WAITING = "waiting"
    WITHDRAWN = "withdrawn"
    ATTENDED = "attended"
    ABSENT = "absent"


class SessionPlace(AppendOnly, Base):
    __tablename__ = "session_place"
    id: Mapped[Key]
    session_id: Mapped[int] = mapped_column(ForeignKey("induction_session.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    word: Mapped[PlaceWord]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class PaperSheet(AppendOnly, Base):
    """A sheet as it was printed: of which session and revision, with whose names on it.

    The names themselves stand on the paper alone; the row keeps numbers.
    """

    __tablename__ = "paper_sheet"
    id: Mapped[Key]
    reference: Mapped[str] = mapped_column(String(20), unique=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("induction_session.id"), index=True)
    induction_revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"))
    people: Mapped[list[Any]] = mapped_column(JSON)  # ids, in the order of the sheet
    # Assessment revisions that it asks people to sign for having read.
    revisions: Mapped[list[Any]] = mapped_column(JSON, default=list, server_default="[]")
    digest: Mapped[Digest]  # of the text that it was drawn from
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]  # the moment that it tells of
    recorded_at: Mapped[datetime]


class TeachingHours(AppendOnly, Base):
    """Hours that a technician can give to inductions on one day, by the site's wall clock."""

    __tablename__ = "teaching_hours"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    day: Mapped[date]
    opens: Mapped[str] = mapped_column(String(5))
    closes: Mapped[str] = mapped_column(String(5))
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("teaching_hours.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(TeachingHours)


class TermPlan(Base):
    """A plan of sessions while it is looked at and changed. Publishing writes the sessions."""

    __tablename__ = "term_plan"
    id: Mapped[Key]
    name: Mapped[Name]
    first_on: Mapped[date]
    last_on: Mapped[date]
    asked: Mapped[dict[str, Any]] = mapped_column(JSON)  # what was to be planned
    proposed: Mapped[dict[str, Any] | None] = mapped_column(JSON)  # None: not solved yet
    version: Mapped[int] = mapped_column(default=1)
    made_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime]
    published_at: Mapped[datetime | None]
