"""Areas, machines, their tags, and what was set about them."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Digest, Key, Name, Words, ends_once


class Form(StrEnum):
    """What sort of physical thing carries the tag."""

    MACHINE = "machine"
    BENCH = "bench"
    ROOM = "room"
    LOAN_TOOL = "loan tool"


class Hold(StrEnum):
    """Why nobody may use a machine, until a later row ends it."""

    OUT_OF_USE = "out of use"
    SCENE_PRESERVED = "scene preserved"


class Staffing(StrEnum):
    """Whether a technician is about while an area is open."""

    STAFFED = "staffed"
    UNSTAFFED = "unstaffed"


class During(StrEnum):
    """In which part of the year opening hours hold."""

    ALWAYS = "all year"
    IN_TERM = "in term"
    OUT_OF_TERM = "out of term"


class MaterialWord(StrEnum):
    """What is said of a material at a machine."""

    ALLOWED = "allowed"
    NEVER = "never"
    ON_TRIAL = "on trial"


class Area(Base):
    """A room or bay."""

    __tablename__ = "area"
    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(200), unique=True)
    place: Mapped[Words]
    help: Mapped[Words]  # where a technician is found, in words


class AreaClosure(AppendOnly, Base):
    """An area closed to everybody; a later row that names it opens it again."""

    __tablename__ = "area_closure"
    id: Mapped[Key]
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    why: Mapped[Words]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("area_closure.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(AreaClosure)


class Machine(Base):
    """One physical thing with its own tag, name and place."""

    __tablename__ = "machine"
    id: Mapped[Key]
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    name: Mapped[str] = mapped_column(String(200), unique=True)
    form: Mapped[Form]
    kind: Mapped[Name]
    place: Mapped[Words]
    maker: Mapped[Words]
    model: Mapped[Words]
    serial: Mapped[Words]
    carried_by_id: Mapped[int | None] = mapped_column(ForeignKey("machine.id"), index=True)
    commissioned_on: Mapped[date | None]
    retired_on: Mapped[date | None]


class MachineHold(AppendOnly, Base):
    """A machine taken out of use, or its scene preserved; a later row that names it ends it.

    This is the register's word. It is not an isolation: it does not cut the power.
    """

    __tablename__ = "machine_hold"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    hold: Mapped[Hold]
    why: Mapped[Words]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("machine_hold.id"))
    # None: reported by somebody who gave no name
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(MachineHold)


class MachineDatum(AppendOnly, Base):
    """One line of a machine's data sheet. The latest row of a name counts.

    The name is that of an input of the calculation methods, so that their forms can be filled
    in from here, or any other. The value stays as it was written; it is a plain number.
    """

    __tablename__ = "machine_datum"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"))
    name: Mapped[str] = mapped_column(String(60))
    value: Mapped[str] = mapped_column(String(40))
    unit: Mapped[str] = mapped_column(String(20))
    source: Mapped[Words]
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


Index("ix_machine_datum_name", MachineDatum.machine_id, MachineDatum.name)


class Tag(Base):
    """The code on a printed label. It can be pointed at a successor without reprinting."""

    __tablename__ = "tag"
    id: Mapped[Key]
    code: Mapped[str] = mapped_column(String(40), unique=True)
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    issued_at: Mapped[datetime]
    retired_at: Mapped[datetime | None]


class AreaTerms(AppendOnly, Base):
    """How many an area holds and how many one supervisor can watch. The latest row counts."""

    __tablename__ = "area_terms"
    id: Mapped[Key]
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    capacity: Mapped[int | None] = mapped_column(SmallInteger)  # people at work; None: no rule
    people_per_supervisor: Mapped[int | None] = mapped_column(SmallInteger)  # None: the site's
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class OpeningHours(AppendOnly, Base):
    """One stretch of a weekday when an area is open, by the wall clock of the site.

    An area without any such row has no hours rule. ``closes`` may be "24:00"; a stretch over
    midnight is two rows. A later row that names it ends it.
    """

    __tablename__ = "opening_hours"
    id: Mapped[Key]
    area_id: Mapped[int] = mapped_column(ForeignKey("area.id"), index=True)
    weekday: Mapped[int] = mapped_column(SmallInteger)  # Monday is 0
    opens: Mapped[str] = mapped_column(String(5))  # "09:00"
    closes: Mapped[str] = mapped_column(String(5))
    staffing: Mapped[Staffing]
    during: Mapped[During]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("opening_hours.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(OpeningHours)


class ClosedDays(AppendOnly, Base):
    """Days on which an area, or the whole site, does not open: a holiday, a strike, a move."""

    __tablename__ = "closed_days"
    id: Mapped[Key]
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"), index=True)  # None: all
    name: Mapped[Name]
    first_on: Mapped[date]
    last_on: Mapped[date]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("closed_days.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(ClosedDays)


class Term(AppendOnly, Base):
    """A term of the site's year; a later row that names it ends it."""

    __tablename__ = "term"
    id: Mapped[Key]
    name: Mapped[Name]
    first_on: Mapped[date]
    last_on: Mapped[date]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("term.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Term)


class MachineMove(AppendOnly, Base):
    """A machine was moved to another area: the area it stood in at a past moment can be found."""

    __tablename__ = "machine_move"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    from_area_id: Mapped[int] = mapped_column(ForeignKey("area.id"))
    to_area_id: Mapped[int] = mapped_column(ForeignKey("area.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class TagMove(AppendOnly, Base):
    """A printed label was pointed at another machine."""

    __tablename__ = "tag_move"
    id: Mapped[Key]
    tag_id: Mapped[int] = mapped_column(ForeignKey("tag.id"), index=True)
    from_machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"))
    to_machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


class MachineMaterial(AppendOnly, Base):
    """A material that a machine may, may never, or for a trial may work; a later row ends it."""

    __tablename__ = "machine_material"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    material: Mapped[Name]
    word: Mapped[MaterialWord]
    reason: Mapped[Words]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("machine_material.id"))
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(MachineMaterial)


class MachinePhoto(AppendOnly, Base):
    """A picture of a machine, in the store under its digest. The latest row counts."""

    __tablename__ = "machine_photo"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    file_digest: Mapped[Digest]
    words: Mapped[Words]  # what it shows, for those who do not see it
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    recorded_at: Mapped[datetime]


class Isolation(AppendOnly, Base):
    """A machine's energy cut off and locked, as somebody says. The software cuts nothing.

    Only who applied the lock removes it. The row that removes an abandoned one names two
    people: who recorded it, and the second who checked.
    """

    __tablename__ = "isolation"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    point: Mapped[Name]
    lock_number: Mapped[str] = mapped_column(String(60))
    why: Mapped[Words]
    second_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("isolation.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(Isolation)


class TestRun(AppendOnly, Base):
    """A named person may run an out-of-use machine until then, to prove a repair."""

    __test__ = False
    __tablename__ = "test_run"
    id: Mapped[Key]
    machine_id: Mapped[int] = mapped_column(ForeignKey("machine.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    why: Mapped[Words]
    until: Mapped[datetime]
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("test_run.id"))
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    occurred_at: Mapped[datetime]
    recorded_at: Mapped[datetime]


ends_once(TestRun)
