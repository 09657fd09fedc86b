"""What went out and what did not, for the pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import ColumnElement, and_, func, select
from sqlalchemy.orm import Session, aliased

from app.db import AnySelect
from app.people.models import Person
from app.reminders.known import Line
from app.reminders.models import Delivery, Digest, Handed, MailContact, Trouble
from app.reminders.plan import from_json

SHOWN_FOR = timedelta(days=30)
WAITING = "to be sent"
NOT_DELIVERED = (Handed.REFUSED, Handed.IN_DOUBT, Handed.GIVEN_UP)


@dataclass(frozen=True, kw_only=True, slots=True)
class SentDigest:
    """One digest and how far it came."""

    id: int
    person_id: int
    name: str
    day: date
    count: int
    word: Handed | None  # None: not tried yet
    code: int | None
    lines: tuple[Line, ...] = ()

    @property
    def words(self) -> str:
        if self.word is None:
            return WAITING
        return f"{self.word.value}, {self.code}" if self.code else self.word.value


@dataclass(frozen=True, kw_only=True, slots=True)
class DayOfMails:
    """What went out on a day, by what became of it."""

    day: date
    counts: tuple[tuple[str, int], ...]


def days_of_mails(session: Session, *, now: datetime) -> list[DayOfMails]:
    """Return the last weeks, the newest day first. One statement."""
    word = _last_word()
    rows = session.execute(
        select(Digest.day, Delivery.word, func.count())
        .outerjoin(Delivery, word)
        .where(Digest.recorded_at > now - SHOWN_FOR)
        .group_by(Digest.day, Delivery.word)
        .order_by(Digest.day.desc(), Delivery.word)
    )
    found: dict[date, list[tuple[str, int]]] = {}
    for day, said, count in rows:
        found.setdefault(day, []).append((said.value if said else WAITING, count))
    return [DayOfMails(day=day, counts=tuple(counts)) for day, counts in found.items()]


def not_delivered(session: Session, *, now: datetime, most: int = 100) -> list[SentDigest]:
    """Return the mails of the last weeks that did not arrive, or of which nobody knows it."""
    return _digests(
        session,
        select(Digest, Person.name, Delivery.word, Delivery.code)
        .join(Person, Person.id == Digest.person_id)
        .join(Delivery, _last_word())
        .where(Digest.recorded_at > now - SHOWN_FOR, Delivery.word.in_(NOT_DELIVERED))
        .order_by(Digest.id.desc())
        .limit(most),
    )


def sent_to(session: Session, person_id: int, *, most: int = 20) -> list[SentDigest]:
    """Return what somebody was sent last."""
    return _digests(
        session,
        select(Digest, Person.name, Delivery.word, Delivery.code)
        .join(Person, Person.id == Digest.person_id)
        .outerjoin(Delivery, _last_word())
        .where(Digest.person_id == person_id)
        .order_by(Digest.id.desc())
        .limit(most),
    )


def _digests(session: Session, statement: AnySelect) -> list[SentDigest]:
    rows = session.execute(statement)
    return [
        SentDigest(
            id=digest.id,
            person_id=digest.person_id,
            name=name,
            day=digest.day,
            count=len(digest.lines or ()),
            word=word,
            code=code,
            lines=tuple(from_json(digest.person_id, line) for line in digest.lines or ()),
        )
        for digest, name, word, code in rows
    ]


def _last_word() -> ColumnElement[bool]:
    later = aliased(Delivery)
    newest = select(func.max(later.number)).where(later.digest_id == Digest.id).correlate(Digest)
    return and_(Delivery.digest_id == Digest.id, Delivery.number == newest.scalar_subquery())


@dataclass(frozen=True, kw_only=True, slots=True)
class MailState:
    """How the mail server stands, in one sentence for the desk."""

    sentence: str
    well: bool


def mail_state(session: Session, *, set_up: bool, now: datetime) -> MailState:
    """Say whether anybody is written to, and what is wrong where nobody is."""
    if not set_up:
        return MailState(
            sentence="No mail server is set up: nobody is reminded by e-mail. Reminders show "
            "when people sign in.",
            well=False,
        )
    last = session.execute(
        select(MailContact).order_by(MailContact.id.desc()).limit(1)
    ).scalar_one_or_none()
    if last is not None and last.trouble is not Trouble.NONE:
        code = f" ({last.code})" if last.code else ""
        return MailState(
            sentence=f"The mail server {last.trouble.value}{code}: reminders wait and are tried "
            "again.",
            well=False,
        )
    failed = session.execute(
        select(func.count())
        .select_from(Digest)
        .join(Delivery, _last_word())
        .where(Digest.recorded_at > now - SHOWN_FOR, Delivery.word.in_(NOT_DELIVERED))
    ).scalar_one()
    if failed:
        mails = "mail" if failed == 1 else "mails"
        return MailState(
            sentence=f"{failed} {mails} with reminders could not be delivered in the last 30 days.",
            well=False,
        )
    return MailState(sentence="Reminders go out by e-mail.", well=True)
