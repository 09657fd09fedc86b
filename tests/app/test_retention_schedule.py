"""The schedule: the law’s least, the site’s own, and the days that they come to."""

from __future__ import annotations

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from app.errors import Refused
from app.retention.schedule import Counted, Then, kinds, span, term
from assessments.limits import REGIMES


def test_every_kind_says_from_when_until_when_and_why():
    for kind in kinds().values():
        assert kind.title, kind
        assert kind.what, kind
        assert kind.source, kind
        assert kind.status in {"confirmed", "from memory", "common practice"}
        assert (kind.span is None) == (kind.counted is Counted.NEVER) == (kind.then is Then.KEEP)
        assert set(kind.law) <= set(REGIMES)
        assert not kind.minors or kind.minors_source


# What the laws ask, held against the tables of general reference that the schedule was made from.
# COSHH 2002, regulation 9(4): five years; RIDDOR 2013, regulation 12: three years; 29 CFR 1904.33:
# five years after the end of the calendar year; 29 CFR 1910.1020(d): thirty years. All from memory
# but RIDDOR, which was read in print.
@pytest.mark.parametrize(
    ("kind", "regime", "least"),
    [
        ("checks", "gb", "5 years"),
        ("reports", "gb", "3 years"),
        ("reports", "us", "6 years"),
        ("loans", "us", "30 years"),
    ],
)
def test_no_record_is_kept_for_less_than_the_law_asks(kind, regime, least):
    found = kinds()[kind]
    assert str(found.law[regime].span) == least
    assert term(found, regime, None).span >= span(least)
    shorter = term(found, regime, span("30 days"))
    assert shorter.span == span(least)
    assert shorter.source == found.law[regime].source


def test_without_a_regime_the_longest_holds():
    assert term(kinds()["loans"], None, None).span == span("30 years")
    assert term(kinds()["loans"], "gb", None).span == span("6 years")


def test_a_site_may_keep_longer():
    found = term(kinds()["checks"], "gb", span("10 years"))
    assert (str(found.span), found.source) == ("10 years", "Set by the site")


def test_a_kind_that_is_kept_has_no_term_whatever_is_set():
    assert term(kinds()["log"], "gb", span("1 years")).span is None


@pytest.mark.parametrize(
    "words", ["", "6", "0 years", "six years", "-1 days", "6 weeks", "101 years"]
)
def test_what_is_no_length_of_time_is_refused(words):
    with pytest.raises(Refused):
        span(words)


@given(
    st.dates(date(1990, 1, 1), date(2090, 1, 1)),
    st.integers(1, 60),
    st.sampled_from(["years", "months", "days"]),
)
def test_a_term_ends_on_the_day_that_the_calendar_gives(day, count, unit):
    """`dateutil` is the second witness for years and months."""
    held = span(f"{count} {unit}")
    assert held.after(day) == day + relativedelta(**{unit: count})
    last = held.before(day)
    assert held.after(last) <= day
    assert held.after(date.fromordinal(last.toordinal() + 1)) > day
