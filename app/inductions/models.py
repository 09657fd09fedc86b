"""What must be taught and watched before a machine is used."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key, Name, Words, ends_once


class Induction(AppendOnly, Base):
    """An induction. Its title is how it is known for good; the wording is in its revisions."""

    __tablename__ = "induction"
    id: Mapped[Key]
    title: Mapped[str] = mapped_column(String(200), unique=True)


class InductionRevision(AppendOnly, Base):
    """One published wording of an induction. The highest number is the one taught."""

    __tablename__ = "induction_revision"
    id: Mapped[Key]
    induction_id: Mapped[int] = mapped_column(ForeignKey("induction.id"))
    number: Mapped[int] = mapped_column(SmallInteger)
    content: Mapped[Words]
    validity_months: Mapped[int | None] = mapped_column(SmallInteger)  # None: does not run out
    validity_basis: Mapped[Words]
    group_size: Mapped[int | None] = mapped_column(SmallInteger)
    supervised_uses: Mapped[int] = mapped_column(SmallInteger, default=0)  # before working alone
    earlier_counts: Mapped[bool]  # do sign-offs under earlier revisions still count?
    published_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    published_at: Mapped[datetime]


Index(
    "uq_induction_revision_number",
    InductionRevision.induction_id,
    InductionRevision.number,
    unique=True,
)


class InductionItem(AppendOnly, Base):
    """One thing the person must be seen to do."""

    __tablename__ = "induction_item"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"), index=True)
    position: Mapped[int] = mapped_column(SmallInteger)
    words: Mapped[Words]
    essential: Mapped[bool]


class InductionPrerequisite(AppendOnly, Base):
    """What must be current before this induction counts."""

    __tablename__ = "induction_prerequisite"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"), index=True)
    requires_id: Mapped[int] = mapped_column(ForeignKey("induction.id"))


class Inductor(AppendOnly, Base):
    """A person named in writing who may give and sign an induction; a later row ends it."""

    __tablename__ = "inductor"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    induction_id: Mapped[int] = mapped_column(ForeignKey("induction.id"))
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("inductor.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


ends_once(Inductor)


class InductionDraft(Base):
    """An induction, or its next wording, while it is written. Publishing freezes it."""

    __tablename__ = "induction_draft"
    id: Mapped[Key]
    induction_id: Mapped[int | None] = mapped_column(ForeignKey("induction.id"))
    title: Mapped[Name]
    content: Mapped[Words]
    items: Mapped[list[dict[str, Any]]] = mapped_column(JSON)  # words, essential
    requires: Mapped[list[int]] = mapped_column(JSON)  # induction ids
    validity_months: Mapped[int | None] = mapped_column(SmallInteger)
    validity_basis: Mapped[Words]
    group_size: Mapped[int | None] = mapped_column(SmallInteger)
    supervised_uses: Mapped[int] = mapped_column(SmallInteger, default=0)
    earlier_counts: Mapped[bool] = mapped_column(default=True)
    version: Mapped[int] = mapped_column(default=1)
    edited_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    edited_at: Mapped[datetime]
    published_at: Mapped[datetime | None]
