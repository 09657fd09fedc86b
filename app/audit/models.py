"""The log: every change, sealed to the one before it; and private words that can be erased."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key


class AuditEntry(AppendOnly, Base):
    """One change. It names people by number and role only, so that erasing breaks no seal."""

    __tablename__ = "audit_entry"
    id: Mapped[Key]
    sequence: Mapped[int] = mapped_column(BigInteger, unique=True)  # no gaps
    actor_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    action: Mapped[str] = mapped_column(String(80))  # source:subject:verb
    subject: Mapped[str] = mapped_column(String(80))  # table:id
    detail: Mapped[dict[str, Any]] = mapped_column(JSON)
    recorded_at: Mapped[datetime]
    previous_seal: Mapped[Digest]
    seal: Mapped[Digest]


class AuditHead(Base):
    """The end of the chain; locked while an entry is added, so that numbers have no gaps."""

    __tablename__ = "audit_head"
    id: Mapped[Key]
    sequence: Mapped[int] = mapped_column(BigInteger)
    seal: Mapped[Digest]
    recorded_at: Mapped[datetime]


class PrivateNote(Base):
    """Words about a person. Evidence rows keep only the salted digest, so these can be erased."""

    __tablename__ = "private_note"
    digest: Mapped[Digest] = mapped_column(primary_key=True)
    salt: Mapped[str] = mapped_column(String(64))
    words: Mapped[str | None] = mapped_column(Text)
    written_at: Mapped[datetime]
    erased_at: Mapped[datetime | None]
