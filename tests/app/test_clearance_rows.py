"""From rows to the answer: what is on record of machines and people, in the register itself."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.clearance.decision import Code, Verdict
from app.clearance.models import Override
from app.hazards.due import IntervalUnit
from app.hazards.models import Outcome
from app.inductions.models import InductionRevision
from app.machines.models import (
    Form,
    Isolation,
    Machine,
    TestRun,
)
from app.people.models import Visit, VisitKind
from app.presence.models import (
    Loan,
    UseFinished,
    UseWatched,
)
from app.training.models import EquipmentIssue, PersonMark
from tests.app.rows import add, ask, at_work, codes, conditions, end, setting
from tests.factories import NOW

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
asked = codes


# --- the machine -------------------------------------------------------------------------


def test_an_isolation_puts_the_machine_out_of_use_until_it_is_removed(shop, saw, ada):
    lock = add(shop, Isolation, machine_id=saw.id, point="Isolator 4", lock_number="17")
    assert asked(shop, ada, saw) == [Code.ISOLATED]
    end(shop, lock)
    assert asked(shop, ada, saw) == []


def test_a_test_run_is_for_its_person_and_its_time(shop, saw, ada, tess):
    check = shop.check()
    shop.acknowledge(ada, shop.assess(saw, checks=[check]))
    shop.do(check, saw, Outcome.FAILED)
    assert asked(shop, ada, saw) == [Code.CHECK_FAILED]
    run = add(shop, TestRun, machine_id=saw.id, person_id=ada.id, why="New blade", until=NOW + HOUR)
    assert asked(shop, ada, saw) == [Code.TEST_RUN]
    assert ask(shop, ada, saw).verdict is Verdict.SUPERVISED
    assert Code.CHECK_FAILED in asked(shop, tess, saw)
    assert asked(shop, ada, saw, NOW + HOUR) == [Code.CHECK_FAILED]
    end(shop, run)
    assert asked(shop, ada, saw) == [Code.CHECK_FAILED]


def test_a_check_before_each_use_stops_only_when_it_failed(shop, saw, ada):
    check = shop.check(unit=IntervalUnit.USE)
    shop.acknowledge(ada, shop.assess(saw, checks=[check]))
    assert asked(shop, ada, saw) == []
    shop.do(check, saw, Outcome.FAILED)
    assert asked(shop, ada, saw) == [Code.CHECK_FAILED]


def test_the_sites_grace_after_a_review_date_comes_from_its_settings(shop, saw, ada):
    late = NOW + timedelta(days=400)
    assert asked(shop, ada, saw, late) == [Code.INDUCTION_EXPIRED]
    setting(shop, "review_grace_days", 10)
    assert asked(shop, ada, saw, late) == [Code.REVIEW_OVERDUE, Code.INDUCTION_EXPIRED]


# --- the person --------------------------------------------------------------------------


def test_a_guest_is_supervised_on_their_day_and_not_after(shop, saw, hold):
    guest = hold(starts_on=date(2020, 1, 1), ends_on=date(2020, 2, 1))
    assert asked(shop, guest, saw) == [Code.ACCOUNT_ENDED]
    visit = add(
        shop,
        Visit,
        person_id=guest.id,
        host_id=shop.chief.id,
        kind=VisitKind.VISITOR,
        day=NOW.date(),
    )
    assert Code.VISITOR in asked(shop, guest, saw)
    assert asked(shop, guest, saw, NOW + DAY) == [Code.ACCOUNT_ENDED]
    end(shop, visit)
    assert asked(shop, guest, saw) == [Code.ACCOUNT_ENDED]


def test_a_mark_stands_until_it_is_taken_back(shop, saw, ada):
    mark = add(shop, PersonMark, person_id=ada.id, machine_id=saw.id)
    assert asked(shop, ada, saw) == [Code.SPEAK_TO_TECHNICIAN]
    end(shop, mark)
    assert asked(shop, ada, saw) == []


def test_ages_come_from_the_day_on_record(shop, database, saw, ada, revision):
    conditions(shop, revision, minimum_age=16, supervised_under=18)
    assert asked(shop, ada, saw) == [Code.AGE_NOT_KNOWN]
    for adult_on, found in (
        (date(2030, 1, 1), Code.TOO_YOUNG),
        (date(2027, 1, 1), Code.YOUNG_PERSON),
    ):
        with database.write() as session:
            session.get_one(type(ada), ada.id).adult_on = adult_on
        assert found in asked(shop, ada, saw)


def test_equipment_is_issued_runs_out_and_is_taken_back(shop, saw, ada, revision):
    conditions(shop, revision, equipment=["Fitted mask"])
    assert asked(shop, ada, saw) == [Code.EQUIPMENT_MISSING]
    fit = add(
        shop,
        EquipmentIssue,
        person_id=ada.id,
        equipment="fitted mask",
        expires_on=NOW.date() + DAY,
    )
    assert asked(shop, ada, saw) == []
    assert asked(shop, ada, saw, NOW + 2 * DAY) == [Code.EQUIPMENT_MISSING]
    end(shop, fit)
    assert asked(shop, ada, saw) == [Code.EQUIPMENT_MISSING]


def test_disuse_is_counted_from_the_last_start_on_anything_that_asks_the_same(
    shop, clock, saw, drill, basics, ada
):
    deeper = shop.induction("Drilling", requires=[basics])
    shop.assess(drill, inductions=[deeper])
    setting(shop, "disuse_months", 2)
    clock.at = NOW + 50 * DAY
    at_work(shop, ada, drill, until=clock.at + HOUR)
    clock.at = NOW + 80 * DAY
    assert asked(shop, ada, saw) == []
    clock.at = NOW + 120 * DAY
    assert Code.DISUSE in asked(shop, ada, saw)
    at_work(shop, ada, saw, until=clock.at + HOUR)
    clock.at += HOUR
    assert asked(shop, ada, saw) == []


def test_uses_watched_by_somebody_else_that_went_well_count(shop, database, saw, basics, ada, tess):
    with database.write() as session:
        for row in session.query(InductionRevision).filter_by(induction_id=basics.id):
            values = {c: getattr(row, c) for c in row.__table__.columns.keys()}  # noqa: SIM118
            session.add(
                InductionRevision(**{**values, "id": None, "number": 2, "supervised_uses": 2})
            )
    assert Code.USES_WANTING in asked(shop, ada, saw)
    for supervisor, well in ((tess, True), (ada, True), (tess, False), (tess, True)):
        use = at_work(shop, ada, saw, until=NOW + HOUR, verdict="supervised")
        add(shop, UseFinished, start_id=use.id)
        add(shop, UseWatched, start_id=use.id, supervisor_id=supervisor.id, went_well=well)
        found = asked(shop, ada, saw)
    assert Code.USES_WANTING not in found


def test_an_induction_in_its_grace_is_supervised(shop, saw, ada):
    setting(shop, "grace_days", 14)
    late = NOW + timedelta(days=370)
    assert Code.INDUCTION_IN_GRACE in asked(shop, ada, saw, late)
    assert asked(shop, ada, saw, late + 14 * DAY) == [Code.INDUCTION_EXPIRED]


def loan_tool(shop, bay, basics):
    with shop.database.write() as session:
        row = Machine(
            area_id=bay.id,
            name="Magpie",
            form=Form.LOAN_TOOL,
            kind="Drill",
            place="",
            maker="",
            model="",
            serial="",
        )
        session.add(row)
    return row


def lend(shop, tool, person, **values):
    usual = {
        "condition": "",
        "accessories": "",
        "place": "",
        "evidence": "",
        "vibration": "5.0",
        "due_at": NOW + DAY,
    }
    return add(shop, Loan, machine_id=tool.id, person_id=person.id, **{**usual, **values})


def test_a_tool_on_loan_is_its_holders_until_it_is_brought_back(shop, bay, basics, ada, hold):
    tool = loan_tool(shop, bay, basics)
    revision = shop.assess(tool, inductions=[basics])
    bob = hold()
    for person in (ada, bob):
        shop.acknowledge(person, revision)
    out = lend(shop, tool, bob)
    assert asked(shop, ada, tool) == [Code.ON_LOAN]
    assert asked(shop, bob, tool) == []
    end(shop, out, trigger_minutes=30)
    assert asked(shop, ada, tool) == []


@pytest.mark.parametrize(
    ("vibration", "minutes", "stops"),
    [
        ("5.0", 120, True),
        ("5,0", 119, False),
        ("", None, False),
        ("", 10, True),
        ("2.5", None, True),
    ],
)
def test_the_vibration_of_todays_loans_is_added_up(
    shop, bay, basics, ada, vibration, minutes, stops
):
    tool = loan_tool(shop, bay, basics)
    shop.acknowledge(ada, shop.assess(tool, inductions=[basics]))
    setting(shop, "action_value_stops", True)
    out = lend(shop, tool, ada, vibration=vibration)
    assert asked(shop, ada, tool) == []
    end(shop, out, trigger_minutes=minutes)
    assert asked(shop, ada, tool) == ([Code.VIBRATION] if stops else [])
    assert asked(shop, ada, tool, NOW + DAY) == []


@pytest.mark.parametrize("lifts", ["induction-missing", "suspended"])
def test_an_override_lifts_what_it_names_while_it_stands(shop, saw, revision, lifts):
    bob = shop.person()
    shop.acknowledge(bob, revision)
    row = add(shop, Override, person_id=bob.id, machine_id=saw.id, lifts=lifts, until=NOW + HOUR)
    answer = ask(shop, bob, saw, moment=None)
    if lifts == "suspended":
        assert answer.verdict is Verdict.NOT_CLEARED
        return
    assert answer.verdict is Verdict.SUPERVISED
    (lifted,) = answer.lifted
    assert (lifted.author_id, lifted.until) == (shop.chief.id, NOW + HOUR)
    assert answer.holds_until == NOW + HOUR
    assert asked(shop, bob, saw, NOW + HOUR) == [Code.INDUCTION_MISSING]
    end(shop, row)
    assert asked(shop, bob, saw) == [Code.INDUCTION_MISSING]
