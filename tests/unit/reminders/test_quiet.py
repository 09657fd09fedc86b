"""Nothing goes out in the quiet hours, whatever the clocks do, and nothing waits longer."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import example, given, settings
from hypothesis import strategies as st

from app.machines.hours import Days
from app.reminders.quiet import may_send, next_moment, reach, sending_hours
from app.site import Site

MINUTE = timedelta(minutes=1)
LONDON = ZoneInfo("Europe/London")
ZONES = st.sampled_from(
    ["UTC", "Europe/London", "America/New_York", "Australia/Lord_Howe", "America/Havana"]
)
TIMES = st.times().map(lambda time: f"{time:%H:%M}")
WEEKDAYS = st.lists(st.integers(0, 6), max_size=6, unique=True).map(tuple)
SITES = st.builds(Site, zone=ZONES, quiet_from=TIMES, quiet_until=TIMES, quiet_weekdays=WEEKDAYS)
MOMENTS = st.datetimes(datetime(2024, 1, 1), datetime(2030, 12, 31)).map(  # noqa: DTZ001
    lambda moment: moment.replace(tzinfo=UTC)
)
CLOSED = st.lists(
    st.builds(
        lambda first, length: Days(first_on=first, last_on=first + timedelta(days=length)),
        st.dates(date(2024, 1, 1), date(2030, 12, 31)),
        st.integers(0, 20),
    ),
    max_size=3,
)


def quiet_by_dateutil(site: Site, closed: list[Days], at: datetime) -> bool:
    """Say it again without the code: the wall clock as python-dateutil reads it."""
    wall = at.astimezone(tz.gettz(site.zone))
    now = f"{wall:%H:%M}"
    begins, ends = site.quiet_from, site.quiet_until
    over_midnight = begins > ends
    in_hours = now >= begins or now < ends if over_midnight else begins <= now < ends
    off = any(each.first_on <= wall.date() <= each.last_on for each in closed)
    return in_hours or off or wall.weekday() in site.quiet_weekdays


@settings(deadline=None)
@given(site=SITES, closed=CLOSED, at=MOMENTS)
# The hour that comes twice, and the one that is left out, in London and on Lord Howe.
@example(
    Site(zone="Europe/London", quiet_from="01:30", quiet_until="01:45"),
    [],
    datetime(2026, 10, 25, 1, 40, tzinfo=UTC),
)
@example(
    Site(zone="Europe/London", quiet_from="18:00", quiet_until="01:30"),
    [],
    datetime(2026, 3, 29, 1, 0, tzinfo=UTC),
)
@example(Site(zone="Australia/Lord_Howe"), [], datetime(2026, 4, 4, 15, 0, tzinfo=UTC))
def test_a_moment_is_quiet_when_the_wall_clock_of_dateutil_says_so(site, closed, at):
    assert may_send(sending_hours(site, closed), at, site.tz) != quiet_by_dateutil(site, closed, at)


@settings(deadline=None)
@given(site=SITES, closed=CLOSED, at=MOMENTS)
def test_what_waits_goes_out_in_a_moment_that_is_not_quiet_and_in_the_first_one(site, closed, at):
    hours = sending_hours(site, closed)
    moment = next_moment(hours, at, site.tz)
    assert moment is not None
    assert moment >= at
    assert not quiet_by_dateutil(site, closed, moment)
    if moment > at:
        assert quiet_by_dateutil(site, closed, at)
        assert quiet_by_dateutil(site, closed, moment - MINUTE), "a minute sooner it was quiet"


@pytest.mark.parametrize(
    ("at", "goes"),
    [
        # 18:00 to 08:00 and weekends, in London. Worked by hand.
        (datetime(2026, 3, 10, 9, 0, tzinfo=UTC), datetime(2026, 3, 10, 9, 0, tzinfo=UTC)),
        (datetime(2026, 3, 10, 0, 5, tzinfo=UTC), datetime(2026, 3, 10, 8, 0, tzinfo=UTC)),
        # From Friday evening to Monday morning; the clocks went forward on Sunday 29 March.
        (datetime(2026, 3, 27, 18, 0, tzinfo=UTC), datetime(2026, 3, 30, 7, 0, tzinfo=UTC)),
        # They went back on Sunday 25 October: 08:00 is 08:00 UTC again.
        (datetime(2026, 10, 23, 17, 0, tzinfo=UTC), datetime(2026, 10, 26, 8, 0, tzinfo=UTC)),
    ],
)
def test_over_a_weekend_on_which_the_clocks_change(at, goes):
    assert next_moment(sending_hours(Site(zone="Europe/London"), []), at, LONDON) == goes


def test_the_days_off_are_kept_and_what_falls_on_them_is_said_before():
    """From Thursday 24 December through Friday 1 January, then a weekend: Monday the 4th."""
    closed = [Days(first_on=date(2026, 12, 24), last_on=date(2027, 1, 1))]
    hours = sending_hours(Site(), closed)
    wednesday = date(2026, 12, 23)
    assert reach(hours, wednesday) == date(2027, 1, 3)
    assert reach(hours, date(2026, 12, 22)) == date(2026, 12, 22)
    evening = datetime(2026, 12, 23, 18, 0, tzinfo=UTC)
    assert next_moment(hours, evening, ZoneInfo("UTC")) == datetime(2027, 1, 4, 8, 0, tzinfo=UTC)


@settings(max_examples=25, deadline=None)  # each looks at every minute of two days
@given(site=SITES, closed=CLOSED, today=st.dates(date(2024, 1, 1), date(2030, 12, 31)))
def test_no_day_up_to_the_reach_has_a_moment_to_send_in_and_the_next_has(site, closed, today):
    hours, last = sending_hours(site, closed), reach(sending_hours(site, closed), today)

    def sends(day):
        begins = datetime(day.year, day.month, day.day, tzinfo=site.tz)
        return any(
            (begins + i * MINUTE).date() == day and may_send(hours, begins + i * MINUTE, site.tz)
            for i in range(0, 1441)
        )

    assert last >= today
    if last > today:
        assert not sends(last)
        assert not sends(today + timedelta(days=1))
