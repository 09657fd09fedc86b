"""Who is reminded of what, from the rows: each thing at each stage once, and never when mended."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy.exc import IntegrityError

from app.actions.actions import close_action, open_action
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, CheckResult, Outcome
from app.people.models import Person
from app.people.register import belongs
from app.people.rights import Role
from app.reminders.known import Topic
from app.reminders.models import Reminder, ReminderChoice
from app.reminders.plan import put_on_record
from app.risk_assessments.models import Revision, RiskAssessment, Trigger
from app.risk_assessments.reviews import close_review, open_review
from app.training.standing import Result
from app.training.suspension import suspend
from tests.app.reminding import days, digests, planned, remind, rows, said, told


@pytest.fixture
def bay(shop):
    return shop.area("Wood bay")


@pytest.fixture
def basics(shop):
    return shop.induction("Basics", months=12)


@pytest.fixture
def saw(shop, bay, basics):
    machine = shop.machine("Panel saw", area=bay)
    shop.assess(machine, inductions=[basics])
    return machine


@pytest.fixture
def ada(shop, basics, saw):
    """Somebody who was inducted on 4 April 2025: it counts through 4 April 2026, a Saturday."""
    person = shop.person("Ada Quill")
    shop.hold(person, basics, at=shop.now - days(340))
    return person


@pytest.fixture
def tess(shop, bay):
    return shop.person("Tess Turner", roles=[Role.TECHNICIAN], area=bay)


def each_weekday(shop, clock, count):
    """Remind on each day but Saturday and Sunday; give the day with what was said on it."""
    for _ in range(count):
        if clock.at.weekday() < 5:
            before = len(rows(shop, Reminder))
            remind(shop)
            yield clock.at.date(), rows(shop, Reminder)[before:]
        clock.at += days(1)


# --- what runs out -----------------------------------------------------------------------


def test_what_runs_out_is_said_at_each_stage_once(shop, clock, ada):
    told = [
        (day, row.stage)
        for day, found in each_weekday(shop, clock, 40)
        for row in found
        if row.person_id == ada.id
    ]
    # Seven days before it is Saturday 28 March: said on the Friday before the quiet weekend.
    assert told == [
        (date(2026, 3, 10), "28 days before"),
        (date(2026, 3, 27), "7 days before"),
        (date(2026, 4, 3), "on the day"),
    ]


def test_what_was_renewed_is_never_reminded_of_again(shop, clock, ada, basics):
    remind(shop)
    assert len(said(shop, ada)) == 1
    shop.hold(ada, basics)
    found = [row for _day, those in each_weekday(shop, clock, 60) for row in those]
    assert [row for row in found if row.person_id == ada.id] == []


def test_of_what_was_taken_back_or_is_not_asked_for_nobody_is_reminded(shop, ada, basics, tess):
    other = shop.induction("Not asked for by anything", months=12)
    shop.hold(tess, other, at=shop.now - days(340))
    shop.hold(ada, basics, Result.REVOKED)
    assert told(shop, ada) == []
    assert told(shop, tess) == []


def test_who_leaves_before_it_runs_out_is_not_asked_to_renew_it(shop, ada):
    def ends(on):
        with shop.database.write() as session:
            belongs(
                session,
                session.get_one(Person, ada.id),
                starts_on=date(2025, 1, 1),
                ends_on=on,
                actor_id=shop.chief.id,
                now=shop.now,
            )

    ends(date(2026, 4, 4))
    assert told(shop, ada) == []
    ends(date(2026, 4, 5))
    assert [line.topic for line in told(shop, ada)] == [Topic.CLEARANCE]
    ends(shop.now.date() - days(1))
    assert told(shop, ada) == []


def test_a_reader_may_do_without_what_is_a_convenience_and_nothing_else(shop, ada, tess):
    with shop.database.write() as session:
        for topic in Topic:
            session.add(
                ReminderChoice(
                    person_id=ada.id,
                    topic=topic,
                    wanted=False,
                    by_link=True,
                    recorded_at=shop.now,
                )
            )
        open_action(
            session,
            about="check_result:0",
            what="Mend the guard",
            owner="Ada Quill",
            due_on=shop.now.date(),
            actor_id=tess.id,
            now=shop.now,
        )
    assert [line.topic for line in told(shop, ada)] == [Topic.ACTION]


# --- changes -----------------------------------------------------------------------------


def test_a_material_change_is_said_until_it_is_acknowledged(shop, clock, saw, basics, bay):
    revision = shop.assess(saw, inductions=[basics])
    knew, never, lapsed = shop.person("Knew it"), shop.person("Never"), shop.person("Lapsed")
    for person in (knew, never):
        shop.hold(person, basics)
    shop.hold(lapsed, basics, at=shop.now - days(500))
    for person in (knew, lapsed):
        shop.acknowledge(person, revision)
    with shop.database.read() as session:
        row = session.get_one(RiskAssessment, session.get_one(Revision, revision).assessment_id)
    clock.at += days(1)
    assert told(shop, knew) == []
    shop.approve(row, material=False)
    assert told(shop, knew) == [], "nobody is briefed anew for a matter of wording"
    changed = shop.approve(row, material=True)
    (line,) = told(shop, knew)
    assert (line.topic, line.stage) == (Topic.CHANGE, "at once")
    assert line.path == f"/acknowledge/{changed}"
    assert told(shop, never) == [], "who never knew it is told at the machine"
    assert told(shop, lapsed) == [], "the refresher brings it along"
    stages = [
        row.stage
        for _day, found in each_weekday(shop, clock, 80)
        for row in found
        if row.person_id == knew.id
    ]
    assert stages == ["at once", "7 days after", "21 days after"]
    clock.at -= days(60)
    shop.acknowledge(knew, changed)
    assert told(shop, knew) == []


def test_who_was_briefed_and_has_not_given_their_word_is_reminded_since_that_day(
    shop, clock, saw, basics
):
    inductor = shop.technician(basics)
    ada = shop.person("Ada Quill")
    shop.sign_off(inductor, ada, basics)
    (line,) = told(shop, ada)
    assert (line.topic, line.stage, line.due_on) == (Topic.CHANGE, "at once", shop.now.date())
    assert "your own word is still open" in line.title


# --- duties ------------------------------------------------------------------------------


@pytest.fixture
def weekly(shop, bay):
    check = shop.check(every=1, unit=IntervalUnit.WEEK)
    machine = shop.machine("Band saw", area=bay)
    shop.assess(machine, checks=[check])
    shop.do(check, machine)
    return check, machine


def test_a_late_check_climbs_from_the_technicians_to_the_approver(shop, clock, weekly, tess, bay):
    elsewhere = shop.person("Other", roles=[Role.TECHNICIAN], area=shop.area("Metal bay"))
    told = {}
    for day, found in each_weekday(shop, clock, 30):
        for row in found:
            if row.topic is Topic.CHECK:
                told.setdefault(row.person_id, []).append((day, row.stage))
    # Done on Tuesday the 10th, good through the 17th; late from the 18th.
    theirs = [
        (date(2026, 3, 17), "on the day"),
        (date(2026, 3, 18), "late: owner"),
        (date(2026, 3, 20), "late: technicians"),
        (date(2026, 3, 27), "late: approver"),
    ]
    assert told[tess.id] == told[shop.author.id] == theirs
    assert told[shop.chief.id] == theirs[3:]
    assert elsewhere.id not in told


def test_a_check_that_was_done_is_never_reminded_of_again(shop, clock, weekly, tess):
    clock.at += days(9)
    assert [line.stage for line in told(shop, tess)] == ["late: owner"]
    shop.do(*weekly)
    assert told(shop, tess) == []


def test_nobody_is_written_to_each_morning_about_what_the_round_asks_for(shop, bay, tess, clock):
    for unit in (IntervalUnit.DAY, IntervalUnit.USE):
        check = shop.check(unit=unit)
        shop.assess(shop.machine(area=bay), checks=[check])
    clock.at += days(30)
    assert told(shop, tess) == []


def test_an_examination_is_said_early_and_a_failed_check_is_left_to_its_review(
    shop, clock, bay, tess
):
    extraction = shop.check(basis=Basis.STATUTORY, every=14, unit=IntervalUnit.MONTH)
    machine = shop.machine("Sander", area=bay)
    shop.assess(machine, checks=[extraction])
    with shop.database.write() as session:
        session.add(
            CheckResult(
                check_id=extraction.id,
                machine_id=machine.id,
                outcome=Outcome.PASSED,
                reading="",
                note="",
                next_due_on=shop.now.date() + days(50),
                recorded_by_id=shop.chief.id,
                occurred_at=shop.now - days(370),
                recorded_at=shop.now - days(370),
            )
        )
    (line,) = told(shop, tess)
    assert (line.topic, line.stage) == (Topic.EXAMINATION, "60 days before")
    shop.do(extraction, machine, Outcome.FAILED)
    assert [line.topic for line in told(shop, tess)] == []


def test_a_check_that_was_never_done_is_late_from_the_day_it_was_set(shop, clock, bay, tess):
    check = shop.check(every=3, unit=IntervalUnit.MONTH)
    shop.assess(shop.machine("Kiln", area=bay), checks=[check])
    (line,) = told(shop, tess)
    assert line.stage == "late: owner"
    assert "Never done" in line.words


@pytest.mark.usefixtures("weekly")
def test_an_action_is_its_owners_by_name_and_otherwise_the_technicians(shop, clock, tess):
    with shop.database.write() as session:
        result = session.query(CheckResult).one()
        by = {"actor_id": tess.id, "now": shop.now, "due_on": shop.now.date()}
        hers = open_action(
            session, about=f"check_result:{result.id}", what="Mend it", owner="Ada Quill", **by
        )
        posts = open_action(
            session, about=f"check_result:{result.id}", what="Buy it", owner="Stores", **by
        )
        report = open_action(
            session, about="report:7", what="Ada cut her hand", owner="Stores", **by
        )
    ada = shop.person("Ada Quill")
    assert [line.subject for line in told(shop, ada)] == [f"action:{hers.id}"]
    subjects = {line.subject for line in told(shop, tess)}
    assert subjects == {f"action:{posts.id}"}, "of the check's area; the report's is not known"
    (of_report,) = [line for line in told(shop) if line.subject == f"action:{report.id}"][:1]
    assert "cut" not in of_report.title + of_report.words, "what was reported stays at home"
    clock.at += days(3)
    assert f"action:{hers.id}" in {line.subject for line in told(shop, tess)}
    with shop.database.write() as session:
        close_action(session, hers, verified="Seen", actor_id=tess.id, now=shop.now)
    assert f"action:{hers.id}" not in {line.subject for line in told(shop)}


def test_a_name_that_two_people_have_is_nobodys(shop, tess):
    with shop.database.write() as session:
        open_action(
            session,
            about="somewhere",
            what="Mend it",
            owner="Ada Quill",
            due_on=shop.now.date(),
            actor_id=tess.id,
            now=shop.now,
        )
    first = shop.person("Ada Quill")
    assert [line.topic for line in told(shop, first)] == [Topic.ACTION]
    second = shop.person("Ada Quill")
    assert told(shop, first) == told(shop, second) == []


def test_a_review_is_its_authors_and_ends_with_its_answer(shop, saw, clock, tess):
    with shop.database.write() as session:
        review = open_review(
            session,
            1,
            trigger=Trigger.REPORT,
            why="Ada cut her hand",
            due_on=shop.now.date() + days(5),
            key=None,
            actor_id=tess.id,
            now=shop.now,
        )
    assert review is not None
    (line,) = told(shop, shop.author)
    assert (line.topic, line.stage) == (Topic.REVIEW, "7 days before")
    assert "cut" not in line.words
    assert told(shop, tess) == []
    clock.at += days(9)
    assert [line.stage for line in told(shop, tess)] == ["late: technicians"]
    with shop.database.write() as session:
        close_review(session, review, outcome="None", actor_id=tess.id, now=shop.now)
    assert told(shop, tess) == []


def test_no_role_of_somebody_suspended_or_gone_makes_a_thing_theirs(shop, clock, weekly, tess):
    clock.at += days(9)
    assert told(shop, tess)
    with shop.database.write() as session:
        suspend(session, actor=shop.actor(shop.chief), person_id=tess.id, reason="x", now=shop.now)
    assert told(shop, tess) == []


# --- one digest, each once ---------------------------------------------------------------


def test_a_person_has_one_digest_on_a_day_and_the_rest_of_it_on_the_next(
    shop, clock, ada, basics, tess
):
    assert remind(shop) == 1
    assert remind(shop) == 0
    with shop.database.write() as session:
        open_action(
            session,
            about="somewhere",
            what="Mend it",
            owner="Ada Quill",
            due_on=shop.now.date() + days(7),
            actor_id=tess.id,
            now=shop.now,
        )
    assert remind(shop) == 0, "they had today's"
    clock.at += days(1)
    assert remind(shop) == 1
    assert [len(each.lines) for each in digests(shop)] == [1, 1]


def test_the_database_itself_refuses_the_same_stage_twice(shop, ada):
    remind(shop)
    (row,) = rows(shop, Reminder)
    again = Reminder(
        person_id=row.person_id,
        subject=row.subject,
        stage=row.stage,
        topic=row.topic,
        due_on=row.due_on,
        digest_id=row.digest_id,
        recorded_at=shop.now,
    )
    with pytest.raises(IntegrityError), shop.database.write() as session:
        session.add(again)


def test_two_workers_that_worked_the_same_out_write_it_once(shop, ada):
    first, second = planned(shop), planned(shop)
    assert put_on_record(shop.database, first, now=shop.now) == 1
    assert put_on_record(shop.database, second, now=shop.now) == 0
    assert len(rows(shop, Reminder)) == 1


def test_who_has_no_email_is_told_of_to_a_technician_and_nothing_is_on_record(shop, ada):
    with shop.database.write() as session:
        session.get_one(Person, ada.id).email = None
    found = planned(shop)
    assert [letter.to.id for letter in found.without_mail] == [ada.id]
    assert remind(shop) == 0
    assert rows(shop, Reminder) == []


def test_one_persons_page_says_the_same_as_the_whole(shop, ada, weekly, tess, clock):
    clock.at += days(9)
    for person in (ada, tess, shop.chief, shop.author):
        assert sorted(told(shop, person), key=str) == sorted(told(shop, person, only=True), key=str)
