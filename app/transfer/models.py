"""Lists on their way in, what came of them, the registries' keys of people, and exports."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, Integer, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once
from app.transfer.words import Phase, Word

# --- what is kept for good -----------------------------------------------------------------


class PersonImport(AppendOnly, Base):
    """A list that was applied: which bytes, by which plan, and how many of each word."""

    __tablename__ = "person_import"
    id: Mapped[Key]
    source: Mapped[str] = mapped_column(String(60))
    file_digest: Mapped[Digest]
    plan_digest: Mapped[Digest]
    counts: Mapped[dict[str, Any]] = mapped_column(JSON)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class PersonImported(AppendOnly, Base):
    """What a list did to one person. It holds no words about them."""

    __tablename__ = "person_imported"
    id: Mapped[Key]
    import_id: Mapped[int] = mapped_column(ForeignKey("person_import.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    word: Mapped[Word]
    recorded_at: Mapped[datetime]


class PersonKey(AppendOnly, Base):
    """The key by which a registry knows a person; a later row that names it ends it."""

    __tablename__ = "person_key"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    source: Mapped[str] = mapped_column(String(60))
    key: Mapped[str] = mapped_column(String(120))
    import_id: Mapped[int | None] = mapped_column(ForeignKey("person_import.id"))
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("person_key.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


ends_once(PersonKey)
Index("ix_person_key_key", PersonKey.source, PersonKey.key)


class PersonMerge(AppendOnly, Base):
    """Two rows were one person. The history of the absorbed row stays under its own number."""

    __tablename__ = "person_merge"
    id: Mapped[Key]
    kept_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    absorbed_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    note_digest: Mapped[Digest | None]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


Index("uq_person_merge_absorbed_id", PersonMerge.absorbed_id, unique=True)


# --- what is kept while a list is looked at ------------------------------------------------


class PeopleList(Base):
    """A list that somebody sent, how it is to be read, and how far it has come."""

    __tablename__ = "people_list"
    id: Mapped[Key]
    file_name: Mapped[Name]
    file_digest: Mapped[Digest]
    choices: Mapped[dict[str, Any]] = mapped_column(JSON)
    phase: Mapped[Phase]
    asked: Mapped[int] = mapped_column(Integer, default=0)  # how often the worker was asked
    planned_on: Mapped[date | None]  # the day at the site that the plan counts from
    plan_digest: Mapped[Digest | None]
    counts: Mapped[dict[str, Any]] = mapped_column(JSON)
    problem: Mapped[Words]
    import_id: Mapped[int | None] = mapped_column(ForeignKey("person_import.id"))
    sent_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    sent_at: Mapped[datetime]


class PeopleListFile(Base):
    """The bytes of a list. They are removed a week after they came."""

    __tablename__ = "people_list_file"
    list_id: Mapped[int] = mapped_column(ForeignKey("people_list.id"), primary_key=True)
    data: Mapped[bytes] = mapped_column(LargeBinary)
    # Its rows once they were read, of that sheet: see `Sheet.packed`.
    rows_of: Mapped[str | None] = mapped_column(String(200))
    rows: Mapped[bytes | None] = mapped_column(LargeBinary)


class PeopleListLine(Base):
    """One line of the rehearsal. Removed together with the file."""

    __tablename__ = "people_list_line"
    list_id: Mapped[int] = mapped_column(ForeignKey("people_list.id"), primary_key=True)
    position: Mapped[int] = mapped_column(Integer, primary_key=True)
    word: Mapped[Word]
    line: Mapped[dict[str, Any]] = mapped_column(JSON)


Index("ix_people_list_line_word", PeopleListLine.list_id, PeopleListLine.word)


class PeopleListProgress(Base):
    """How far the worker is. In a table of its own, so that it is seen while the work goes on."""

    __tablename__ = "people_list_progress"
    list_id: Mapped[int] = mapped_column(ForeignKey("people_list.id"), primary_key=True)
    step: Mapped[str] = mapped_column(String(60))
    done: Mapped[int] = mapped_column(Integer)
    total: Mapped[int] = mapped_column(Integer)
    at: Mapped[datetime]


class ColumnsChosen(Base):
    """What was chosen for a row of headings, to be offered when the same row comes again."""

    __tablename__ = "columns_chosen"
    headings_digest: Mapped[Digest] = mapped_column(primary_key=True)
    choices: Mapped[dict[str, Any]] = mapped_column(JSON)
    chosen_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    chosen_at: Mapped[datetime]


class RegisterExport(Base):
    """A copy of the register in open formats. Its file is removed a day after it was made."""

    __tablename__ = "register_export"
    id: Mapped[Key]
    asked_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    asked_at: Mapped[datetime]
    made_at: Mapped[datetime | None]
    removed_at: Mapped[datetime | None]
    file_name: Mapped[str] = mapped_column(String(80), default="")
    file_digest: Mapped[Digest | None]
    bytes: Mapped[int | None] = mapped_column(Integer)
    step: Mapped[str] = mapped_column(Text, default="")
