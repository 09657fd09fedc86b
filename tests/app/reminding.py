"""What reminder tests share: who is told what at a moment, and what stands on record."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sqlalchemy import select

from app.reminders.due import lines
from app.reminders.gather import known, today_of
from app.reminders.known import Line
from app.reminders.models import Delivery, Digest, Reminder
from app.reminders.plan import Plan, plan, put_on_record
from app.site import site

MORNING = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)  # a Tuesday


def told(shop, person=None, *, only=False) -> list[Line]:
    """Return what everybody, or one person, is to be told now, sent before or not."""
    with shop.database.read() as session:
        here = site(session)
        asked = person.id if only else None
        found = list(
            lines(
                known(session, now=shop.now, site=here, only=asked),
                today_of(session, here, shop.now),
            )
        )
    return [line for line in found if person is None or line.person_id == person.id]


def planned(shop, *, news_only=False) -> Plan:
    with shop.database.read() as session:
        return plan(session, now=shop.now, site=site(session), news_only=news_only)


def remind(shop, *, news_only=False) -> int:
    """Put on record what is to be sent now; return how many digests."""
    return put_on_record(shop.database, planned(shop, news_only=news_only), now=shop.now)


def rows(shop, model):
    with shop.database.read() as session:
        return list(session.execute(select(model).order_by(model.id)).scalars())


def said(shop, person) -> list[tuple[str, str]]:
    """Return what somebody was told, as subject and stage."""
    return [(r.subject, r.stage) for r in rows(shop, Reminder) if r.person_id == person.id]


def words_of(shop) -> list[str]:
    """Return what became of each digest, in the order of the steps."""
    return [row.word.value for row in rows(shop, Delivery)]


def digests(shop) -> list[Digest]:
    return rows(shop, Digest)


def days(count: int) -> timedelta:
    return timedelta(days=count)
