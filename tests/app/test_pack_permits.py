"""The permits of a pack: every kind that the register has, from when until when, closed by whom."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.clearance.models import Override
from app.machines.isolation import isolate, remove_abandoned
from app.machines.models import Machine
from app.machines.test_runs import allow_test_run, end_test_run
from app.pack.asked import Asked
from app.pack.contents import loans
from app.pack.ground import ground_of
from app.presence.models import UnattendedJob
from assessments.document.pack import Table

HOUR = timedelta(hours=1)
YEAR = timedelta(days=365)


@pytest.fixture
def tables(shop, database):
    def made(*, back=timedelta(0)):
        at = shop.now - back
        asked = Asked(
            first_on=(at - YEAR).date(), last_on=at.date(), seed="2026", asked_at=shop.now
        )
        with database.read() as session:
            part = loans.part(ground_of(session, asked))
        return {block.name: block for block in part.blocks if isinstance(block, Table)}

    return made


@pytest.fixture
def kiln(shop):
    return shop.machine("Kiln")


def by(shop):
    return {
        "recorded_by_id": shop.chief.id,
        "occurred_at": shop.now,
        "recorded_at": shop.now,
    }


def named(table):
    keys = [column.key for column in table.columns]
    return [dict(zip(keys, row, strict=True)) for row in table.rows]


def test_every_kind_of_permit_says_who_what_until_and_who_closed_it(
    shop, kiln, database, clock, tables
):
    ada, tess = shop.person("Ada Quill"), shop.technician()
    with database.write() as session:
        until = shop.now + 2 * HOUR
        session.add(
            Override(
                person_id=ada.id, machine_id=kiln.id, lifts="closed-now", until=until, **by(shop)
            )
        )
        session.add(
            UnattendedJob(
                machine_id=kiln.id,
                person_id=ada.id,
                contact_id=tess.id,
                what="Glaze firing",
                expected_end_at=shop.now + 9 * HOUR,
                **by(shop),
            )
        )
        run = allow_test_run(
            session,
            session.get_one(Machine, kiln.id),
            person_id=tess.id,
            why="New element",
            until=until,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    clock.at += HOUR
    with database.write() as session:
        run = session.merge(run, load=True)
        end_test_run(session, run, words="Heats evenly", actor_id=tess.id, now=shop.now)
    rows = {row["kind"].split(",")[0]: row for row in named(tables()["permits"])}
    assert set(rows) == {"outside the hours", "test run", "left to run alone"}
    assert {row["machine"] for row in rows.values()} == {"Kiln"}
    assert rows["outside the hours"]["person"] == ada.id
    assert rows["outside the hours"]["what"] == "use outside the opening hours"
    assert rows["outside the hours"]["closed"] == "stands"
    assert shop.chief.name in rows["test run"]["from"]
    assert rows["test run"]["what"] == "New element"
    # Whom a permit is for stands there as a number: no name beside it tells whose that is.
    assert rows["test run"]["closed"].endswith("themself: Heats evenly")
    assert f"contact number {tess.id}" in rows["left to run alone"]["what"]
    assert rows["left to run alone"]["closed"] == "still running"
    everything = " ".join(str(cell) for row in rows.values() for cell in row.values())
    assert tess.name not in everything
    assert ada.name not in everything
    clock.at += 30 * HOUR
    later = {row["kind"].split(",")[0]: row["closed"] for row in named(tables()["permits"])}
    assert later["outside the hours"] == "ran out"
    assert later["left to run alone"] == "no end on record"


def test_a_permit_of_another_year_is_not_in_it_and_one_closed_later_stands_in_last_months_pack(
    shop, kiln, database, clock, tables
):
    tess = shop.technician()
    with database.write() as session:
        machine = session.get_one(Machine, kiln.id)
        until = shop.now + timedelta(days=2)
        run = allow_test_run(
            session,
            machine,
            person_id=tess.id,
            why="New element",
            until=until,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    clock.at += timedelta(days=1)
    with database.write() as session:
        run = session.merge(run, load=True)
        end_test_run(session, run, words="Heats evenly", actor_id=tess.id, now=shop.now)
    (before,) = named(tables(back=timedelta(hours=20))["permits"])
    assert before["closed"] == "stands"
    clock.at += 2 * YEAR
    assert tables()["permits"].rows == ()


def test_a_lock_that_another_took_off_names_the_second_who_checked(
    shop, kiln, database, clock, tables
):
    tess, bo = shop.technician(), shop.person("Bo Marl")
    with database.write() as session:
        lock = isolate(
            session,
            session.get_one(Machine, kiln.id),
            point="Isolator K1",
            lock_number="7",
            why="Element out",
            actor_id=tess.id,
            now=shop.now,
        )
    (on,) = named(tables()["isolations"])
    assert (on["point"], on["removed"]) == ("Isolator K1, lock 7", "on")
    assert tess.name in on["applied"]
    clock.at += HOUR
    with database.write() as session:
        remove_abandoned(
            session,
            session.merge(lock, load=True),
            words="Gone home, telephoned",
            second_id=bo.id,
            actor_id=shop.chief.id,
            now=shop.now,
        )
    (off,) = named(tables()["isolations"])
    assert shop.chief.name in off["removed"]
    assert "checked by Bo Marl" in off["removed"]
