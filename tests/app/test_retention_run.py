"""A run: what is over goes, and only that; slice by slice, through kills, never past a mark."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import func, select

from app.audit import log
from app.dates import local_date
from app.db import Base
from app.jobs.worker import work_once
from app.machines.holds import return_to_use, take_out
from app.people.models import Person
from app.people.register import membership_of
from app.presence.models import Start
from app.retention import keeps, run
from app.retention.models import RetentionLine, RetentionRemoved, RetentionRun, Stage
from app.retention.what_goes import slices
from app.retention.work import handlers
from app.storage import Files
from app.training.models import Suspension, TrainingRecord
from app.training.suspension import suspend
from app.transfer.models import RegisterExport
from tests.factories import ZONE

YEARS = timedelta(days=366)


def today(shop):
    return local_date(shop.now, ZONE)


def plan(shop):
    with shop.database.read() as session:
        return run.plan(session, today=today(shop), now=shop.now)


def work(shop, settings):
    files = Files(settings.files)
    while work_once(
        shop.database, shop.clock, handlers(shop.database, shop.clock, settings, files)
    ):
        pass


def rehearsed(shop, settings):
    with shop.database.write() as session:
        row = run.ask(session, today=today(shop), actor_id=shop.chief.id, now=shop.now)
    work(shop, settings)
    with shop.database.read() as session:
        return session.get_one(RetentionRun, row.id)


def begin(shop, row):
    with shop.database.write() as session:
        row = session.get_one(RetentionRun, row.id)
        digest = row.plan_digest
        return run.begin(session, row, plan_digest=digest, actor_id=shop.chief.id, now=shop.now)


def leaver(shop, name="Ada Quill", *, adult_on=None):
    person = shop.person(name, ends_on=today(shop))
    if adult_on:
        with shop.database.write() as session:
            session.get_one(Person, person.id).adult_on = adult_on
    return person


def start(shop, machine, person, *, at=None):
    with shop.database.write() as session:
        row = Start(
            key=f"k{machine.id}-{person.id}-{at or shop.now}",
            machine_id=machine.id,
            person_id=person.id,
            verdict="cleared",
            reasons=[],
            rules=1,
            material="",
            recorded_by_id=person.id,
            occurred_at=at or shop.now,
            recorded_at=at or shop.now,
        )
        session.add(row)
    return row


# --- what is over -------------------------------------------------------------------------


def test_in_a_workshop_of_today_nothing_is_over(world):
    assert plan(world.shop).rows == []


def test_a_start_goes_after_three_years_and_not_a_day_before(shop):
    """Three years: common practice, from the time in which a claim may be brought."""
    row = start(shop, shop.machine(), shop.person())
    first = shop.now
    shop.clock.at = first.replace(year=first.year + 3) - timedelta(days=1)
    assert ("start", row.id) not in plan(shop).rows
    shop.clock.at = first.replace(year=first.year + 3)
    assert ("start", row.id) in plan(shop).rows


def test_training_goes_six_years_after_leaving_and_the_name_three(shop):
    basics = shop.induction()
    person, member = leaver(shop), shop.person()
    for each in (person, member):
        shop.hold(each, basics)
    shop.clock.at += 3 * YEARS
    assert plan(shop).rows == [("person", person.id)]
    shop.clock.at += 3 * YEARS
    with shop.database.read() as session:
        (record,) = session.execute(
            select(TrainingRecord.id).where(TrainingRecord.person_id == person.id)
        ).scalars()
    assert ("training_record", record) in plan(shop).rows
    assert [id_ for table, id_ in plan(shop).rows if table == "training_record"] == [record]


def test_a_minor_is_kept_to_the_twenty_first_birthday(shop):
    """Limitation Act 1980, section 28 (from memory): the three years run from the age of 18."""
    grown = leaver(shop, "Bo Marsh")
    child = leaver(shop, "Ada Quill", adult_on=date(2030, 6, 1))
    shop.clock.at = shop.now.replace(year=2033, month=5, day=31)
    assert [id_ for t, id_ in plan(shop).rows if t == "person"] == [grown.id]
    shop.clock.at = shop.now.replace(month=6, day=1)
    assert [id_ for t, id_ in plan(shop).rows if t == "person"] == sorted([grown.id, child.id])


def test_what_stands_is_never_over_and_what_was_ended_goes_with_its_end(shop):
    machine = shop.machine()
    with shop.database.write() as session:
        by = {"actor_id": shop.chief.id, "now": shop.now}
        ended = take_out(session, machine, why="Belt", **by)
        session.flush()
        return_to_use(session, ended, tests="Ran it", **by)
        stands = take_out(session, machine, why="Noise", **by)
    shop.clock.at += 40 * YEARS
    found = [id_ for table, id_ in plan(shop).rows if table == "machine_hold"]
    assert stands.id not in found
    assert len(found) == 2
    assert ended.id in found


def test_somebody_who_is_suspended_is_neither_erased_nor_forgotten(shop):
    person = leaver(shop)
    with shop.database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.author),
            person_id=person.id,
            reason="Left a guard off",
            now=shop.now,
        )
    shop.clock.at += 40 * YEARS
    assert not {("person", person.id)} & set(plan(shop).rows)
    with shop.database.read() as session:
        (row,) = session.execute(select(Suspension.id)).scalars()
    assert ("suspension", row) not in plan(shop).rows


def test_a_mark_keeps_the_person_the_machine_and_what_is_about_them(shop):
    machine, person = shop.machine(), leaver(shop)
    other = start(shop, shop.machine(), person)
    row = start(shop, machine, shop.person())
    shop.clock.at += 4 * YEARS
    assert {("start", row.id), ("start", other.id), ("person", person.id)} <= set(plan(shop).rows)
    by = {"why": "A claim", "actor_id": shop.chief.id, "now": shop.now}
    with shop.database.write() as session:
        mark = keeps.mark(session, "machine", machine.id, **by)
        keeps.mark(session, "person", person.id, **by)
    assert not {("start", row.id), ("start", other.id), ("person", person.id)} & set(
        plan(shop).rows
    )
    with shop.database.write() as session:
        keeps.end(session, mark.id, actor_id=shop.chief.id, now=shop.now)
    assert ("start", row.id) in plan(shop).rows


def test_the_newest_result_of_a_check_stays_whatever_its_age(shop):
    machine, check = shop.machine(), shop.check()
    shop.assess(machine, checks=[check])
    shop.do(check, machine)
    shop.clock.at += timedelta(days=1)
    shop.do(check, machine)
    shop.clock.at += 40 * YEARS
    found = [id_ for table, id_ in plan(shop).rows if table == "check_result"]
    assert len(found) == 1


def test_the_assessment_in_force_stays_and_the_one_before_goes(shop):
    machine = shop.machine()
    draft = shop.draft(machine)
    first = shop.approve(draft)
    second = shop.approve(draft)
    shop.clock.at += 5 * YEARS
    assert ("assessment_revision", first) not in plan(shop).rows
    shop.clock.at += 2 * YEARS
    found = set(plan(shop).rows)
    assert ("assessment_revision", first) in found
    assert ("assessment_revision", second) not in found


# --- removing it --------------------------------------------------------------------------


def count(shop, table):
    with shop.database.read() as session:
        return session.execute(
            select(func.count()).select_from(Base.metadata.tables[table])
        ).scalar_one()


@pytest.fixture
def old(shop):
    """Starts of many people, and somebody who left: all over."""
    machine = shop.machine()
    person = leaver(shop)
    for number in range(7):
        start(shop, machine, person, at=shop.now + timedelta(minutes=number))
    shop.clock.at += 4 * YEARS
    return person


def test_it_is_rehearsed_then_removed_and_that_is_recorded_in_numbers(shop, settings, old):
    row = rehearsed(shop, settings)
    assert row.stage is Stage.REHEARSED
    assert row.counts == {"person": 1, "start": 7}
    assert count(shop, "start") == 7
    assert begin(shop, row)
    assert not begin(shop, row)  # sent twice
    work(shop, settings)
    assert count(shop, "start") == count(shop, "retention_line") == 0
    with shop.database.read() as session:
        assert session.get_one(RetentionRun, row.id).stage is Stage.DONE
        removed = session.execute(select(RetentionRemoved)).scalars().all()
        assert {(r.about, r.rows) for r in removed} >= {("start", 7), (f"person:{old.id}", 1)}
        assert session.get_one(Person, old.id).name == f"Person {old.id}"
        assert membership_of(session, old.id) is not None
        assert log.broken_at(session) is None


def test_a_worker_that_is_killed_leaves_whole_slices_and_the_next_goes_on(
    shop, settings, old, monkeypatch
):
    monkeypatch.setattr(run, "slices", lambda units: slices(units, 2))
    row = rehearsed(shop, settings)
    begin(shop, row)
    going = run.Going(run_id=row.id)
    with shop.database.write() as session:
        assert going.slice(session, now=shop.now)
    assert count(shop, "start") == 5

    def killed():
        with shop.database.write() as session:
            run.Going(run_id=row.id).slice(session, now=shop.now)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        killed()
    assert count(shop, "start") == 5
    work(shop, settings)
    assert count(shop, "start") == 0
    with shop.database.read() as session:
        assert session.get_one(RetentionRun, row.id).stage is Stage.DONE
        rows = select(func.sum(RetentionRemoved.rows)).where(RetentionRemoved.about == "start")
        assert session.execute(rows).scalar_one() == 7


def test_what_came_under_a_mark_since_the_rehearsal_stays(shop, settings, old):
    row = rehearsed(shop, settings)
    with shop.database.write() as session:
        keeps.mark(session, "person", old.id, why="A claim", actor_id=shop.chief.id, now=shop.now)
    begin(shop, row)
    work(shop, settings)
    assert count(shop, "start") == 7
    with shop.database.read() as session:
        assert session.get_one(Person, old.id).erased_at is None


def test_only_what_was_looked_at_is_removed(shop, settings, old):
    row = rehearsed(shop, settings)
    with shop.database.write() as session, pytest.raises(Exception, match="Rehearse again"):
        run.begin(
            session,
            session.get_one(RetentionRun, row.id),
            plan_digest="0" * 64,
            actor_id=None,
            now=shop.now,
        )
    late = start(shop, shop.machine(), old, at=shop.now - 4 * YEARS)  # written down since
    begin(shop, row)
    work(shop, settings)
    assert count(shop, "start") == 1
    with shop.database.read() as session:
        assert session.get(Start, late.id) is not None
        assert session.execute(select(RetentionLine)).first() is None
        assert session.execute(select(RegisterExport)).first() is None
