"""Stages are reached once, in order, and what is late reaches more people and never fewer."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import DAILY, rrule
from hypothesis import given, settings
from hypothesis import strategies as st

from app.reminders.stages import LAPSES_AFTER, Ladder, Rung, Told, ahead, since, worth_saying

DAY = timedelta(days=1)
DATES = st.dates(date(2020, 1, 1), date(2040, 12, 31))
STAGES = st.lists(st.integers(0, 90), max_size=6, unique=True).map(tuple)
LADDERS = st.builds(Ladder, technicians_after=st.integers(1, 40), approver_after=st.integers(1, 40))
SOME = st.frozensets(st.integers(1, 9), max_size=3)
TOLD = st.builds(Told, owners=SOME, technicians=SOME, approvers=SOME)


def days_of(first: date, last: date) -> list[date]:
    return [moment.date() for moment in rrule(DAILY, dtstart=first, until=last)]


@pytest.mark.parametrize(
    ("today", "stage"),
    [
        (date(2026, 3, 6), None),
        (date(2026, 3, 7), 28),
        (date(2026, 3, 27), 28),
        (date(2026, 3, 28), 7),
        (date(2026, 4, 3), 7),
        (date(2026, 4, 4), 0),
        (date(2026, 4, 5), None),
    ],
)
def test_by_hand_28_7_and_0_days_before_4_april(today, stage):
    assert ahead(date(2026, 4, 4), today=today, reach=today, days=(28, 7, 0)) == stage


@settings(deadline=None)
@given(due_on=DATES, days=STAGES)
def test_each_stage_before_a_day_holds_in_one_stretch_that_begins_when_dateutil_says(due_on, days):
    seen = []
    for today in days_of(due_on - timedelta(days=100), due_on + timedelta(days=3)):
        stage = ahead(due_on, today=today, reach=today, days=days)
        if stage is not None and (not seen or seen[-1][0] != stage):
            seen.append((stage, today))
    assert [stage for stage, _ in seen] == sorted(days, reverse=True)
    assert all(first == due_on - relativedelta(days=stage) for stage, first in seen)


@settings(deadline=None)
@given(due_on=DATES, days=STAGES, gone=st.integers(0, 90), quiet=st.integers(0, 30))
def test_what_begins_on_a_quiet_day_is_said_before_it(due_on, days, gone, quiet):
    today = due_on - timedelta(days=gone)
    reach = today + timedelta(days=quiet)
    stage = ahead(due_on, today=today, reach=reach, days=days)
    held = [
        ahead(due_on, today=day, reach=day, days=days) for day in days_of(today, min(reach, due_on))
    ]
    assert stage == held[-1], "the closest of all that begin before something can be sent again"


@settings(deadline=None)
@given(due_on=DATES, days=STAGES, gone=st.integers(1, 400))
def test_nothing_is_said_ahead_of_a_day_that_is_past(due_on, days, gone):
    today = due_on + timedelta(days=gone)
    assert ahead(due_on, today=today, reach=today, days=days) is None


@settings(deadline=None)
@given(began_on=DATES, days=STAGES)
def test_the_stages_after_a_day_come_in_order_and_the_last_one_lapses(began_on, days):
    seen = []
    for today in days_of(began_on - DAY, began_on + timedelta(days=130)):
        stage = since(began_on, today=today, days=days)
        if stage is not None and (not seen or seen[-1] != stage):
            seen.append(stage)
        if stage is not None:
            assert began_on + timedelta(days=stage) <= today
            assert today < began_on + timedelta(days=stage) + LAPSES_AFTER
    assert seen == sorted(days)


@settings(deadline=None)
@given(due_on=DATES, ladder=LADDERS, told=TOLD)
def test_what_is_late_climbs_and_nobody_who_was_told_is_left_out_again(due_on, ladder, told):
    before, people = -1, frozenset()
    for today in days_of(due_on - DAY, due_on + timedelta(days=60)):
        rung = ladder.rung(due_on, today)
        assert (rung is None) == (today <= due_on), "it may be done through its day"
        if rung is None:
            continue
        assert rung >= before
        now = told.at(rung)
        # Who is told in another's stead, while nobody nearer is there, stays told as well.
        assert people <= now
        before, people = rung, now
    assert before is Rung.APPROVER


@settings(deadline=None)
@given(ladder=LADDERS, told=TOLD, rung=st.sampled_from(Rung))
def test_what_is_late_is_told_to_somebody_while_anybody_is_there(ladder, told, rung):
    anybody = told.owners | told.technicians | told.approvers
    assert bool(told.at(rung)) == bool(anybody)
    assert told.at(rung) <= anybody
    if rung is Rung.APPROVER:
        assert told.at(rung) == anybody


@settings(deadline=None)
@given(due_on=DATES, ladder=LADDERS)
def test_the_approver_is_told_with_the_technicians_or_after_them(due_on, ladder):
    first = {}
    for today in days_of(due_on, due_on + timedelta(days=60)):
        for rung in Rung:
            reached = ladder.rung(due_on, today)
            if reached is not None and reached >= rung:
                first.setdefault(rung, today)
    assert first[Rung.OWNER] <= first[Rung.TECHNICIANS] <= first[Rung.APPROVER]


@settings(deadline=None)
@given(days=STAGES, interval=st.integers(1, 400))
def test_nothing_that_comes_round_is_due_soon_just_after_it_was_done(days, interval):
    assert all(each * 2 < interval for each in worth_saying(days, interval))
    assert set(worth_saying(days, interval)) <= set(days)


def test_a_weekly_check_is_said_on_its_last_day_alone():
    """Worked by hand: seven days before the next one is the day on which it was done."""
    assert worth_saying((7, 0), 7) == (0,)
    assert worth_saying((60, 28, 7, 0), 14 * 30) == (60, 28, 7, 0)
