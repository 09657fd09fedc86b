"""Time-limited overrides: what was lifted, for whom, by whom, and the weekly look at them."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Words, ends_once


class Override(AppendOnly, Base):
    """For this person at this machine, until then, one condition is answered more mildly.

    It lifts only what the rules say may be lifted, never what puts a machine out of use. A
    later row that names it ends it early.
    """

    __tablename__ = "override"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    lifts: Mapped[str] = mapped_column(String(60))  # a code of the rules
    note_digest: Mapped[Digest | None]  # the reason, seen only by those entitled
    until: Mapped[datetime]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("override.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Override)


class OverrideReview(AppendOnly, Base):
    """Somebody else looked at an override afterwards."""

    __tablename__ = "override_review"
    id: Mapped[Key]
    override_id: Mapped[int] = mapped_column(ForeignKey("override.id"), unique=True)
    words: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]
