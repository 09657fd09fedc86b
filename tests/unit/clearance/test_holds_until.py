"""How long an answer holds if nothing new is recorded: never too long, and exactly so long."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.clearance.decision import Facts, Verdict, decide, reasons_of
from app.training.standing import Result
from tests.unit.clearance.drawing import many_examples
from tests.unit.clearance.sample import (
    BASICS,
    IN_ORDER,
    NOW,
    SAW,
    SAW_INDUCTION,
    TODAY,
    TOMORROW,
    at_the_saw,
    for_ada,
    sign_off,
    with_records,
)
from tests.unit.clearance.sites import sites

TICK = timedelta(microseconds=1)
LAST = datetime(9999, 12, 30, tzinfo=UTC)  # a day short of the last, so that every zone has it


def then(facts: Facts, at: datetime) -> Facts:
    return replace(facts, now=at)


@many_examples
@given(facts=sites(), part=st.fractions(0, 1, max_denominator=10**6))
def test_the_answer_is_the_same_at_every_moment_before_it(facts, part):
    answer = decide(facts)
    until = answer.holds_until or LAST
    span = (until - facts.now) // TICK - 1
    for at in (facts.now + int(span * part) * TICK, until - TICK):
        later = decide(then(facts, at))
        assert (later.verdict, later.reasons) == (answer.verdict, answer.reasons)
        assert later.holds_until == answer.holds_until


@many_examples
@given(facts=sites())
def test_the_reasons_are_others_at_that_very_moment(facts):
    answer = decide(facts)
    if answer.holds_until is not None:
        assert answer.holds_until > facts.now
        assert decide(then(facts, answer.holds_until)).reasons != answer.reasons


@many_examples
@given(facts=sites())
def test_walking_through_the_next_days_meets_no_change_before_it_was_foretold(facts):
    """A second witness: no list of turning points, only asking again every half hour.

    That it is not foretold too early is the test above: the reasons are others by then.
    """
    answer, step = decide(facts), timedelta(minutes=30)
    until = answer.holds_until or LAST
    for count in range(1, 24 * 2 * 4):
        at = facts.now + count * step
        if at >= until:
            return
        assert reasons_of(then(facts, at)) == answer.reasons


def test_an_answer_that_no_date_changes_holds_until_something_is_recorded():
    forever = replace(SAW, checks=())
    assert decide(replace(IN_ORDER, machine=forever)).holds_until is None


def test_a_daily_check_ends_the_answer_at_midnight():
    assert decide(IN_ORDER).holds_until == datetime(2026, 3, 11, tzinfo=UTC)


def test_a_membership_ends_the_answer_after_its_last_day():
    facts = replace(for_ada(ends_on=TODAY), machine=replace(SAW, checks=()))
    assert decide(facts).holds_until == datetime(2026, 3, 11, tzinfo=UTC)


def test_a_membership_that_begins_tomorrow_is_foretold():
    facts = replace(for_ada(starts_on=TOMORROW), machine=replace(SAW, checks=()))
    answer = decide(facts)
    assert answer.verdict is Verdict.NOT_CLEARED
    assert answer.holds_until == datetime(2026, 3, 11, tzinfo=UTC)
    assert decide(then(facts, answer.holds_until)).verdict is Verdict.CLEARED


def test_a_date_that_changes_nothing_does_not_end_the_answer():
    """The check runs out tonight, but it failed already: the reasons stay as they are."""
    failed = tuple(replace(check, failed=True) for check in SAW.checks)
    assert decide(at_the_saw(checks=failed)).holds_until is None


def test_a_prerequisite_that_runs_out_ends_the_answer():
    facts = with_records(BASICS, sign_off(expires_on=date(2026, 3, 31)))
    facts = replace(facts, machine=replace(SAW, checks=()))
    assert decide(facts).holds_until == datetime(2026, 4, 1, tzinfo=UTC)


def test_a_last_day_that_people_type_for_never_is_no_error_and_ends_nothing():
    facts = replace(
        with_records(SAW_INDUCTION, sign_off(expires_on=date.max)),
        machine=replace(SAW, checks=(replace(SAW.checks[0], due_on=date.max),)),
    )
    answer = decide(facts)
    assert (answer.verdict, answer.holds_until) == (Verdict.CLEARED, None)


def test_a_record_that_is_dated_ahead_is_foretold_to_the_second():
    ahead = sign_off(Result.REVOKED, id=2, occurred_at=NOW + timedelta(hours=2))
    facts = with_records(SAW_INDUCTION, sign_off(), ahead)
    assert decide(facts).holds_until == NOW + timedelta(hours=2)


# An expiry on day D is valid through D. The instants are worked by hand from the IANA time
# zone database: the first instant of D + 1, as the clocks of the place showed it.
DAY_ENDS = [
    ("UTC", date(2026, 3, 10), datetime(2026, 3, 11, 0, tzinfo=UTC)),
    ("Europe/London", date(2026, 1, 31), datetime(2026, 2, 1, 0, tzinfo=UTC)),
    ("Europe/London", date(2026, 6, 30), datetime(2026, 6, 30, 23, tzinfo=UTC)),  # UTC+1
    ("Europe/London", date(2026, 10, 25), datetime(2026, 10, 26, 0, tzinfo=UTC)),  # 25 hours
    ("Europe/Berlin", date(2028, 2, 29), datetime(2028, 2, 29, 23, tzinfo=UTC)),
    ("Asia/Kathmandu", date(2026, 3, 10), datetime(2026, 3, 10, 18, 15, tzinfo=UTC)),  # +5:45
    ("America/New_York", date(2026, 3, 8), datetime(2026, 3, 9, 4, tzinfo=UTC)),  # 23 hours
    # 00:00 of the next day does not exist: that day begins at 01:00.
    ("America/Sao_Paulo", date(2018, 11, 3), datetime(2018, 11, 4, 3, tzinfo=UTC)),
    ("Africa/Cairo", date(2023, 4, 27), datetime(2023, 4, 27, 22, tzinfo=UTC)),
    ("Asia/Beirut", date(2026, 3, 28), datetime(2026, 3, 28, 22, tzinfo=UTC)),
    # 24:00 was put back to 23:00 of the same day, so the day lasts one hour more.
    ("America/Sao_Paulo", date(2019, 2, 16), datetime(2019, 2, 17, 3, tzinfo=UTC)),
    # 00:00 comes twice: the day begins at the first.
    ("America/Havana", date(2026, 10, 31), datetime(2026, 11, 1, 4, tzinfo=UTC)),
    # 30 December 2011 never was in Samoa: 29 December was followed by the 31st.
    ("Pacific/Apia", date(2011, 12, 29), datetime(2011, 12, 30, 10, tzinfo=UTC)),
    ("Pacific/Apia", date(2011, 12, 30), datetime(2011, 12, 30, 10, tzinfo=UTC)),
    # 00:01 was put back to 23:01: what ran out at midnight does not come back.
    ("America/St_Johns", date(2010, 11, 6), datetime(2010, 11, 7, 2, 30, tzinfo=UTC)),
]


@pytest.mark.parametrize(("zone", "last_day", "ends"), DAY_ENDS)
def test_an_expiry_holds_through_its_day_and_not_one_instant_longer(zone, last_day, ends):
    long_ago = datetime(2001, 1, 1, tzinfo=UTC)
    facts = Facts(
        machine=replace(SAW, checks=()),
        person=replace(
            IN_ORDER.person,
            starts_on=date(2001, 1, 1),
            records={
                SAW_INDUCTION: (sign_off(occurred_at=long_ago, expires_on=last_day),),
                BASICS: (sign_off(occurred_at=long_ago),),
            },
        ),
        now=ends - timedelta(seconds=1),
        zone=ZoneInfo(zone),
    )
    assert decide(facts).verdict is Verdict.CLEARED
    assert decide(facts).holds_until == ends
    assert decide(then(facts, ends)).verdict is Verdict.NOT_CLEARED
    for minutes in (1, 59, 61, 24 * 60):
        later = decide(then(facts, ends + timedelta(minutes=minutes)))
        assert (later.verdict, later.holds_until) == (Verdict.NOT_CLEARED, None)


@pytest.mark.parametrize("zone", ["UTC", "Europe/London", "Asia/Tokyo", "America/New_York"])
def test_one_second_before_local_midnight_is_still_the_day(zone):
    place = ZoneInfo(zone)
    facts = replace(
        with_records(SAW_INDUCTION, sign_off(expires_on=date(2026, 7, 14))),
        machine=replace(SAW, checks=()),
        zone=place,
    )
    last_second = datetime(2026, 7, 14, 23, 59, 59, tzinfo=place)
    assert decide(then(facts, last_second)).verdict is Verdict.CLEARED
    midnight = datetime(2026, 7, 15, tzinfo=place)
    assert decide(then(facts, midnight)).verdict is Verdict.NOT_CLEARED
