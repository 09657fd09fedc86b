"""When an area is open, by the wall clock: across changes of the clocks, days off and terms.

The changes of the clocks are those of the IANA time zone database (tzdata), worked by hand.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given

from app.machines.hours import (
    Calendar,
    Days,
    Open,
    Stretch,
    changes,
    clock_changes,
    minutes,
    next_opening,
    opening,
    stretch,
)
from tests.unit.clearance.around import a_calendar
from tests.unit.clearance.drawing import (
    CLOCK_CHANGES,
    a_moment,
    many_examples,
    many_together,
    throws,
)

LONDON, UTC_ZONE = ZoneInfo("Europe/London"), ZoneInfo("UTC")
MONDAY, TUESDAY, SUNDAY = 0, 1, 6
TICK = timedelta(microseconds=1)


def hours(weekday: int, opens: str, closes: str, *, staffed=True, in_term=None) -> Stretch:
    found = stretch(weekday=weekday, opens=opens, closes=closes, staffed=staffed, in_term=in_term)
    assert found is not None
    return found


def week(*stretches: Stretch, **more) -> Calendar:
    return Calendar(stretches=stretches, **more)


def at(written: str, zone: ZoneInfo = UTC_ZONE) -> datetime:
    return datetime.fromisoformat(written).replace(tzinfo=zone).astimezone(UTC)


OFFICE = week(*(hours(day, "09:00", "17:30") for day in range(5)))


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("2026-03-10T08:59:59", Open.CLOSED),
        ("2026-03-10T09:00", Open.STAFFED),
        ("2026-03-10T17:29:59", Open.STAFFED),
        ("2026-03-10T17:30", Open.CLOSED),
        ("2026-03-14T12:00", Open.CLOSED),  # a Saturday
    ],
)
def test_an_area_opens_at_its_first_minute_and_closes_at_its_last(written, expected):
    assert opening(OFFICE, at(written), UTC_ZONE) is expected


def test_a_stretch_until_24_00_goes_on_over_midnight_into_the_next():
    night = week(hours(MONDAY, "18:00", "24:00", staffed=False), hours(TUESDAY, "00:00", "02:00"))
    assert opening(night, at("2026-03-09T23:59:59"), UTC_ZONE) is Open.UNSTAFFED
    assert opening(night, at("2026-03-10T00:00"), UTC_ZONE) is Open.STAFFED
    assert opening(night, at("2026-03-10T02:00"), UTC_ZONE) is Open.CLOSED


@pytest.mark.parametrize(
    ("opens", "closes"),
    [("17:00", "09:00"), ("09:00", "09:00"), ("9:00", "17:00"), ("09:00", "24:01"), ("", "24:00")],
)
def test_hours_that_cannot_be_read_open_nothing(opens, closes):
    assert stretch(weekday=1, opens=opens, closes=closes, staffed=True, in_term=None) is None


@pytest.mark.parametrize("weekday", [-1, 7])
def test_a_day_that_no_week_has_opens_nothing(weekday):
    assert (
        stretch(weekday=weekday, opens="00:00", closes="24:00", staffed=True, in_term=None) is None
    )


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("00:00", 0),
        ("09:30", 570),
        ("24:00", 1440),
        ("24:01", None),
        ("09:60", None),
        ("²²:00", None),
    ],
)
def test_a_wall_time_is_read_as_minutes(written, expected):
    assert minutes(written) == expected


def test_of_hours_that_contradict_one_another_the_stricter_hold():
    both = week(hours(TUESDAY, "09:00", "17:00"), hours(TUESDAY, "12:00", "14:00", staffed=False))
    assert opening(both, at("2026-03-10T11:59"), UTC_ZONE) is Open.STAFFED
    assert opening(both, at("2026-03-10T12:00"), UTC_ZONE) is Open.UNSTAFFED
    assert opening(both, at("2026-03-10T14:00"), UTC_ZONE) is Open.STAFFED


def test_days_off_close_through_their_last_day():
    off = replace(OFFICE, closed=(Days(first_on=date(2026, 3, 10), last_on=date(2026, 3, 11)),))
    open_days = [
        day
        for day in range(9, 14)
        if opening(off, datetime(2026, 3, day, 12, tzinfo=UTC), UTC_ZONE) is not Open.CLOSED
    ]
    assert open_days == [9, 12, 13]


def test_hours_of_a_season_hold_in_it_and_nowhere_where_no_term_is_on_record():
    seasons = week(
        hours(TUESDAY, "09:00", "21:00", in_term=True),
        hours(TUESDAY, "10:00", "16:00", in_term=False, staffed=False),
        terms=(Days(first_on=date(2026, 1, 12), last_on=date(2026, 3, 20)),),
    )
    in_term, between = at("2026-03-10T11:00"), at("2026-03-24T11:00")
    assert opening(seasons, in_term, UTC_ZONE) is Open.STAFFED
    assert opening(seasons, between, UTC_ZONE) is Open.UNSTAFFED
    unknown = replace(seasons, terms=())
    assert {opening(unknown, when, UTC_ZONE) for when in (in_term, between)} == {Open.CLOSED}


# --- changes of the clocks ---------------------------------------------------------------


def test_a_stretch_of_the_hour_that_is_left_out_in_spring_does_not_open():
    """29 March 2026: at 01:00 UTC the clocks of London go from 01:00 to 02:00."""
    early = week(hours(SUNDAY, "01:15", "01:45"))
    sunday = at("2026-03-29T00:00")
    found = [t for t, _ in changes(early, LONDON, after=sunday, days=8)]
    # Only a week later, by then at UTC+1.
    assert found == [at("2026-04-05T00:15"), at("2026-04-05T00:45")]


def test_a_stretch_that_is_half_left_out_opens_when_the_clocks_change():
    early = week(hours(SUNDAY, "01:30", "03:00"))
    found = list(changes(early, LONDON, after=at("2026-03-29T00:00"), days=1))
    assert found == [
        (at("2026-03-29T01:00"), Open.STAFFED),  # the wall clock jumps to 02:00
        (at("2026-03-29T02:00"), Open.CLOSED),
    ]


def test_a_stretch_of_the_hour_that_comes_twice_in_autumn_opens_twice():
    """25 October 2026: at 01:00 UTC the clocks of London go from 02:00 back to 01:00."""
    early = week(hours(SUNDAY, "01:15", "01:45"))
    found = [t for t, _ in changes(early, LONDON, after=at("2026-10-24T23:00"), days=1)]
    assert found == [
        at("2026-10-25T00:15"),
        at("2026-10-25T00:45"),
        at("2026-10-25T01:15"),
        at("2026-10-25T01:45"),
    ]


def test_opening_hours_stay_at_the_same_wall_time_all_year():
    summer = datetime(2026, 7, 14, 9, tzinfo=LONDON)
    winter = datetime(2026, 12, 15, 9, tzinfo=LONDON)
    for morning in (summer, winter):
        before, then = morning - TICK, morning
        assert opening(OFFICE, before.astimezone(UTC), LONDON) is Open.CLOSED
        assert opening(OFFICE, then.astimezone(UTC), LONDON) is Open.STAFFED


def test_a_midnight_that_does_not_exist_opens_the_day_when_the_clocks_change():
    """4 November 2018 in Sao Paulo: at 03:00 UTC 00:00 became 01:00."""
    zone = ZoneInfo("America/Sao_Paulo")
    sunday = week(hours(SUNDAY, "00:00", "24:00"))
    found = list(changes(sunday, zone, after=at("2018-11-04T00:00"), days=2))
    assert found == [(at("2018-11-04T03:00"), Open.STAFFED), (at("2018-11-05T02:00"), Open.CLOSED)]


@pytest.mark.parametrize(("zone", "change"), CLOCK_CHANGES)
def test_the_instant_of_a_change_is_found_to_the_second(zone, change):
    assert list(clock_changes(change - timedelta(hours=7), ZoneInfo(zone))) == [change]


def test_a_day_without_a_change_has_none():
    assert list(clock_changes(at("2026-03-10T00:00"), LONDON)) == []


# --- what changes when -------------------------------------------------------------------


@many_together
@given(throws())
def test_every_change_is_found_and_nothing_else(dice):
    """The witness walks in steps of a minute: every mark is a whole minute of the wall clock."""
    now, zone = a_moment(dice)
    now = now.replace(second=0, microsecond=0)
    calendar = a_calendar(dice, now.astimezone(zone).date())
    found = list(changes(calendar, zone, after=now, days=2))
    walked = [now + timedelta(minutes=step) for step in range(2 * 24 * 60 + 1)]
    seen = [
        (later, opening(calendar, later, zone))
        for earlier, later in pairwise(walked)
        if opening(calendar, later, zone) is not opening(calendar, earlier, zone)
    ]
    assert [(_ceil(when), how) for when, how in found] == seen


def _ceil(when: datetime) -> datetime:
    """Return the first whole minute at or after: a zone may change its clocks at 02:30:36."""
    whole = when.replace(second=0, microsecond=0)
    return whole if whole == when else whole + timedelta(minutes=1)


@many_examples
@given(throws())
def test_a_change_is_exact_to_the_last_instant_before_it(dice):
    now, zone = a_moment(dice)
    calendar = a_calendar(dice, now.astimezone(zone).date())
    known, begun = opening(calendar, now, zone), now
    for when, how in changes(calendar, zone, after=now):
        assert when > begun
        assert opening(calendar, when - TICK, zone) is known
        assert opening(calendar, when, zone) is how
        assert how is not known
        known, begun = how, when


def test_a_closed_area_says_when_it_opens_again():
    friday = at("2026-03-13T18:00")
    assert next_opening(OFFICE, UTC_ZONE, after=friday) == at("2026-03-16T09:00")
    assert next_opening(week(), UTC_ZONE, after=friday) is None


def test_the_last_days_there_are_are_no_error():
    assert next_opening(week(), UTC_ZONE, after=datetime(9999, 12, 30, tzinfo=UTC)) is None
