"""People by machines: every cell is the single decision's, and the questions asked of it."""

from __future__ import annotations

import csv
import io
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from openpyxl import load_workbook

from app.clearance.decision import Verdict, reasons_of, worst
from app.clearance.facts import gather, machine_files
from app.clearance.person_rules import PERSON_PART
from app.dates import local_date
from app.machines.holds import take_out
from app.machines.models import Machine
from app.matrix import questions
from app.matrix.cells import PARTICULAR, SPREAD
from app.matrix.site import again, whole
from app.people.identity import identities
from app.people.rights import Role
from app.site import site
from app.training.models import EquipmentIssue, PersonMark
from app.training.suspension import suspend
from seed.workshop import plant
from tests.factories import ZONE


def assert_equals_the_single_decision(database, found, now, zone):
    """Ask for every pair by itself, and compare."""
    with database.read() as session:
        files = machine_files(session, found.machines, at=now)
        people = identities(session, found.people, local_date(now, zone))
        for person in found.people:
            for machine in found.machines:
                facts = gather(session, files[machine], people[person], now=now, zone=zone)
                assert found.at(person, machine) is worst(reasons_of(facts)), (
                    people[person].name,
                    files[machine].facts.name,
                    reasons_of(facts),
                )


def asked(database, now, zone=ZONE):
    with database.read() as session:
        return whole(session, now=now, zone=zone)


@pytest.fixture
def busy(shop):
    """A small workshop with somebody of every sort."""
    basics, laser = shop.induction("Basics"), shop.induction("Laser")
    check = shop.check()
    saw, cutter, idle = shop.machine("Saw"), shop.machine("Laser cutter"), shop.machine("Idle")
    of_saw = shop.assess(saw, inductions=[basics], checks=[check])
    of_cutter = shop.assess(cutter, inductions=[basics, laser])
    technician = shop.technician(basics, laser)
    ada, bob = shop.person("Ada Quill"), shop.person("Bob Reed")
    shop.sign_off(technician, ada, basics)
    shop.sign_off(technician, ada, laser)
    shop.sign_off(technician, bob, basics)
    for revision in (of_saw, of_cutter):
        shop.acknowledge(ada, revision)
    shop.do(check, saw)
    with shop.database.write() as session:
        suspend(
            session,
            actor=shop.actor(technician),
            person_id=bob.id,
            reason="Asked to wait",
            now=shop.now,
        )
        by = {"recorded_by_id": technician.id, "occurred_at": shop.now, "recorded_at": shop.now}
        session.add(PersonMark(person_id=ada.id, machine_id=cutter.id, **by))
        session.add(EquipmentIssue(person_id=ada.id, equipment="Goggles", **by))
    return {"saw": saw, "cutter": cutter, "idle": idle, "ada": ada, "bob": bob, "check": check}


def test_every_rule_of_the_person_part_is_either_spread_or_asked_of_those_it_touches():
    assert set(SPREAD) | set(PARTICULAR) == set(PERSON_PART)
    assert not set(SPREAD) & set(PARTICULAR)


def test_every_cell_of_a_small_workshop_is_the_single_decisions(shop, busy, database):
    found = asked(database, shop.now)
    assert_equals_the_single_decision(database, found.matrix, shop.now, ZONE)
    assert {Verdict(v) for row in found.matrix.verdicts.tolist() for v in row} >= {
        Verdict.NOT_CLEARED,
        Verdict.OUT_OF_USE,
    }


@pytest.mark.timeout(120)
def test_every_cell_of_the_demo_is_the_single_decisions_now_and_in_half_a_year(shop, database):
    # The demo is planted beside the two people of the fixture.
    plant(database, shop.now)
    with database.read() as session:
        zone = site(session).tz
    for now in (shop.now, shop.now + timedelta(days=183)):
        found = asked(database, now, zone)
        assert found.matrix.verdicts.size > 1000
        assert_equals_the_single_decision(database, found.matrix, now, zone)
    words = {Verdict(v) for row in asked(database, shop.now, zone).matrix.verdicts for v in row}
    assert words == set(Verdict)


def test_a_fault_changes_its_own_column_and_nothing_else_is_asked(shop, busy, database):
    before = asked(database, shop.now)
    later = shop.now + timedelta(seconds=5)
    with database.write() as session:
        saw = session.get_one(Machine, busy["saw"].id)
        take_out(session, saw, why="Noise", actor_id=shop.author.id, now=later)
    with database.read() as session:
        after = again(session, before, now=later, zone=ZONE, machines=[busy["saw"].id])
    column = after.matrix.column[busy["saw"].id]
    assert set(after.matrix.verdicts[:, column]) == {Verdict.OUT_OF_USE}
    assert (after.matrix.verdicts == asked(database, later).matrix.verdicts).all()


def test_a_persons_change_asks_their_row_anew(shop, busy, database):
    before = asked(database, shop.now)
    later = shop.now + timedelta(seconds=5)
    with database.write() as session:
        suspend(
            session,
            actor=shop.actor(shop.author),
            person_id=busy["ada"].id,
            reason="Asked to wait",
            now=later,
        )
    with database.read() as session:
        after = again(session, before, now=later, zone=ZONE, people=[busy["ada"].id])
    assert after.matrix.at(busy["ada"].id, busy["saw"].id) is Verdict.NOT_CLEARED
    assert (after.matrix.verdicts == asked(database, later).matrix.verdicts).all()


def test_a_failing_check_would_stop_those_who_rely_on_it(shop, busy, database):
    found = asked(database, shop.now)
    stopped = questions.stops(found, questions.check_fails(busy["check"].id), zone=ZONE)
    assert [each.machine_id for each in stopped] == [busy["saw"].id]
    assert busy["ada"].id in stopped[0].people
    assert busy["bob"].id not in stopped[0].people  # suspended already: nothing is lost


def test_what_lapses_falls_into_the_week_in_which_it_runs_out(shop, busy, database):
    found = asked(database, shop.now + timedelta(days=340))
    weeks = questions.lapses(found, zone=ZONE)
    assert sum(week.clearances for week in weeks) >= 1
    first = next(week for week in weeks if week.clearances)
    with database.read() as session:
        need = questions.needs(session, found, zone=ZONE)[0]
    assert first.begins <= need.first_on + timedelta(days=1) <= first.begins + timedelta(days=7)


def test_the_page_shows_people_by_machines_and_a_cell_says_why(shop, busy, visitor):
    visitor.sign_in(shop.author)
    page = visitor.get("/matrix").text
    assert "Ada Quill" in page
    assert "Laser cutter" in page
    why = visitor.get(f"/matrix/{busy['bob'].id}/{busy['saw'].id}").text
    assert "This person may not use this at present." in why
    assert "Asked to wait" not in why


def test_filters_choose_rows_and_columns(shop, busy, visitor):
    visitor.sign_in(shop.author)
    page = visitor.get("/matrix?q=ada+q").text
    assert "Ada Quill" in page
    assert "Bob Reed" not in page
    area = busy["saw"].area_id
    page = visitor.get(f"/matrix?area={area}").text
    assert "Saw" in page
    assert "<span>Laser cutter</span>" not in page
    assert visitor.get("/matrix?verdict=splendid").status_code == 422
    assert "Nobody and nothing fits" in visitor.get("/matrix?q=nobody+at+all").text


def test_the_tables_say_what_the_page_says_and_no_cell_is_a_formula(shop, busy, visitor):
    shop.person("=2+3 Formula")
    visitor.sign_in(shop.author)
    lines = list(csv.reader(io.StringIO(visitor.get("/matrix.csv").data.decode("utf-8-sig"))))
    assert lines[0][0] == "person"
    named = {line[0]: line[1:] for line in lines[1:]}
    assert "'=2+3 Formula" in named
    assert "=2+3 Formula" not in named
    book = load_workbook(io.BytesIO(visitor.get("/matrix.xlsx").data), read_only=True)
    rows = [[cell or "" for cell in row] for row in book.active.iter_rows(values_only=True)]
    book.close()
    assert rows == lines
    saw = lines[0].index("Saw")
    assert named["Bob Reed"][saw - 1] == "not cleared"


def test_questions_are_asked_in_pages(shop, busy, visitor):
    visitor.sign_in(shop.author)
    assert "Ada Quill" in visitor.get("/matrix").text
    assert visitor.get(f"/matrix/machines/{busy['saw'].id}").status_code == 200
    assert visitor.get("/matrix/machines/999").status_code == 404
    page = visitor.get(f"/matrix/stops?check={busy['check'].id}").text
    assert "Saw:" in page
    assert visitor.get("/matrix/stops?technician=3").status_code == 200
    assert visitor.get("/matrix/lapses").status_code == 200


def test_a_person_without_a_role_sees_no_matrix(shop, busy, visitor):
    visitor.sign_in(busy["ada"])
    for path in ("/matrix", "/matrix.csv", "/matrix/stops", "/matrix/lapses"):
        assert visitor.get(path).status_code == 403


def test_the_kept_matrix_is_asked_anew_as_soon_as_something_is_recorded(shop, busy, visitor):
    visitor.sign_in(shop.author)
    before = visitor.get("/matrix.csv").data
    visitor.post(f"/machines/{busy['cutter'].id}/out-of-use", data={"why": "Smell"})
    assert visitor.get("/matrix.csv").data != before


def test_a_technician_on_whom_a_machine_hangs_is_named(shop, busy, visitor, database):
    alone = shop.person("Only One", roles=[Role.TECHNICIAN])
    with database.read() as session:
        assert questions.leaves(whole(session, now=shop.now, zone=ZONE), alone.id, zone=ZONE) == []
        assert questions.nobody_else_gives(session, alone.id) == []


def test_a_zone_of_its_own_counts_days_at_the_site(shop, busy, database):
    zone = ZoneInfo("Pacific/Kiritimati")
    found = asked(database, shop.now, zone)
    assert_equals_the_single_decision(database, found.matrix, shop.now, zone)


def test_who_belongs_here_for_a_time_has_a_row_through_the_last_day_of_it(shop, busy, database):
    today = local_date(shop.now, ZONE)
    days = {
        shop.person(f"Ends {gone} days ago", ends_on=today - timedelta(days=gone)).id: gone
        for gone in (-300, 0, 1, 300)
    }
    found = asked(database, shop.now).matrix
    assert {gone for person, gone in days.items() if person in found.row} == {-300, 0}
