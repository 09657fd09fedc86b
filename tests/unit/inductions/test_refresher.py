"""The rule of the shorter path, and its arithmetic against dateutil's."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from app.inductions.refresher import LastPass, Path, last_day, path_offered
from app.training.path import last_pass
from app.training.standing import Record, Result

DAYS = st.dates(date(2000, 1, 1), date(2100, 12, 31))
AUGUST = date(2026, 8, 31)
NOON = datetime(2026, 3, 10, 12, tzinfo=UTC)


def passed(expires_on=AUGUST, *, alone=True, counts=True):
    return LastPass(alone=alone, counts=counts, expires_on=expires_on)


def offered(last, months=6, today=AUGUST):
    return path_offered(last, months=months, today=today)


@given(DAYS, st.integers(0, 60))
def test_the_last_day_agrees_with_dateutil(day, months):
    assert last_day(day, months) == day + relativedelta(months=months)


@pytest.mark.parametrize("day", [date(2027, 8, 31), date(2028, 8, 31), date(2026, 1, 31)])
@pytest.mark.parametrize("months", [0, 1, 6, 13])
def test_at_the_end_of_a_month_it_closes_the_day_after(day, months):
    last = day + relativedelta(months=months)
    assert offered(passed(day), months, last) is Path.REFRESHER
    assert offered(passed(day), months, last + timedelta(days=1)) is Path.FULL


def test_it_is_open_before_a_pass_runs_out_too():
    assert offered(passed(), today=AUGUST - timedelta(days=90)) is Path.REFRESHER


@pytest.mark.parametrize(
    "last",
    [
        None,
        passed(alone=False),
        passed(counts=False),
        passed(None),
    ],
)
def test_everybody_else_takes_the_full_path(last):
    assert offered(last) is Path.FULL


def test_without_a_shorter_path_there_is_none():
    assert offered(passed(), months=None) is Path.FULL


@given(st.booleans(), st.booleans(), st.none() | DAYS, DAYS, st.integers(0, 60))
def test_a_longer_window_never_closes_what_a_shorter_one_opened(alone, counts, ends, today, n):
    last = LastPass(alone=alone, counts=counts, expires_on=ends)
    if path_offered(last, months=n, today=today) is Path.REFRESHER:
        assert path_offered(last, months=n + 1, today=today) is Path.REFRESHER


def record(number, result=Result.ALONE, *, revision=2, hours=0, ends=AUGUST):
    return Record(
        id=number,
        result=result,
        revision_number=revision,
        occurred_at=NOON - timedelta(hours=hours),
        expires_on=ends,
    )


@pytest.mark.parametrize("result", [Result.REVOKED, Result.NOT_YET, Result.SUPERVISED])
def test_what_came_after_a_pass_takes_the_shorter_path_away(result):
    found = last_pass([record(1, hours=5), record(2, result)], counts_from=1, now=NOON)
    assert found is not None
    assert not found.alone


def test_of_two_at_one_instant_the_worse_decides_and_the_future_does_not_exist():
    both = [record(1), record(2, Result.NOT_YET)]
    found = last_pass(both, counts_from=1, now=NOON)
    assert found is not None
    assert not found.alone
    later = record(3, Result.REVOKED, hours=-1)
    again = last_pass([record(1), later], counts_from=1, now=NOON)
    assert again == passed()
    assert last_pass([later], counts_from=1, now=NOON) is None


def test_a_pass_under_a_wording_that_counts_no_more_is_none():
    found = last_pass([record(1, revision=1)], counts_from=2, now=NOON)
    assert found == passed(counts=False)
