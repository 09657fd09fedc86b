"""What a site keeps for longer and why, the runs that remove, and the door through the guards."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, BigInteger, CheckConstraint, ForeignKey, Index, Integer, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Words, ends_once

# --- what is kept for good ---------------------------------------------------------------


class RetentionTerm(AppendOnly, Base):
    """How long the site keeps a kind of record by its own decision. The latest row counts."""

    __tablename__ = "retention_term"
    id: Mapped[Key]
    kind: Mapped[str] = mapped_column(String(40), index=True)
    span: Mapped[str] = mapped_column(String(20))  # "7 years"; empty: as the schedule has it
    why: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class RetentionKeep(AppendOnly, Base):
    """A mark: what is about this is not removed, since a claim needs it. A later row ends it."""

    __tablename__ = "retention_keep"
    id: Mapped[Key]
    about: Mapped[str] = mapped_column(String(60), index=True)  # "person:5", "machine:2"
    note_digest: Mapped[Digest | None]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("retention_keep.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(RetentionKeep)


class RetentionRemoved(AppendOnly, Base):
    """That so many rows of a table were removed, or somebody erased: numbers alone."""

    __tablename__ = "retention_removed"
    id: Mapped[Key]
    run_id: Mapped[int] = mapped_column(ForeignKey("retention_run.id"), index=True)
    kind: Mapped[str] = mapped_column(String(40))
    about: Mapped[str] = mapped_column(String(80))  # the table, or "person:5"
    word: Mapped[str] = mapped_column(String(20))  # removed, erased
    rows: Mapped[int] = mapped_column(Integer)
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


# --- what is kept while a run goes on ------------------------------------------------------


class Stage(StrEnum):
    """How far a run has come."""

    REHEARSING = "being rehearsed"
    REHEARSED = "rehearsed"
    REMOVING = "being removed"
    DONE = "done"
    OVERTAKEN = "overtaken"


class RetentionRun(Base):
    """One rehearsal of what is over, and its removal: of everything, or of one person."""

    __tablename__ = "retention_run"
    id: Mapped[Key]
    stage: Mapped[Stage]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    day: Mapped[date]  # at the site, that it is counted from
    plan_digest: Mapped[Digest | None]
    counts: Mapped[dict[str, Any]] = mapped_column(JSON)
    problem: Mapped[Words]
    asked_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    asked_at: Mapped[datetime]
    begun_at: Mapped[datetime | None]
    begun_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    done_at: Mapped[datetime | None]


class RetentionLine(Base):
    """One row that a run removes. Lines of a slice go in one transaction, with what they name."""

    __tablename__ = "retention_line"
    run_id: Mapped[int] = mapped_column(ForeignKey("retention_run.id"), primary_key=True)
    position: Mapped[int] = mapped_column(Integer, primary_key=True)
    slice: Mapped[int] = mapped_column(Integer)
    table_name: Mapped[str] = mapped_column(String(40))
    row_id: Mapped[int] = mapped_column(BigInteger)


Index("ix_retention_line_slice", RetentionLine.run_id, RetentionLine.slice)


# --- the door ------------------------------------------------------------------------------


class PurgeNever(Base):
    """It never has a row. What points at it can therefore not be committed."""

    __tablename__ = "purge_never"
    __table_args__ = (CheckConstraint("1 = 0", name="empty"),)
    id: Mapped[Key]


class PurgeDoor(Base):
    """A row of evidence that this transaction may empty or remove: see `app/migrations/guards.py`.

    The reference to `purge_never` is looked at when the transaction ends: whoever has not closed
    the door by then cannot commit.
    """

    __tablename__ = "purge_door"
    id: Mapped[Key]
    table_name: Mapped[str] = mapped_column(String(60))
    row_id: Mapped[int] = mapped_column(BigInteger)
    verb: Mapped[str] = mapped_column(String(10))  # empty, remove
    closed_id: Mapped[int] = mapped_column(
        ForeignKey("purge_never.id", deferrable=True, initially="DEFERRED")
    )


Index("ix_purge_door_row", PurgeDoor.table_name, PurgeDoor.row_id)
