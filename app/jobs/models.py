"""Work that was asked for. The row with its lease is the truth; a worker only delivers."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import Base, Digest, Key, Words


class Job(Base):
    __tablename__ = "job"
    id: Mapped[Key]
    kind: Mapped[str] = mapped_column(String(40))
    key: Mapped[str] = mapped_column(String(100), unique=True)  # asked for twice, done once
    payload: Mapped[dict[str, Any]] = mapped_column(JSON)
    attempts: Mapped[int] = mapped_column(SmallInteger, default=0)
    asked_at: Mapped[datetime]
    run_after: Mapped[datetime]
    leased_until: Mapped[datetime | None]
    done_at: Mapped[datetime | None]
    failed_at: Mapped[datetime | None]
    error: Mapped[Words]
    file_digest: Mapped[Digest | None]  # what the job made, in the store
