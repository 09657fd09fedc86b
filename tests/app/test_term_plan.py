"""A term plan from the question to the published sessions, through the pages and the worker."""

from __future__ import annotations

import sys
from collections import Counter
from datetime import UTC, date, datetime, timedelta

import pytest

from app.machines.models import During, Staffing
from app.machines.opening import add_hours, close_days
from app.planning.plan import DAY
from app.sessions.asked import Who
from app.sessions.given import give
from app.sessions.models import PlaceWord, TermPlan
from app.sessions.propose import TERM_PLAN_JOB, handlers
from app.sessions.term_plan import ask_again
from app.training.standing import Result
from app.training.suspension import suspend
from tests.app.term import (
    MONDAY,
    asked,
    begun,
    cohort,
    hours,
    only_session,
    plan_of,
    proposal,
    proposed,
    published,
    room,
    task_of,
    words,
    worked,
)


def test_sixty_newcomers_all_have_a_place_or_a_reason(shop, visitor, database, clock):
    basics = shop.induction("Basics")
    laser = shop.induction("Laser", requires=[basics])
    technicians = [shop.technician(basics, laser) for _ in range(2)]
    bay, loft = room(shop, "Bay"), room(shop, "Loft")
    people = [shop.person(f"Newcomer {n:02}") for n in range(60)]
    group = cohort(shop, *people)
    for technician in technicians:
        hours(shop, technician, "09:00", "17:00", days=1)
    visitor.sign_in(technicians[0])
    form = {
        "name": "First week",
        "first_on": MONDAY.isoformat(),
        "last_on": (MONDAY + timedelta(days=4)).isoformat(),
        "who": f"cohort-{group.id}",
        "induction": [basics.id, laser.id],
        f"minutes_{basics.id}": "60",
        f"most_{basics.id}": "8",
        f"minutes_{laser.id}": "60",
        f"most_{laser.id}": "8",
        "room": [bay.id, loft.id],
    }
    answer = visitor.post("/plans/new", data=form)
    assert answer.status_code == 303, answer.text
    address = answer.location
    plan_id = int(address.rsplit("/", 1)[1])
    waiting = visitor.get(address)
    assert "Being proposed" in waiting.text
    assert 'http-equiv="refresh"' in waiting.text
    worked(database, clock)

    page = visitor.get(address).text
    found = proposal(shop, plan_id)
    assert len(found.needs) == 120
    placed = Counter((p, it.induction) for it in found.sessions for p in it.people)
    without = {(need.person, need.induction) for need in found.unplaced()}
    assert set(placed.values()) == {1}
    assert placed.keys() | without == {(p.id, i.id) for p in people for i in (basics, laser)}
    assert not placed.keys() & without
    # 16 sessions of 8 fit into 2 technicians' 8 hours: 15 are needed for everybody.
    assert len(placed) == 120
    assert '<b class="number">120</b> of 120 needs have a session.' in page
    for person in people:
        assert person.name in page

    version = plan_of(shop, plan_id).version
    answer = visitor.post(f"{address}/publish", data={"version": version})
    assert answer.status_code == 303, answer.text
    rows = published(shop)
    assert len(rows) == len(found.sessions)
    assert Counter(word for _, _, word in words(shop)) == {PlaceWord.BOOKED.value: 120}
    assert rows[0].starts_at == datetime(2026, 3, 16, 9, tzinfo=UTC)

    again = visitor.post(f"{address}/publish", data={"version": version})
    assert again.status_code == 303
    assert len(published(shop)) == len(rows)
    assert len(words(shop)) == 120


# --- who needs what ----------------------------------------------------------------------


def needs(shop, plan_id):
    return {(need.person, need.induction) for need in proposal(shop, plan_id).needs}


def test_a_plan_is_for_those_who_lack_it_by_the_record(shop):
    basics, bay = shop.induction("Basics"), room(shop)
    technician = shop.technician(basics)
    hours(shop, technician)
    holds, lacks, revoked, supervised = (shop.person() for _ in range(4))
    shop.hold(holds, basics)
    shop.hold(revoked, basics, Result.REVOKED)
    shop.hold(supervised, basics, Result.SUPERVISED)
    group = cohort(shop, holds, lacks, revoked, supervised)
    plan_id = proposed(shop, asked(group, [bay], basics))
    expected = {(it.id, basics.id) for it in (lacks, revoked, supervised)}
    assert needs(shop, plan_id) == expected
    assert set(only_session(shop, plan_id).people) == {it.id for it in (lacks, revoked, supervised)}


def test_a_plan_for_those_who_lapse_is_for_nobody_else(shop, clock):
    """Valid through the last day: what ends on the day by which it is needed has not lapsed."""
    basics, bay = shop.induction("Basics", months=12), room(shop)
    technician = shop.technician(basics)
    hours(shop, technician)
    by = MONDAY + timedelta(days=3)

    def ends(day):
        return datetime(day.year - 1, day.month, day.day, 9, tzinfo=UTC)

    last_week, before, on_the_day, _lacks = (shop.person() for _ in range(4))
    shop.hold(last_week, basics, at=ends(date(2026, 3, 9)))
    shop.hold(before, basics, at=ends(by - timedelta(days=1)))
    shop.hold(on_the_day, basics, at=ends(by))
    plan_id = proposed(shop, asked(None, [bay], basics, who=Who.LAPSING, by=by))
    assert needs(shop, plan_id) == {(before.id, basics.id)}


def test_those_who_left_or_are_suspended_are_not_planned(shop):
    basics, bay = shop.induction("Basics"), room(shop)
    technician = shop.technician(basics)
    hours(shop, technician)
    gone = shop.person(ends_on=MONDAY - timedelta(days=1))
    bad, good = shop.person("Bad"), shop.person("Good")
    with shop.database.write() as session:
        suspend(session, actor=shop.actor(shop.author), person_id=bad.id, reason="x", now=shop.now)
    group = cohort(shop, gone, bad, good)
    plan_id = proposed(shop, asked(group, [bay], basics))
    assert needs(shop, plan_id) == {(good.id, basics.id)}
    assert proposal(shop, plan_id).left_out == ("One person is suspended and not planned.",)


def test_a_prerequisite_that_is_not_planned_is_named(shop, visitor):
    basics = shop.induction("Basics")
    laser, bay = shop.induction("Laser", requires=[basics]), room(shop)
    technician = shop.technician(basics, laser)
    hours(shop, technician)
    ada = shop.person("Ada Quill")
    plan_id = proposed(shop, asked(cohort(shop, ada), [bay], laser))
    page = visitor.sign_in(technician).get(f"/plans/{plan_id}").text
    assert "“Laser” comes after “Basics”, which they do not hold" in page


def test_somebody_who_starts_later_is_told_apart(shop, visitor):
    basics, bay = shop.induction("Basics"), room(shop)
    technician = shop.technician(basics)
    hours(shop, technician)
    late = shop.person("Late Arrival", starts_on=MONDAY + timedelta(days=2))
    plan_id = proposed(shop, asked(cohort(shop, late), [bay], basics))
    page = visitor.sign_in(technician).get(f"/plans/{plan_id}").text
    assert "Starts here on 18 Mar, after the first day of this plan" in page
    assert proposal(shop, plan_id).sessions == ()


# --- what there is to give it with -----------------------------------------------------------


def test_only_who_could_sign_it_off_gives_it(shop, visitor):
    """A session that nobody may sign off afterwards clears nobody."""
    basics, bay = shop.induction("Basics"), room(shop)
    lapsed = shop.technician(basics)
    shop.hold(lapsed, basics, Result.REVOKED, at=shop.now)
    hours(shop, lapsed)
    plan_id = proposed(shop, asked(cohort(shop, shop.person()), [bay], basics))
    page = visitor.sign_in(lapsed).get(f"/plans/{plan_id}").text
    assert "None of the technicians in this plan may give “Basics”." in page
    assert "their own “Basics” is not current" in page


def test_days_off_and_opening_hours_and_published_sessions_are_kept(shop, database):
    basics, other, bay = shop.induction("Basics"), shop.induction("Other"), room(shop)
    technician = shop.technician(basics, other)
    hours(shop, technician, "08:00", "18:00", days=3)
    by = {"actor_id": shop.chief.id, "now": shop.now}
    with database.write() as session:
        add_hours(
            session,
            bay,
            weekdays=[0, 1, 2],
            opens="10:00",
            closes="14:00",
            staffing=Staffing.STAFFED,
            during=During.ALWAYS,
            **by,
        )
        close_days(session, area_id=None, name="Holiday", first_on=MONDAY, last_on=MONDAY, **by)
        give(
            session,
            induction_id=other.id,
            area=bay,
            technician_id=technician.id,
            starts_at=datetime(2026, 3, 17, 10, tzinfo=UTC),
            ends_at=datetime(2026, 3, 17, 12, 30, tzinfo=UTC),
            places=8,
            people=[],
            **by,
        )
    plan_id = proposed(shop, asked(cohort(shop, shop.person()), [bay], basics))
    it = only_session(shop, plan_id)
    # Monday is off, and on Tuesday the room and the technician are free at 12:30.
    assert (it.start, it.end) == (DAY + 12 * 60 + 30, DAY + 13 * 60 + 30)


def test_somebody_in_another_session_then_is_not_planned_into_two(shop, database, visitor):
    basics, other = shop.induction("Basics"), shop.induction("Other")
    bay, loft = room(shop, "Bay"), room(shop, "Loft")
    technician, second = shop.technician(basics), shop.technician(other)
    hours(shop, technician, "09:00", "10:00")
    ada = shop.person("Ada Quill")
    with database.write() as session:
        give(
            session,
            induction_id=other.id,
            area=loft,
            technician_id=second.id,
            starts_at=datetime(2026, 3, 16, 9, tzinfo=UTC),
            ends_at=datetime(2026, 3, 16, 10, tzinfo=UTC),
            places=8,
            people=[ada.id],
            actor_id=shop.chief.id,
            now=shop.now,
        )
    plan_id = proposed(shop, asked(cohort(shop, ada), [bay], basics))
    assert proposal(shop, plan_id).sessions == ()
    page = visitor.sign_in(technician).get(f"/plans/{plan_id}").text
    assert "Ada Quill is in “Other” at the same time." in page
    assert "Proved best" not in page


def test_who_has_a_place_already_is_not_planned_again(shop, database):
    basics, bay = shop.induction("Basics"), room(shop)
    technician = shop.technician(basics)
    hours(shop, technician)
    ada, bo = shop.person("Ada Quill"), shop.person("Bo")
    with database.write() as session:
        give(
            session,
            induction_id=basics.id,
            area=bay,
            technician_id=technician.id,
            starts_at=datetime(2026, 3, 25, 9, tzinfo=UTC),
            ends_at=datetime(2026, 3, 25, 10, tzinfo=UTC),
            places=8,
            people=[ada.id],
            actor_id=shop.chief.id,
            now=shop.now,
        )
    plan_id = proposed(shop, asked(cohort(shop, ada, bo), [bay], basics))
    assert needs(shop, plan_id) == {(bo.id, basics.id)}


def test_hours_that_are_wanting_are_told_with_what_would_help(shop, visitor):
    basics, bay = shop.induction("Basics"), room(shop, seats=2)
    technician = shop.technician(basics)
    hours(shop, technician, "09:00", "10:00")
    people = [shop.person() for _ in range(5)]
    plan_id = proposed(shop, asked(cohort(shop, *people), [bay], basics, most=2))
    page = visitor.sign_in(technician).get(f"/plans/{plan_id}").text
    assert '<b class="number">2</b> of 5 needs have a session.' in page
    assert "Which hour more would help most" in page
    assert "for 2 more in" in page
    # Three groups of two for five people, of an hour each; one hour is offered.
    assert "<td>3</td><td>3.0 h</td><td>1.0 h</td>" in page


# --- the worker --------------------------------------------------------------------------


def test_a_proposal_that_was_overtaken_is_not_kept(shop, visitor, database, clock):
    basics, bay = shop.induction("Basics"), room(shop)
    technician = shop.technician(basics)
    hours(shop, technician)
    group = cohort(shop, shop.person())
    wanted = asked(group, [bay], basics)
    plan_id = begun(shop, wanted)
    stale = {"plan": plan_id, "version": plan_of(shop, plan_id).version}
    with database.write() as session:
        ask_again(
            session,
            session.get_one(TermPlan, plan_id),
            name="Again",
            first_on=MONDAY,
            last_on=MONDAY,
            asked=wanted,
            seen=stale["version"],
            actor_id=shop.author.id,
            now=shop.now,
        )
    handlers(database, clock)[TERM_PLAN_JOB](task_of(stale))
    assert plan_of(shop, plan_id).proposed is None
    worked(database, clock)
    kept = plan_of(shop, plan_id)
    assert len(only_session(shop, plan_id).people) == 1
    # A worker that was killed after keeping it does the job again: nothing changes.
    handlers(database, clock)[TERM_PLAN_JOB](task_of(stale | {"version": stale["version"] + 1}))
    assert plan_of(shop, plan_id).version == kept.version


def test_without_the_solver_a_page_says_so_and_sessions_are_put_in_by_hand(
    shop, visitor, database, clock, monkeypatch
):
    # What Python does for a package that is not installed: the import raises.
    monkeypatch.setitem(sys.modules, "ortools.sat.python", None)
    basics, bay = shop.induction("Basics"), room(shop)
    technician = shop.technician(basics)
    ada = shop.person("Ada Quill")
    plan_id = proposed(shop, asked(cohort(shop, ada), [bay], basics))
    visitor.sign_in(technician)
    page = visitor.get(f"/plans/{plan_id}").text
    assert "Proposing a plan needs OR-Tools, which is not installed here." in page
    assert "pip install" in page
    session = {
        "version": plan_of(shop, plan_id).version,
        "induction": basics.id,
        "day": MONDAY.isoformat(),
        "opens": "09:00",
        "closes": "10:00",
        "room": bay.id,
        "technician": technician.id,
        "places": 8,
    }
    answer = visitor.post(f"/plans/{plan_id}/sessions/new", data=session)
    assert answer.status_code == 303
    people = {"version": plan_of(shop, plan_id).version, "person": [ada.id], "to": 1}
    assert visitor.post(f"{answer.location}/people", data=people).status_code == 303
    version = plan_of(shop, plan_id).version
    assert visitor.post(f"/plans/{plan_id}/publish", data={"version": version}).status_code == 303
    assert [word for *_, word in words(shop)] == ["booked"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"name": ""}, "Give the plan a name."),
        ({"induction": []}, "Choose at least one induction."),
        ({"room": []}, "Choose at least one room."),
        ({"last_on": "2026-03-01"}, "The last day comes before the first."),
        ({"last_on": "2027-03-01"}, "A plan has at most 190 days."),
        ({"by": "2026-06-01"}, "lies outside the plan"),
        ({"who": "cohort-999"}, "Choose whose needs are planned."),
        ({"first_on": "soon"}, "is not a date"),
        ({"minutes": "0"}, "lasts from 5 to 720 minutes"),
        ({"least": "9"}, "its least is no more than its most"),
        ({"most": "many"}, "is not a whole number"),
    ],
)
def test_what_cannot_be_planned_is_told_and_the_form_keeps_what_was_typed(
    shop, visitor, change, told
):
    basics, bay = shop.induction("Basics"), room(shop)
    visitor.sign_in(shop.author)
    form = {
        "name": "Autumn",
        "first_on": MONDAY.isoformat(),
        "last_on": MONDAY.isoformat(),
        "who": "lacking",
        "induction": [basics.id],
        "room": [bay.id],
    }
    sized = ("minutes", "most", "least")
    form |= {f"{k}_{basics.id}" if k in sized else k: v for k, v in change.items()}
    answer = visitor.post("/plans/new", data=form)
    assert answer.status_code == 422
    assert told in answer.text
    if "name" not in change:
        assert 'value="Autumn"' in answer.text
