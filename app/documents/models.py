"""The codes on printed documents: which content each stands for."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key


class PrintedCode(AppendOnly, Base):
    """A document that was made can be asked for again by the code that its paper carries."""

    __tablename__ = "printed_code"
    id: Mapped[Key]
    code: Mapped[str] = mapped_column(String(24), unique=True)  # the digest's first digits
    kind: Mapped[str] = mapped_column(String(40))
    subject: Mapped[int] = mapped_column(BigInteger)
    asked: Mapped[dict[str, Any]]  # as of when, of which time
    digest: Mapped[Digest]  # of the canonical text
    made_at: Mapped[datetime]
