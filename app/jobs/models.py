"""Work that was asked for. The row with its lease is the truth; a worker only delivers."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, ForeignKey, Integer, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import Base, Digest, Key, Name, Words


class State(StrEnum):
    """How a job stands."""

    WAITING = "waiting"
    RUNNING = "being done"
    STOPPING = "being stopped"
    DONE = "done"
    STOPPED = "stopped"
    GIVEN_UP = "given up"


class Job(Base):
    __tablename__ = "job"
    id: Mapped[Key]
    kind: Mapped[str] = mapped_column(String(40))
    key: Mapped[str] = mapped_column(String(100), unique=True)  # asked for twice, done once
    title: Mapped[Name] = mapped_column(default="")  # for people; empty: the program's own work
    page: Mapped[Name] = mapped_column(default="")  # where the result is shown, if not by itself
    payload: Mapped[dict[str, Any]] = mapped_column(JSON)
    attempts: Mapped[int] = mapped_column(SmallInteger, default=0)
    asked_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    asked_at: Mapped[datetime]
    run_after: Mapped[datetime]
    begun_at: Mapped[datetime | None]
    held_by: Mapped[str | None] = mapped_column(String(32))  # the worker that has the lease
    leased_until: Mapped[datetime | None]
    step: Mapped[Name] = mapped_column(default="")  # what is being done now
    done: Mapped[int] = mapped_column(Integer, default=0)
    total: Mapped[int] = mapped_column(Integer, default=0)  # 0: nobody knows how many
    done_at: Mapped[datetime | None]
    failed_at: Mapped[datetime | None]
    stop_asked_at: Mapped[datetime | None]
    stopped_at: Mapped[datetime | None]
    error: Mapped[Words]
    file_digest: Mapped[Digest | None]  # what the job made, in the store
    file_name: Mapped[Name] = mapped_column(default="")

    def state(self, now: datetime) -> State:
        """Say how the job stands at a moment."""
        if self.done_at is not None:
            return State.DONE
        if self.stopped_at is not None:
            return State.STOPPED
        if self.failed_at is not None:
            return State.GIVEN_UP
        if self.leased_until is None or self.leased_until < now:
            return State.WAITING
        return State.RUNNING if self.stop_asked_at is None else State.STOPPING
