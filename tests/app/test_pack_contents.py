"""What the parts of a pack say of a small workshop, as of a moment."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.clearance.models import Override
from app.faults.models import Report, ReportKind
from app.hazards.checks import record_check
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Outcome
from app.machines.holds import take_out
from app.machines.models import Machine
from app.oversight.findings import Found, ToDo, record_finding
from app.oversight.models import Weight
from app.pack.asked import Asked, asked_from, insist
from app.pack.gather import gather
from app.people.models import Person
from app.presence.models import Start
from app.training.suspension import suspend
from assessments.document.pack import Fields, Figures, Table
from tests.factories import ZONE

YEAR = timedelta(days=365)


@pytest.fixture
def saw(shop):
    area = shop.area("Wood bay")
    saw = shop.machine("Panel saw", area=area)
    shop.basics = shop.induction("Basics")
    shop.weekly = shop.check(unit=IntervalUnit.WEEK)
    shop.lev = shop.check(basis=Basis.STATUTORY, every=14, unit=IntervalUnit.MONTH)
    draft = shop.draft(saw, inductions=[shop.basics], checks=[shop.weekly, shop.lev])
    shop.approve(draft)
    return saw


@pytest.fixture
def pack(shop, saw, database, app):
    def made(*, back=timedelta(0), seed="2026", then=False, areas=()):
        at = shop.now - back
        asked = Asked(
            first_on=(at - YEAR).date(),
            last_on=at.date(),
            seed=seed,
            areas=areas,
            as_known_then=then,
            asked_at=shop.now,
        )
        with database.read() as session:
            settings = app.extensions["chuckkey"].settings
            found = gather(session, asked, signatory="Chief", settings=settings)
        assert [part.number for part in found.parts] == list(range(1, 17))
        return {part.number: part for part in found.parts} | {"bound": found.bound}

    return made


def tables(part):
    return {block.name: block for block in part.blocks if isinstance(block, Table)}


def figures(part):
    return {
        figure.what: (figure.numerator, figure.denominator)
        for block in part.blocks
        if isinstance(block, Figures)
        for figure in block.figures
    }


def check(shop, database, check, machine, outcome=Outcome.PASSED, note=""):
    with database.write() as session:
        record_check(
            session,
            check,
            machine_id=machine.id,
            outcome=outcome,
            note=note,
            actor_id=shop.chief.id,
            now=shop.now,
            zone=ZONE,
        )


def test_the_same_register_and_choice_give_the_same_values(pack):
    first, second = pack(), pack()
    assert [b.ready.key for b in first.pop("bound")] == [b.ready.key for b in second.pop("bound")]
    assert first == second


def test_every_machine_is_on_the_register_and_an_area_alone_leaves_the_others_out(shop, saw, pack):
    other = shop.machine("Kiln")
    whole = [row[0] for table in tables(pack()[3]).values() for row in table.rows]
    assert sorted(whole) == ["Kiln", "Panel saw"]
    alone = [row[0] for t in tables(pack(areas=(other.area_id,))[3]).values() for row in t.rows]
    assert alone == ["Kiln"]


def test_a_pack_of_last_month_tells_the_state_of_last_month(shop, saw, database, clock, pack):
    clock.at += timedelta(days=40)
    with database.write() as session:
        row = session.get_one(Machine, saw.id)
        take_out(session, row, why="Noise", actor_id=shop.chief.id, now=shop.now)
    (row,) = tables(pack()[3]).popitem()[1].rows
    assert "out of use" in row[3]
    (before,) = tables(pack(back=timedelta(days=10))[3]).popitem()[1].rows
    assert "out of use" not in before[3]
    assert pack(back=timedelta(days=10))["bound"][0].ready.standing.in_force


def test_what_was_written_down_later_counts_unless_it_is_asked_as_known_then(
    shop, saw, database, clock, pack
):
    clock.at += timedelta(days=20)
    with database.write() as session:
        record_check(
            session,
            shop.weekly,
            machine_id=saw.id,
            outcome=Outcome.PASSED,
            actor_id=shop.chief.id,
            now=shop.now,
            zone=ZONE,
            done_at=shop.now - timedelta(days=15),
        )
    back = timedelta(days=12)
    assert figures(pack(back=back)[9])["Checks passed and in date"] == (1, 2)
    assert figures(pack(back=back, then=True)[9])["Checks passed and in date"] == (0, 2)


def test_an_overdue_assessment_stands_in_front_and_says_that_no_reason_is_on_record(clock, pack):
    clock.at += timedelta(days=800)
    index = pack()[4]
    (row,) = tables(index)["reviews-overdue"].rows
    assert row[3] > 0
    assert "No reason is on record" in row[4]
    names = [block.name for block in index.blocks if isinstance(block, Table)]
    assert names.index("reviews-overdue") < names.index("assessments")


def test_checks_are_counted_as_due_done_and_missed_by_the_month_of_their_day(
    shop, saw, database, clock, pack
):
    check(shop, database, shop.weekly, saw)  # 10 March, good through 17 March
    clock.at += timedelta(days=6)
    check(shop, database, shop.weekly, saw)  # in time, good through 23 March
    clock.at += timedelta(days=30)  # 15 April: missed on 23 March
    check(shop, database, shop.weekly, saw)
    by_month = {row[0]: row[1:] for row in tables(pack()[9])["checks-by-month"].rows}
    assert by_month["2026-03"] == (2, 1, 1, 0)
    assert by_month["2026-04"] == (0, 0, 0, 0)
    assert figures(pack()[9])["Checks done in time in the period"] == (1, 2)


def test_a_check_of_each_day_of_use_is_missed_on_a_day_of_use_without_it(
    shop, database, clock, pack
):
    lathe = shop.machine("Lathe")
    daily = shop.check()
    shop.approve(shop.draft(lathe, checks=[daily]))
    ada = shop.person("Ada Quill")
    for _day in range(2):
        clock.at += timedelta(days=1)
        with database.write() as session:
            session.add(_start(shop, lathe, ada))
    check(shop, database, daily, lathe)
    each = {row[0]: row for row in tables(pack()[9])["checks"].rows}
    assert each[daily.title][3:5] == (1, 1)


def _start(shop, machine, person):
    return Start(
        key=f"start-{machine.id}-{shop.now.isoformat()}",
        machine_id=machine.id,
        person_id=person.id,
        verdict="cleared",
        reasons=[],
        rules=2,
        material="",
        recorded_by_id=person.id,
        occurred_at=shop.now,
        recorded_at=shop.now,
    )


def test_a_chain_leads_from_a_start_to_the_checklist_the_inductor_and_the_checks(
    shop, saw, database, pack
):
    tess, ada = shop.technician(shop.basics), shop.person("Ada Quill")
    shop.sign_off(tess, ada, shop.basics)
    check(shop, database, shop.weekly, saw)
    with database.write() as session:
        session.add(_start(shop, saw, ada))
    chain = next(block for block in pack()[8].blocks if isinstance(block, Fields))
    said = dict(chain.rows)
    assert "Ada Quill" in said["Person"]
    assert "2 of 2 items seen" in said["Checklist"]
    assert "revision 1" in said["Briefed on"]
    assert tess.name in said["Inductor’s authority"]
    assert "named in writing" in said["Inductor’s authority"]
    assert "own standing then: current" in said["Inductor’s authority"]
    assert "passed" in said["Checks that day"]


def test_suspensions_and_overrides_stand_without_reasons_or_names(shop, saw, database, pack):
    ada = shop.person("Ada Quill")
    by = {"recorded_by_id": shop.chief.id, "occurred_at": shop.now, "recorded_at": shop.now}
    with database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.chief),
            person_id=ada.id,
            reason="Shouted at Bo",
            now=shop.now,
        )
        session.add(
            Override(
                person_id=ada.id,
                machine_id=saw.id,
                lifts="induction-missing",
                until=shop.now + timedelta(hours=1),
                **by,
            )
        )
    part = pack()[11]
    assert len(tables(part)["overrides"].rows) == len(tables(part)["suspensions"].rows) == 1
    assert "Shouted" not in repr(part)
    assert "Ada Quill" not in repr(part)


def test_gaps_are_listed_with_their_counts(shop, saw, database, pack):
    shop.machine("Bare bench")
    with database.write() as session:
        session.add(
            Report(
                key="k" * 20,
                kind=ReportKind.INCIDENT,
                machine_id=saw.id,
                area_id=saw.area_id,
                stopped=False,
                snapshot={},
                occurred_at=shop.now,
                recorded_at=shop.now,
            )
        )
    gaps = {row[0]: row[1] for row in tables(pack()[15])["gaps"].rows}
    assert gaps["Machines without an assessment in force"] == 1
    assert gaps["Checks that are relied on and were never done"] == 2
    assert gaps["Reports that nobody has looked into"] == 1
    assert gaps["No drill on record in the period"] == 1
    assert "whole" in repr(pack()[15])


def test_findings_of_the_last_audit_say_what_became_of_them(shop, database, pack):
    today = shop.now.date()
    with database.write() as session:
        record_finding(
            session,
            Found(
                audit="Last audit",
                reference="2",
                weight=Weight.OBSERVATION,
                words="A ladder without a number",
                area_id=None,
                found_on=today,
            ),
            ToDo(what="Number it", owner="Bay", due_on=today - timedelta(days=1)),
            actor_id=shop.chief.id,
            now=shop.now,
            today=today,
        )
    (row,) = tables(pack()[13])["findings"].rows
    assert row[4] == "Open, late. Still to do: Number it."


def test_a_name_that_was_erased_is_not_in_a_pack(shop, saw, database, pack):
    tess, ada = shop.technician(shop.basics), shop.person("Ada Quill")
    shop.sign_off(tess, ada, shop.basics)
    with database.write() as session:
        session.add(_start(shop, saw, ada))
        session.get_one(Person, ada.id).erased_at = shop.now
    assert "Ada Quill" not in repr(pack())


def test_a_choice_is_kept_with_its_job_and_read_again(shop):
    asked = Asked(
        first_on=shop.now.date(),
        last_on=shop.now.date(),
        areas=(1, 2),
        seed="x",
        asked_at=shop.now,
    )
    assert asked_from(asked.payload()) == asked
    insist(asked, today=shop.now.date())
