"""The same reminders on PostgreSQL, where two writers run side by side."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest

from app.hazards.due import IntervalUnit
from app.people.rights import Role
from app.reminders.models import Delivery, Handed, Reminder
from app.reminders.plan import put_on_record
from app.reminders.send import Sender
from tests.app.mail_server import Inbox, mail_server
from tests.app.reminding import days, planned, rows, told

pytestmark = pytest.mark.postgresql


@pytest.fixture
def busy(register):
    """A workshop in which three people are to be told of something."""
    bay = register.area("Wood bay")
    basics = register.induction("Basics", months=12)
    check = register.check(every=1, unit=IntervalUnit.WEEK)
    saw = register.machine("Panel saw", area=bay)
    register.assess(saw, inductions=[basics], checks=[check])
    register.do(check, saw)
    people = [register.person(f"Puppet {number}") for number in range(3)]
    for person in people:
        register.hold(person, basics, at=register.now - days(340))
    register.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)
    return people


def side_by_side(*calls):
    threads = [threading.Thread(target=call) for call in calls]
    for each in threads:
        each.start()
    for each in threads:
        each.join()


def test_one_person_and_everybody_are_told_the_same(register, busy):
    for person in busy:
        assert told(register, person, only=True) == told(register, person)
        assert [line.stage for line in told(register, person)] == ["28 days before"]


def test_two_that_put_the_same_on_record_at_once_do_it_once(register, busy):
    first, second = planned(register), planned(register)
    side_by_side(
        lambda: put_on_record(register.database, first, now=register.now),
        lambda: put_on_record(register.database, second, now=register.now),
    )
    assert len(rows(register, Reminder)) == len(busy)


def test_two_that_send_at_once_send_each_once(register, busy, settings, clock):
    put_on_record(register.database, planned(register), now=register.now)
    inbox = Inbox(slow=0.1)
    with mail_server(inbox) as smtp:

        def go():
            Sender(
                database=register.database,
                clock=clock,
                settings=replace(settings, smtp=smtp),
                smtp=smtp,
                timeout=20.0,
            ).send()

        side_by_side(go, go, go)
    assert sorted(each.rcpt_tos for each in inbox.taken) == sorted([p.email] for p in busy)
    words = [row.word for row in rows(register, Delivery)]
    assert words.count(Handed.TAKEN) == words.count(Handed.BEGUN) == len(busy)
