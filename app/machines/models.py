"""Areas, machines, their tags, and what was set about them."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key, Name, Words, ends_once


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
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
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
