"""Minutes on the wall against instants, through the two odd nights of a year.

The Summer Time Order 2002 (SI 2002/262): in the United Kingdom summer time begins at 01:00
Greenwich mean time on the last Sunday of March, and ends so on the last Sunday of October. In
2026 these are 29 March and 25 October.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import BadInput
from app.planning.plan import DAY, Span
from app.sessions.wall import clock_of, day_of, instant, is_shown, minute_at, read_clock, without

LONDON = ZoneInfo("Europe/London")
NINE = 9 * 60


@pytest.mark.parametrize(
    ("first_on", "at"),
    [
        (date(2026, 3, 28), datetime(2026, 3, 28, 9, tzinfo=UTC)),
        (date(2026, 3, 29), datetime(2026, 3, 29, 8, tzinfo=UTC)),
        (date(2026, 10, 24), datetime(2026, 10, 24, 8, tzinfo=UTC)),
        (date(2026, 10, 25), datetime(2026, 10, 25, 9, tzinfo=UTC)),
    ],
)
def test_nine_on_the_wall_is_nine_on_the_wall_on_either_side_of_the_change(first_on, at):
    assert instant(first_on, NINE, LONDON) == at
    assert minute_at(first_on, at, LONDON) == NINE
    day_before = date.fromordinal(first_on.toordinal() - 1)
    assert instant(day_before, DAY + NINE, LONDON) == at


def test_the_hour_that_is_left_out_is_never_shown():
    spring = date(2026, 3, 29)
    assert [hour for hour in range(24) if not is_shown(spring, hour * 60, LONDON)] == [1]
    autumn = date(2026, 10, 25)
    assert all(is_shown(autumn, hour * 60, LONDON) for hour in range(24))


@given(st.integers(0, 20 * DAY - 1))
def test_a_minute_that_is_shown_comes_back(minute):
    first_on = date(2026, 3, 20)
    if is_shown(first_on, minute, LONDON):
        assert minute_at(first_on, instant(first_on, minute, LONDON), LONDON) == minute
    assert read_clock(clock_of(minute)) == minute % DAY
    assert (day_of(first_on, minute) - first_on).days == minute // DAY


@pytest.mark.parametrize("written", ["", "9:00", "24:01", "12:60", "1200", "12:00 ", "١٢:٠٠"])
def test_what_is_no_time_is_told(written):
    with pytest.raises(BadInput, match="is not a time such as 09:00"):
        read_clock(written)


spans = st.builds(
    lambda start, length: Span(start, start + length), st.integers(0, 30), st.integers(1, 9)
)


@given(st.lists(spans, max_size=4), st.lists(spans, max_size=4))
def test_what_is_left_are_the_minutes_that_were_not_taken(open_, taken):
    def minutes(of):
        return {minute for span in of for minute in range(span.start, span.end)}

    left = without(tuple(open_), taken)
    assert minutes(left) == minutes(open_) - minutes(taken)
    assert all(span.start < span.end for span in left)
