"""What must be taught and watched before a machine is used."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once


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
    language: Mapped[str | None] = mapped_column(String(35))  # BCP 47; None: nobody said
    questions_first: Mapped[bool] = mapped_column(default=False)  # answered before a sign-off
    # The shorter path: offered until so many months after a pass ran out; None: there is none.
    refresher_months: Mapped[int | None] = mapped_column(SmallInteger)
    refresher_content: Mapped[Words]
    refresher_basis: Mapped[Words]
    refresher_validity_months: Mapped[int | None] = mapped_column(SmallInteger)  # None: the same
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
    in_refresher: Mapped[bool] = mapped_column(default=False)


class InductionPicture(AppendOnly, Base):
    """A picture of a revision's text: the kept file, and what it shows in words."""

    __tablename__ = "induction_picture"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"), index=True)
    name: Mapped[str] = mapped_column(String(60))  # by which the text asks for it
    file_digest: Mapped[Digest]
    words: Mapped[Words]


class InductionQuestion(AppendOnly, Base):
    """A question of a revision. The first of its answers is the right one."""

    __tablename__ = "induction_question"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"), index=True)
    position: Mapped[int] = mapped_column(SmallInteger)
    words: Mapped[Words]
    answers: Mapped[list[str]]
    leads_to: Mapped[Words]  # the heading to read again after a wrong answer; empty: the text


class QuestionTry(AppendOnly, Base):
    """What a person answered to the questions of a revision. It clears nobody."""

    __tablename__ = "question_try"
    id: Mapped[Key]
    key: Mapped[str] = mapped_column(String(64), unique=True)  # of the form: a double tap is one
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"))
    chosen: Mapped[list[int]] = mapped_column(JSON)  # by position; 0 is right, -1 not answered
    all_right: Mapped[bool]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))  # whose phone it was
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


Index("ix_question_try_asked", QuestionTry.revision_id, QuestionTry.person_id)


class InductionTranslation(AppendOnly, Base):
    """A revision's words in another language. The newest row of a language counts.

    It is added to a published revision and is no part of what is signed: that is the original.
    """

    __tablename__ = "induction_translation"
    id: Mapped[Key]
    revision_id: Mapped[int] = mapped_column(ForeignKey("induction_revision.id"), index=True)
    language: Mapped[str] = mapped_column(String(35))
    words: Mapped[dict[str, Any]]  # by part of the wording
    note_digest: Mapped[Digest | None]  # who translated it, if not who wrote it down: private
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class TranslationCheck(AppendOnly, Base):
    """Somebody other than its translator held a translation against the original."""

    __tablename__ = "translation_check"
    id: Mapped[Key]
    translation_id: Mapped[int] = mapped_column(ForeignKey("induction_translation.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


Index("uq_translation_check_translation_id", TranslationCheck.translation_id, unique=True)


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
    items: Mapped[list[dict[str, Any]]] = mapped_column(JSON)  # words, essential, in_refresher
    requires: Mapped[list[int]] = mapped_column(JSON)  # induction ids
    validity_months: Mapped[int | None] = mapped_column(SmallInteger)
    validity_basis: Mapped[Words]
    group_size: Mapped[int | None] = mapped_column(SmallInteger)
    supervised_uses: Mapped[int] = mapped_column(SmallInteger, default=0)
    earlier_counts: Mapped[bool] = mapped_column(default=True)
    language: Mapped[str | None] = mapped_column(String(35))
    pictures: Mapped[list[dict[str, Any]]] = mapped_column(JSON, default=list)  # name, file, words
    questions: Mapped[list[dict[str, Any]]] = mapped_column(JSON, default=list)
    questions_first: Mapped[bool] = mapped_column(default=False)
    refresher_months: Mapped[int | None] = mapped_column(SmallInteger)
    refresher_content: Mapped[Words]
    refresher_basis: Mapped[Words]
    refresher_validity_months: Mapped[int | None] = mapped_column(SmallInteger)
    version: Mapped[int] = mapped_column(default=1)
    edited_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    edited_at: Mapped[datetime]
    published_at: Mapped[datetime | None]
