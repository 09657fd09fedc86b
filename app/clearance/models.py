"""Uses of machines that were started, with the answer that was given then."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key


class Start(AppendOnly, Base):
    """Somebody said that they start. Only a start is kept: looking at an answer writes nothing."""

    __tablename__ = "start"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(64), unique=True)
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    verdict: Mapped[str] = mapped_column(String(40))
    reasons: Mapped[list[str]]
    rules: Mapped[int] = mapped_column(SmallInteger)  # version of the rule set that answered
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]
