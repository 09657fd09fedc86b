"""Reviews open by themselves, once for each cause, and block nothing."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import pairwise

import pytest
from sqlalchemy import select

from app.calculations.attached import attach
from app.calculations.limits import choose_regime
from app.hazards.models import Hazard, Scope
from app.jobs.daily import DAILY_JOB, Daily
from app.jobs.models import Job
from app.jobs.worker import work_once
from app.machines.areas import area_or_404
from app.machines.edit import move
from app.machines.models import Machine
from app.people.models import Role
from app.risk_assessments.approval import PRINT_JOB
from app.risk_assessments.models import Review, Trigger
from app.risk_assessments.reviews import (
    MOST_PER_WEEK,
    close_review,
    open_due,
    open_review,
    open_reviews,
)
from app.rounds.daily import handlers
from assessments.calculate import calculate
from assessments.describe import describe
from assessments.document.frozen import freeze_finding
from assessments.methods import catalogue
from tests.app.upkeep import machine_codes
from tests.app.walk import changed, dump
from tests.factories import NOW, SITE, ZONE


@pytest.fixture
def bay(shop):
    return shop.area("Metal bay")


@pytest.fixture
def saw(shop, bay):
    return shop.machine("Panel saw", area=bay)


def reviews(database):
    with database.read() as session:
        return open_reviews(session)


def ask(shop, database, stale=None):
    with database.write() as session:
        more = {} if stale is None else {"stale": stale}
        return open_due(session, now=shop.now, site=SITE, **more)


def test_a_failed_check_opens_one_review_of_each_assessment_that_relies_on_it(
    shop, visitor, bay, saw, database
):
    shared = shop.check(scope=Scope.CONTROL)
    shop.assess(saw, checks=[shared])
    shop.assess(shop.machine(area=bay), checks=[shared])
    shop.assess(shop.machine(area=bay))
    visitor.sign_in(shop.author)
    address = f"/machines/{saw.id}/checks/{shared.id}"
    for _ in range(2):  # one that fails again while the review is open asks for no second one
        visitor.post(address, data={"outcome": "failed", "note": "No draught"})
        shop.clock.at += timedelta(minutes=1)
    found = reviews(database)
    assert [review.trigger for review in found] == [Trigger.CHECK_FAILED] * 2
    assert {review.assessment_id for review in found} == {1, 2}
    assert {review.due_on for review in found} == {NOW.date() + timedelta(days=14)}
    assert {review.recorded_by_id for review in found} == {shop.author.id}
    assert shared.title in visitor.get(f"/reviews/{found[0].id}").text


def test_a_failure_of_one_unit_opens_none_for_its_twin(shop, visitor, bay, saw, database):
    guard, twin = shop.check(), shop.machine(area=bay)
    first = shop.draft(saw, checks=[guard])
    shop.approve(first)
    shop.assess(twin, checks=[guard])
    visitor.sign_in(shop.author)
    form = {"outcome": "failed", "note": "Gap"}
    visitor.post(f"/machines/{saw.id}/checks/{guard.id}", data=form)
    assert [review.assessment_id for review in reviews(database)] == [first.id]


def test_a_failure_in_a_round_opens_one_too(shop, visitor, bay, saw, database):
    guard = shop.check()
    shop.assess(saw, checks=[guard])
    visitor.sign_in(shop.author)
    unit = f"{guard.id}-{saw.id}"
    visitor.post(
        f"/areas/{bay.id}/round",
        data={
            "key": "key-of-a-round-0001",
            "line": unit,
            f"mark-{unit}": "failed",
            f"words-{unit}": "Gap",
        },
    )
    assert [review.trigger for review in reviews(database)] == [Trigger.CHECK_FAILED]


def test_a_check_that_passes_opens_none(shop, visitor, saw, database):
    guard = shop.check()
    shop.assess(saw, checks=[guard])
    visitor.sign_in(shop.author)
    visitor.post(f"/machines/{saw.id}/checks/{guard.id}", data={"outcome": "passed"})
    assert reviews(database) == []


def test_after_it_was_closed_the_next_failure_opens_another(shop, visitor, saw, database):
    guard = shop.check()
    shop.assess(saw, checks=[guard])
    visitor.sign_in(shop.author)
    address = f"/machines/{saw.id}/checks/{guard.id}"
    visitor.post(address, data={"outcome": "failed", "note": "Gap"})
    (first,) = reviews(database)
    closing = f"/reviews/{first.id}/close"
    form = {"came_of": "no change needed", "outcome": "The guard is the right one"}
    assert visitor.post(closing, data=form | {"outcome": ""}).status_code == 422
    assert visitor.post(closing, data=form).status_code == 303
    assert visitor.post(closing, data=form).status_code == 409
    shop.clock.at += timedelta(minutes=1)
    visitor.post(address, data={"outcome": "failed", "note": "Gap again"})
    (second,) = reviews(database)
    assert second.id != first.id


def test_a_review_is_closed_by_who_writes_or_approves_there(shop, visitor, saw, database):
    draft = shop.draft(saw)
    shop.approve(draft)
    with database.write() as session:
        review = open_review(
            session,
            draft.id,
            trigger=Trigger.ASKED,
            why="Asked",
            due_on=NOW.date(),
            key=None,
            actor_id=shop.author.id,
            now=shop.now,
        )
    form = {"came_of": "no change needed", "outcome": "Seen"}
    for person in (
        shop.person(roles=[Role.TECHNICIAN], area=shop.area("Wood bay")),
        shop.person(roles=[Role.AUDITOR]),
        shop.person(),
    ):
        visitor.sign_in(person)
        before = dump(database)
        answer = visitor.post(f"/reviews/{review.id}/close", data=form)
        assert answer.status_code == 403
        assert changed(before, dump(database)) == set()
    visitor.sign_in(shop.person(roles=[Role.APPROVER]))
    answer = visitor.post(f"/reviews/{review.id}/close", data=form)
    assert answer.status_code == 303
    assert visitor.get("/reviews/999").status_code == 404


# --- by themselves -----------------------------------------------------------------------------


def test_one_cause_opens_one_review(shop, saw, database):
    draft = shop.draft(saw)
    shop.approve(draft)
    opened = []
    for _ in range(2):
        with database.write() as session:
            opened.append(
                open_review(
                    session,
                    draft.id,
                    trigger=Trigger.REPORT,
                    why="A near miss",
                    due_on=NOW.date(),
                    key="report:1",
                    actor_id=None,
                    now=shop.now,
                )
            )
    assert opened[0] is not None
    assert opened[1] is None
    assert len(reviews(database)) == 1


def test_a_review_date_opens_one_thirty_days_before_and_leaves_the_machine_as_it_is(
    shop, saw, database
):
    shop.assess(saw)
    for days, expected in ((330, 0), (335, 1), (336, 0), (400, 0)):
        shop.clock.at = NOW + timedelta(days=days)
        assert ask(shop, database) == expected, days
    (review,) = reviews(database)
    assert (review.trigger, review.due_on) == (Trigger.DATE, date(2027, 3, 10))
    assert machine_codes(shop, saw) == []


def test_what_is_not_in_force_is_not_reviewed(shop, saw, database):
    shop.draft(saw)
    shop.clock.at = NOW + timedelta(days=400)
    assert ask(shop, database) == 0


def test_a_machine_that_was_moved_opens_one(shop, saw, database):
    shop.assess(saw)
    other = shop.area("Wood bay")
    shop.clock.at += timedelta(hours=1)
    with database.write() as session:
        move(
            session,
            session.get_one(Machine, saw.id),
            area_or_404(session, other.id),
            actor_id=shop.author.id,
            now=shop.now,
        )
    assert ask(shop, database) == 1
    assert ask(shop, database) == 0
    (review,) = reviews(database)
    assert review.trigger is Trigger.MACHINE
    assert "Panel saw stands in another area now" in review.why


def bound_by_a_list():
    """Return a method, and inputs, whose finding is another one where a printed list holds."""
    for method in catalogue().values():
        example = describe(method)["examples"][0]
        plain, held = calculate(method.id, example), calculate(method.id, example, regime="eu")
        if freeze_finding(plain) != freeze_finding(held):
            return method.id, example
    raise AssertionError("no method asks a printed list")


def with_numbers(shop, bay, many):
    """Approve so many assessments, each with a number beside its hazard line."""
    method, example = bound_by_a_list()
    for _ in range(many):
        draft = shop.draft(shop.machine(area=bay))
        with shop.database.write() as session:
            hazard = session.execute(
                select(Hazard).where(Hazard.assessment_id == draft.id)
            ).scalar_one()
            found = calculate(method, example)
            attach(session, hazard, found, actor_id=shop.author.id, now=shop.now)
        shop.approve(draft)


def all_stale(_session, rows):
    return {row.id: "The limit is another one now." for row in rows}


def test_a_changed_limit_opens_reviews_spread_over_weeks_and_blocks_nothing(shop, bay, database):
    many = 2 * MOST_PER_WEEK + 1
    with_numbers(shop, bay, many)
    assert ask(shop, database, all_stale) == many
    assert ask(shop, database, all_stale) == 0
    found = reviews(database)
    assert {review.trigger for review in found} == {Trigger.LIMIT}
    per_day = Counter(review.due_on for review in found)
    assert max(per_day.values()) == MOST_PER_WEEK
    days = sorted(per_day)
    assert all((after - before).days >= 7 for before, after in pairwise(days))
    assert days[0] >= NOW.date() + timedelta(days=28)


def test_what_comes_later_is_put_behind_what_is_open_already(shop, bay, database):
    with_numbers(shop, bay, MOST_PER_WEEK)
    ask(shop, database, all_stale)
    shop.clock.at += timedelta(days=2)
    with_numbers(shop, bay, 1)
    assert ask(shop, database, all_stale) == 1
    per_week = Counter(review.due_on for review in reviews(database))
    assert sorted(per_week.values()) == [1, MOST_PER_WEEK]


def test_numbers_that_still_stand_open_none(shop, bay, database):
    with_numbers(shop, bay, 1)
    assert ask(shop, database, lambda _session, _rows: {}) == 0


def test_the_day_s_job_is_asked_for_once_and_finds_what_another_limit_changed(
    shop, bay, database, clock
):
    with_numbers(shop, bay, 1)
    with database.write() as session:
        choose_regime(session, "eu", actor_id=shop.chief.id, now=shop.now)
    for _ in range(2):
        Daily(database, clock, ZONE)()  # two workers ask for one job between them
    assert len(jobs(database)) == 1
    work = {**handlers(database, clock), PRINT_JOB: lambda _payload: None}
    while work_once(database, clock, work):
        pass
    assert [(job.error, job.done_at is None) for job in jobs(database)] == [("", False)]
    assert [review.trigger for review in reviews(database)] == [Trigger.LIMIT]


def test_a_worker_that_runs_for_days_asks_each_day(database, clock):
    daily = Daily(database, clock, ZONE)
    for _ in range(3):
        daily()
        daily()
        clock.at += timedelta(days=1)
    assert len(jobs(database)) == 3


def jobs(database):
    with database.read() as session:
        return session.execute(select(Job).where(Job.kind == DAILY_JOB)).scalars().all()


def test_the_row_that_closes_a_review_is_none_itself(shop, visitor, saw, database):
    draft = shop.draft(saw)
    shop.approve(draft)
    by = {"actor_id": shop.author.id, "now": shop.now}
    with database.write() as session:
        review = open_review(
            session,
            draft.id,
            trigger=Trigger.ASKED,
            why="Asked",
            due_on=NOW.date(),
            key=None,
            **by,
        )
        close_review(session, review, outcome="Seen", **by)
    with database.read() as session:
        ending = session.execute(select(Review.id).where(Review.ends_id.is_not(None))).scalar_one()
    assert visitor.sign_in(shop.author).get(f"/reviews/{ending}").status_code == 404
    assert "closed" in visitor.get(f"/reviews/{review.id}").text
