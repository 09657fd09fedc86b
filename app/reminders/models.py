"""What somebody was reminded of, in which mail, and what became of that mail."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import AppendOnly, Base, Key, ends_once
from app.reminders.known import Topic

THE_DAYS = ""  # the part of the digest of a day; another part is the subject of one piece of news


class Handed(StrEnum):
    """What became of a digest. The row with the highest number counts."""

    BEGUN = "being handed over"
    TAKEN = "taken by the mail server"
    LATER = "to be tried again"
    REFUSED = "refused by the mail server"
    IN_DOUBT = "not known whether it went out"
    GIVEN_UP = "given up"
    NOTHING_LEFT = "nothing was left to say"


class Trouble(StrEnum):
    """What kept the mail server from taking anything."""

    NONE = "none"
    UNREACHABLE = "cannot be reached"
    NO_TLS = "offers no encryption that can be trusted"
    NO_SIGN_IN = "does not accept our sign-in"
    NO_SENDER = "does not accept our sender"
    TOO_SLOW = "takes too long to answer"
    LOST = "ended the connection"


class Digest(AppendOnly, Base):
    """What one person is told in one mail: one for a day, and one for each piece of news.

    The lines are kept as they were made: what it reminded of, and no name.
    """

    __tablename__ = "reminder_digest"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    day: Mapped[date] = mapped_column(index=True)
    part: Mapped[str] = mapped_column(String(80), default=THE_DAYS)
    lines: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    recorded_at: Mapped[datetime]


Index("uq_reminder_digest_once", Digest.person_id, Digest.day, Digest.part, unique=True)


class Reminder(AppendOnly, Base):
    """A person was told of a thing at a stage: once, and the database refuses it twice."""

    __tablename__ = "reminder"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    subject: Mapped[str] = mapped_column(String(80))  # "induction:3:2026-04-01", "action:12"
    stage: Mapped[str] = mapped_column(String(40))
    topic: Mapped[Topic]
    due_on: Mapped[date] = mapped_column(index=True)
    digest_id: Mapped[int] = mapped_column(ForeignKey("reminder_digest.id"), index=True)
    recorded_at: Mapped[datetime]


Index("uq_reminder_once", Reminder.person_id, Reminder.subject, Reminder.stage, unique=True)


class Delivery(AppendOnly, Base):
    """One step on a digest's way. `BEGUN` is written before the mail server is given anything."""

    __tablename__ = "reminder_delivery"
    id: Mapped[Key]
    digest_id: Mapped[int] = mapped_column(ForeignKey("reminder_digest.id"))
    number: Mapped[int] = mapped_column(SmallInteger)
    word: Mapped[Handed]
    code: Mapped[int | None] = mapped_column(SmallInteger)  # the server's answer, RFC 5321
    recorded_at: Mapped[datetime]


Index("uq_reminder_delivery_number", Delivery.digest_id, Delivery.number, unique=True)


class MailContact(AppendOnly, Base):
    """One contact with the mail server, and what was wrong with it as a whole."""

    __tablename__ = "mail_contact"
    id: Mapped[Key]
    trouble: Mapped[Trouble]
    code: Mapped[int | None] = mapped_column(SmallInteger)
    recorded_at: Mapped[datetime] = mapped_column(index=True)


class ReminderChoice(AppendOnly, Base):
    """A person wants reminders of a topic, or does without. The latest row counts."""

    __tablename__ = "reminder_choice"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    topic: Mapped[Topic]
    wanted: Mapped[bool]
    by_link: Mapped[bool]  # from a mail, signed out
    recorded_at: Mapped[datetime]


class CalendarFeed(AppendOnly, Base):
    """A secret address under which somebody's own calendar, or an area's, is read.

    Nothing of the address is kept: it is signed, and names this row until another ends it.
    """

    __tablename__ = "calendar_feed"
    id: Mapped[Key]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    area_id: Mapped[int | None] = mapped_column(ForeignKey("area.id"))  # None: their own
    ends_id: Mapped[int | None] = mapped_column(ForeignKey("calendar_feed.id"))
    recorded_at: Mapped[datetime]


ends_once(CalendarFeed)
