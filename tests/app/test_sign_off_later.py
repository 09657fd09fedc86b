"""A sign-off that is written down later than it was seen: on paper, or without network."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import select

from app.audit.models import AuditEntry
from app.errors import Forbidden, Refused
from app.inductions.published import published
from app.training.models import SignOff, SignOffBriefing, TrainingRecord
from app.training.signoff import Ticks, sign_off
from app.training.standing import Result
from tests.factories import ZONE


@pytest.fixture
def basics(shop):
    return shop.induction("Basics")


@pytest.fixture
def ada(shop):
    return shop.person("Ada Quill")


@pytest.fixture
def sign(shop, basics, ada):
    """Sign Ada off for what was seen at another moment."""

    def record(technician, seen_at, *, key="key-of-a-sheet-0001", seen_record_id=0):
        with shop.database.write() as session:
            taught = published(session, basics.id)
            return sign_off(
                session,
                actor=shop.actor(technician),
                person_id=ada.id,
                taught=taught,
                ticks=Ticks(
                    key=key,
                    seen_record_id=seen_record_id,
                    observed=frozenset(item.id for item in taught.items),
                    result=Result.ALONE,
                ),
                now=shop.now,
                zone=ZONE,
                occurred_at=seen_at,
                on_paper=True,
            )

    return record


def test_it_counts_from_when_it_was_seen_and_says_when_it_was_written(shop, sign, basics, clock):
    first = shop.assess(shop.machine(), inductions=[basics])
    technician = shop.technician(basics)
    seen_at = clock.at
    clock.at += timedelta(days=2)
    shop.assess(shop.machine(), inductions=[basics])  # in force since: it was not gone through
    number = sign(technician, seen_at)
    assert sign(technician, seen_at) == number  # sent twice
    with shop.database.read() as session:
        row = session.execute(select(SignOff)).scalar_one()
        record = session.execute(
            select(TrainingRecord).where(TrainingRecord.sign_off_id == number)
        ).scalar_one()
        briefed = session.execute(select(SignOffBriefing.revision_id)).scalars().all()
        entry = session.execute(
            select(AuditEntry).where(AuditEntry.action == "training:sign_off:record")
        ).scalar_one()
    assert row.on_paper
    assert {row.occurred_at, record.occurred_at} == {seen_at}
    assert {row.recorded_at, record.recorded_at, entry.recorded_at} == {clock.at}
    assert record.expires_on == date(2027, 3, 10)  # common practice: a year, from the day itself
    assert briefed == [first]
    assert entry.detail["seen_at"] == seen_at.isoformat()
    assert entry.detail["on_paper"] is True


def test_what_lies_in_the_future_is_refused(shop, sign, basics, clock):
    with pytest.raises(Refused, match="in the future"):
        sign(shop.technician(basics), clock.at + timedelta(seconds=1))


def test_who_could_not_sign_then_signs_nothing_of_then(shop, sign, basics, clock):
    then = clock.at
    clock.at += timedelta(days=1)
    beginner = shop.technician(basics)  # named and current since today
    with pytest.raises(Forbidden, match="You are not named as an inductor for “Basics”"):
        sign(beginner, then)
    assert sign(beginner, clock.at)


def test_who_may_not_sign_now_signs_nothing_of_then(shop, sign, basics, clock):
    technician, then = shop.technician(basics), clock.at
    clock.at += timedelta(hours=1)
    shop.hold(technician, basics, Result.REVOKED)
    with pytest.raises(Forbidden, match="Your own “Basics” is not current"):
        sign(technician, then)


def test_a_sheet_typed_in_late_does_not_undo_what_came_after_it(shop, sign, basics, ada, clock):
    saw = shop.machine()
    shop.acknowledge(ada, shop.assess(saw, inductions=[basics]))
    technician, seen_at = shop.technician(basics), clock.at
    clock.at += timedelta(hours=1)
    shop.hold(ada, basics, Result.REVOKED)
    clock.at += timedelta(hours=1)
    with pytest.raises(Refused, match="Somebody recorded a result"):
        sign(technician, seen_at)
    with shop.database.read() as session:
        revoked = session.execute(
            select(TrainingRecord.id).where(TrainingRecord.person_id == ada.id)
        ).scalar_one()
    sign(technician, seen_at, seen_record_id=revoked)
    assert shop.codes(ada, saw) == ["induction-revoked"]
