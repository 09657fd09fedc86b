"""Months, weeks and days, checked against print and against python-dateutil.

The rule of months in law: Regulation (EEC, Euratom) No 1182/71, Article 3(2)(c): a period
in weeks, months or years ends with the last hour of the day that has the same name or
number; "if, in a period expressed in months or in years, the day on which it should expire
does not occur in the last month, the period shall end with the expiry of the last hour of
the last day of that month". ISO 8601 leaves the length of a month to where it starts.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from dateutil.relativedelta import relativedelta
from dateutil.rrule import DAILY, MONTHLY, WEEKLY, rrule
from hypothesis import given, settings
from hypothesis import strategies as st

from app.dates import add_months, day_begins, local_date
from app.hazards.due import IntervalUnit, good_through, interval_words, is_due, next_due
from app.hazards.terms import EXTRACTION, PRESETS
from app.inductions.published import Published
from app.people.register import adult_day
from app.training.signoff import expiry
from app.training.standing import Record, Result, State, standing

many_examples = settings(max_examples=500, deadline=None)
DATES = st.dates(date(1900, 1, 1), date(2199, 12, 31))

PRINTED = [
    # python-dateutil 2.9 documentation, "relativedelta examples": months of different
    # length, and "the logic for years is the same, even on leap years".
    (date(2003, 9, 17), 1, date(2003, 10, 17)),
    (date(2003, 1, 27), 1, date(2003, 2, 27)),
    (date(2003, 1, 31), 1, date(2003, 2, 28)),
    (date(2003, 1, 31), 2, date(2003, 3, 31)),
    (date(2000, 2, 28), 12, date(2001, 2, 28)),
    (date(2000, 2, 29), 12, date(2001, 2, 28)),
    (date(1999, 2, 28), 12, date(2000, 2, 28)),
    (date(1999, 3, 1), 12, date(2000, 3, 1)),
    (date(2001, 2, 28), -12, date(2000, 2, 28)),
    (date(2001, 3, 1), -12, date(2000, 3, 1)),
    # W3C XML Schema Part 2: Datatypes, appendix E.2: (2000-03-30 + P1M) = 2000-04-30 and
    # 2000-03-31 + P1M = the 30th of April. (Some copies print the year 2001 there.)
    (date(2000, 3, 30), 1, date(2000, 4, 30)),
    (date(2000, 3, 31), 1, date(2000, 4, 30)),
]


@pytest.mark.parametrize(("day", "months", "printed"), PRINTED)
def test_months_are_added_as_printed(day, months, printed):
    assert add_months(day, months) == printed


@pytest.mark.parametrize(
    ("year", "last"), [(2026, 28), (2028, 29), (2000, 29), (2100, 28), (1900, 28)]
)
def test_a_month_after_31_january_is_the_last_day_of_february(year, last):
    """The Gregorian leap years: 2000 is one, 1900 and 2100 are not."""
    assert add_months(date(year, 1, 31), 1) == date(year, 2, last)


@many_examples
@given(day=DATES, months=st.integers(-600, 600))
def test_months_are_added_as_dateutil_adds_them(day, months):
    assert add_months(day, months) == day + relativedelta(months=months)


@many_examples
@given(day=DATES, months=st.integers(0, 120))
def test_months_end_as_regulation_1182_71_says(day, months):
    """Article 3(2)(c), read without the code: the same number, or the last day there is."""
    ends = add_months(day, months)
    assert (ends.year * 12 + ends.month) - (day.year * 12 + day.month) == months
    if ends.day != day.day:
        assert ends.day < day.day
        assert (ends + timedelta(days=1)).day == 1


# --- when a check is due again -----------------------------------------------------------


@pytest.mark.parametrize(
    ("examined", "due"),
    [
        (date(2025, 1, 31), date(2026, 3, 31)),
        (date(2025, 12, 31), date(2027, 2, 28)),
        (date(2026, 12, 31), date(2028, 2, 29)),
        (date(2026, 3, 10), date(2027, 5, 10)),
    ],
)
def test_local_exhaust_ventilation_is_examined_every_14_months(examined, due):
    """COSHH 2002 (UK) regulation 9(2)(a): at least once every 14 months. Worked by hand."""
    assert next_due(examined, every=14, unit=IntervalUnit.MONTH) == due
    assert examined + relativedelta(months=+14) == due


@many_examples
@given(day=DATES, months=st.sampled_from((1, 3, 6, 12, 14, 26)))
def test_an_examination_is_due_on_the_day_that_dateutil_gives(day, months):
    """26 months: the usual longest interval of a pressure system is longer; any number will do."""
    assert next_due(day, every=months, unit=IntervalUnit.MONTH) == day + relativedelta(
        months=+months
    )


@many_examples
@given(day=DATES, weeks=st.integers(1, 60))
def test_weeks_end_on_the_same_weekday(day, weeks):
    """Regulation 1182/71 Article 3(2)(c): the same day of the week; and RFC 5545 by dateutil."""
    due = next_due(day, every=weeks, unit=IntervalUnit.WEEK)
    assert due.weekday() == day.weekday()
    assert due == list(rrule(WEEKLY, interval=weeks, count=2, dtstart=day))[1].date()


@many_examples
@given(day=DATES, every=st.integers(1, 60))
def test_a_check_every_so_many_days_of_use_holds_until_the_day_before_the_next(day, every):
    """A daily check is good for its own day alone (common practice: before first use)."""
    due = next_due(day, every=every, unit=IntervalUnit.DAY)
    again = list(rrule(DAILY, interval=every, count=2, dtstart=day))[1].date()
    assert due == again - timedelta(days=1)


@many_examples
@given(day=DATES.filter(lambda day: day.day <= 28), months=st.integers(1, 60))
def test_months_agree_with_a_calendar_rule_where_every_month_has_the_day(day, months):
    """RFC 5545 skips a month that lacks the day, so the days 1 to 28 are compared."""
    again = list(rrule(MONTHLY, interval=months, count=2, dtstart=day))[1].date()
    assert next_due(day, every=months, unit=IntervalUnit.MONTH) == again


STEP = {
    IntervalUnit.DAY: lambda every: relativedelta(days=+every) + relativedelta(days=-1),
    IntervalUnit.WEEK: lambda every: relativedelta(weeks=+every),
    IntervalUnit.MONTH: lambda every: relativedelta(months=+every),
}


@many_examples
@given(day=DATES, preset=st.sampled_from([each for each in PRESETS if each[1] in STEP]))
def test_every_interval_that_is_offered_is_due_on_the_day_that_dateutil_gives(day, preset):
    every, unit = preset
    assert next_due(day, every=every, unit=unit) == day + STEP[unit](every)


@many_examples
@given(
    day=DATES,
    before=st.sampled_from([each for each in PRESETS if each[1] in STEP]),
    after=st.sampled_from([each for each in PRESETS if each[1] in STEP]),
)
def test_of_two_terms_the_earlier_day_of_dateutil_holds(day, before, after):
    """A shorter interval holds at once, and a longer one puts off nothing that was told."""
    told, again = (day + STEP[unit](every) for every, unit in (before, after))
    counted = good_through(told, day, every=after[0], unit=after[1])
    assert counted == min(told, again)


@given(day=DATES)
def test_a_check_before_each_use_holds_for_its_own_day_and_loses_none_by_its_terms(day):
    assert next_due(day, every=1, unit=IntervalUnit.USE) == day
    assert good_through(day, day, every=1, unit=IntervalUnit.USE) == day


def test_the_intervals_of_extraction_are_those_of_the_regulations():
    """COSHH 2002 (Great Britain), regulation 9(2)(a) and Schedule 4, column 2."""
    assert {(offer.every, offer.unit) for offer in EXTRACTION} == {
        (14, IntervalUnit.MONTH),
        (6, IntervalUnit.MONTH),  # metal dry-ground for more than 12 hours in any week
        (1, IntervalUnit.MONTH),  # castings cleaned by blasting
    }
    assert all("Health Regulations 2002" in offer.source for offer in EXTRACTION)


@many_examples
@given(day=DATES, every=st.integers(1, 10), unit=st.sampled_from(list(STEP)))
def test_a_round_asks_for_a_check_on_its_last_day_and_from_then_on(day, every, unit):
    through = next_due(day, every=every, unit=unit)
    for ahead in (-1, 0, 1, 30):
        today = through + timedelta(days=ahead)
        asked = is_due(good_through=through, done_on=day, today=today)
        assert asked == (ahead > 0 or (ahead == 0 and today != day))
    assert is_due(good_through=None, done_on=None, today=day)


@pytest.mark.parametrize(
    ("every", "unit", "said"),
    [
        (1, IntervalUnit.USE, "before each use"),
        (1, IntervalUnit.DAY, "each day of use"),
        (1, IntervalUnit.WEEK, "every week"),
        (1, IntervalUnit.MONTH, "every month"),
        (2, IntervalUnit.DAY, "every 2 days"),
        (3, IntervalUnit.WEEK, "every 3 weeks"),
        (14, IntervalUnit.MONTH, "every 14 months"),
    ],
)
def test_intervals_are_said_as_people_say_them(every, unit, said):
    assert interval_words(every, unit) == said


# --- how long somebody is cleared --------------------------------------------------------


def taught(months):
    return Published(
        id=1,
        title="Table saw",
        revision_id=1,
        number=1,
        content="",
        validity_months=months,
        validity_basis="",
        items=(),
        requires=(),
    )


@many_examples
@given(day=DATES, months=st.integers(1, 120), result=st.sampled_from(sorted(Result)))
def test_a_clearance_runs_out_with_the_day_that_dateutil_gives(day, months, result):
    grants = result in (Result.ALONE, Result.SUPERVISED)
    expected = day + relativedelta(months=+months) if grants else None
    assert expiry(taught(months), result, day) == expected
    assert expiry(taught(None), result, day) is None


@pytest.mark.parametrize(
    ("signed_off", "months", "runs_out"),
    [
        # Worked by hand from Regulation 1182/71, article 3(2)(c): the same number, or the last.
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2028, 2, 29), 48, date(2032, 2, 29)),
        (date(2026, 10, 31), 1, date(2026, 11, 30)),
        (date(2096, 2, 29), 48, date(2100, 2, 28)),
    ],
)
def test_a_clearance_given_at_a_months_end_runs_out_at_one(signed_off, months, runs_out):
    assert expiry(taught(months), Result.ALONE, signed_off) == runs_out
    assert signed_off + relativedelta(months=+months) == runs_out


# Zones and days on which their clocks changed (tzdata), and ordinary ones.
CHANGING = st.sampled_from(
    [
        ("Europe/London", date(2026, 3, 29)),
        ("Europe/London", date(2026, 10, 25)),
        ("America/New_York", date(2026, 3, 8)),
        ("America/New_York", date(2026, 11, 1)),
        ("Australia/Lord_Howe", date(2026, 4, 5)),
        ("America/Havana", date(2026, 3, 8)),  # at midnight: the day has no 00:00
        ("UTC", date(2026, 6, 1)),
    ]
)


@many_examples
@given(
    place=CHANGING,
    days=st.integers(-1, 1),
    hours=st.integers(-30, 30),
    minutes=st.integers(0, 59),
)
def test_a_clearance_counts_through_its_day_by_the_wall_clock_that_dateutil_reads(
    place, days, hours, minutes
):
    """Over a change of the clocks the last day is an hour shorter or longer, and still a day."""
    zone, changed_on = place
    expires_on = changed_on + timedelta(days=days)
    at = datetime.combine(changed_on, time(12), UTC) + timedelta(hours=hours, minutes=minutes)
    record = Record(
        id=1,
        result=Result.ALONE,
        revision_number=1,
        occurred_at=at - timedelta(days=9),
        expires_on=expires_on,
    )
    found = standing([record], counts_from=1, now=at, today=local_date(at, ZoneInfo(zone)))
    counts = at.astimezone(tz.gettz(zone)).date() <= expires_on
    assert found is (State.CURRENT if counts else State.EXPIRED)


@many_examples
@given(born_on=st.dates(date(1930, 1, 1), date(2025, 12, 31)))
def test_somebody_is_18_on_the_day_of_dateutil_or_one_later_for_a_29_february(born_on):
    turns = adult_day(born_on, date(2026, 1, 1))
    by_dateutil = born_on + relativedelta(years=+18)
    leap_day = (born_on.month, born_on.day) == (2, 29) and by_dateutil.day == 28
    assert turns == by_dateutil + timedelta(days=int(leap_day))


# --- where a day begins ------------------------------------------------------------------

# First instants of a day, from the IANA time zone database (tzdata), worked by hand.
BEGINS = [
    ("Europe/London", date(2026, 3, 29), datetime(2026, 3, 29, 0, tzinfo=UTC)),
    ("Europe/London", date(2026, 3, 30), datetime(2026, 3, 29, 23, tzinfo=UTC)),
    ("America/Sao_Paulo", date(2018, 11, 4), datetime(2018, 11, 4, 3, tzinfo=UTC)),
    ("Africa/Cairo", date(2023, 4, 28), datetime(2023, 4, 27, 22, tzinfo=UTC)),
    ("Asia/Beirut", date(2026, 3, 29), datetime(2026, 3, 28, 22, tzinfo=UTC)),
    ("Atlantic/Azores", date(2026, 10, 25), datetime(2026, 10, 25, 0, tzinfo=UTC)),
    ("Pacific/Apia", date(2011, 12, 31), datetime(2011, 12, 30, 10, tzinfo=UTC)),
    ("America/St_Johns", date(2010, 11, 7), datetime(2010, 11, 7, 2, 30, tzinfo=UTC)),
]


@pytest.mark.parametrize(("zone", "day", "begins"), BEGINS)
def test_a_day_begins_when_the_clocks_of_the_place_say_so(zone, day, begins):
    place = ZoneInfo(zone)
    assert day_begins(day, place) == begins
    assert local_date(begins, place) >= day
    assert local_date(begins - timedelta(microseconds=1), place) < day


# From 1995 to 2035, to the second.
INSTANTS = st.integers(788_918_400, 2_051_222_400).map(lambda s: datetime.fromtimestamp(s, UTC))

# Zones whose clocks have never gone back across midnight in these years.
STEADY = st.sampled_from(
    ["UTC", "Europe/London", "Africa/Cairo", "America/Havana", "Asia/Kathmandu", "Pacific/Apia"]
)


@many_examples
@given(zone=STEADY, at=INSTANTS)
def test_the_day_at_the_site_is_the_day_that_dateutil_reads(zone, at):
    assert local_date(at, ZoneInfo(zone)) == at.astimezone(tz.gettz(zone)).date()


@many_examples
@given(
    zone=st.sampled_from([zone for zone, _day, _begins in BEGINS]),
    day=st.dates(date(1995, 1, 1), date(2035, 1, 1)),
)
def test_a_day_begins_at_the_first_instant_that_bears_its_date_or_a_later_one(zone, day):
    place = ZoneInfo(zone)
    begins = day_begins(day, place)
    assert local_date(begins, place) >= day
    assert local_date(begins - timedelta(microseconds=1), place) < day


# Clocks that were put back across midnight (tzdata): the zone and the instant of the change.
PUT_BACK = [
    ("America/St_Johns", datetime(2010, 11, 7, 2, 31, tzinfo=UTC)),  # 00:01 to 23:01
    ("Antarctica/Casey", datetime(2010, 3, 4, 15, tzinfo=UTC)),  # 02:00 to 23:00
    ("America/Sao_Paulo", datetime(2019, 2, 17, 2, tzinfo=UTC)),  # 24:00 to 23:00
]


@many_examples
@given(
    change=st.sampled_from(PUT_BACK),
    minutes=st.integers(-240, 240),
    more=st.timedeltas(timedelta(0), timedelta(hours=6)),
)
def test_the_day_at_the_site_never_goes_back(change, minutes, more):
    place, at = ZoneInfo(change[0]), change[1] + timedelta(minutes=minutes)
    assert local_date(at + more, place) >= local_date(at, place)


@pytest.mark.parametrize(("zone", "put_back"), PUT_BACK[:2])
def test_a_day_that_has_begun_is_not_taken_back_with_the_clocks(zone, put_back):
    place, tick = ZoneInfo(zone), timedelta(seconds=1)
    assert put_back.astimezone(place).date() < (put_back - tick).astimezone(place).date()
    assert local_date(put_back, place) == local_date(put_back - tick, place)
