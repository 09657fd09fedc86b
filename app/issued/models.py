"""The documents that were issued: what is on paper somewhere can be shown again."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key


class IssuedDocument(AppendOnly, Base):
    """A document that was made and is kept as evidence, under the digest of its bytes."""

    __tablename__ = "issued_document"
    id: Mapped[Key]
    kind: Mapped[str] = mapped_column(String(40))
    subject: Mapped[str] = mapped_column(String(60), index=True)  # as the log names it
    key: Mapped[Digest] = mapped_column(unique=True)  # of all that decides its bytes
    file_digest: Mapped[Digest]
    made_at: Mapped[datetime]
