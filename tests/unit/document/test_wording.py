"""Words and figures of the print."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from assessments.document.wording import (
    day,
    ended,
    gauge,
    in_order,
    judged,
    matrix,
    moment,
    number,
    quantity,
    sentence,
    shared_cautions,
    signs_shown,
    step_scores,
    unit_words,
    value_words,
)
from assessments.finding import Quantity
from assessments.rating import FIVE_BY_FIVE, Rating
from tests.unit.document.sample import SAMPLE
from tests.unit.document.sample_hazards import FUME, HAZARDS, NOISE


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (2.181818, "2.182"),
        (208.0, "208"),
        (100.0, "100"),
        (84.75061263, "84.75"),
        (9999.96, "10000"),
        (1234567.0, "1235000"),
        (0.00012344, "0.0001234"),
        (0.0000123, "1.23 × 10^−5"),
        (6.02214076e23, "6.022 × 10^23"),
        (-3.5, "−3.5"),
    ],
)
def test_a_number_is_shown_to_four_significant_digits(value: float, words: str) -> None:
    assert number(value) == words


def test_a_ratio_is_shown_to_three_significant_digits() -> None:
    assert number(0.010489, 3) == "0.0105"


def test_a_date_is_read_the_same_in_every_country() -> None:
    assert day(date(2026, 3, 4)) == "4 March 2026"


def test_a_time_is_shown_with_its_zone() -> None:
    assert moment(datetime(2026, 3, 4, 8, 5, tzinfo=UTC)) == "4 March 2026, 08:05 UTC"
    summer = timezone(timedelta(hours=2), "CEST")
    assert moment(datetime(2026, 7, 4, 8, 5, tzinfo=summer)) == "4 July 2026, 08:05 CEST"


def test_a_row_of_readings_is_written_on_one_line() -> None:
    rows = [{"level_dba": 91.25, "hours": 2}, {"level_dba": 80, "hours": None}]
    assert value_words(rows) == "level dba 91.25, hours 2; level dba 80, hours not given"
    assert value_words(True) == "yes"
    assert value_words(-3) == "−3"


def test_each_figure_of_a_row_has_the_unit_of_its_column() -> None:
    rows = Quantity(value=[[0.0, 400.0], [1800.0, 316.0]], unit="s, degC")
    assert quantity(rows) == "0 s, 400 °C; 1800 s, 316 °C"
    named = Quantity(value=[{"dose": 2.5, "grip": "good"}], unit="J/m2, 1")
    assert quantity(named) == "2.5 J/m², good"
    uneven = Quantity(value=[[1.0, 2.0]], unit="s, m3, kg")
    assert quantity(uneven) == "1; 2 (s, m³, kg)"


@pytest.mark.parametrize(
    ("unit", "words"),
    [
        ("1", ""),
        ("deg", "°"),
        ("mg/m3", "mg/m³"),
        ("W/m2/nm", "W/m²/nm"),
        ("m/s2", "m/s²"),
        ("um", "µm"),
        ("1/min", "per min"),
        ("dB(A)", "dB(A)"),
        ("", ""),
    ],
)
def test_a_unit_is_printed_as_the_trade_writes_it(unit: str, words: str) -> None:
    assert unit_words(unit) == words


def test_a_caution_of_every_finding_is_said_once_for_all() -> None:
    one = replace(FUME, cautions=("general", "of fume"))
    two = replace(NOISE, cautions=("of noise", "general"))
    hazards = tuple(replace(HAZARDS[0], findings=(each,)) for each in (one, two))
    assert shared_cautions(replace(SAMPLE, hazards=hazards)) == ["general"]
    assert shared_cautions(replace(SAMPLE, hazards=hazards[:1])) == []


def test_a_sentence_keeps_the_letters_of_a_name() -> None:
    assert sentence("use no PVC in Laser B") == "Use no PVC in Laser B"
    assert sentence("") == ""


def test_a_full_stop_is_added_only_where_none_is() -> None:
    assert [ended(words) for words in ("stop", "stop.", "stop! ")] == ["stop.", "stop.", "stop!"]


def test_controls_of_one_level_keep_the_order_in_which_they_were_written() -> None:
    first, second, third = HAZARDS[0].controls
    assert in_order((first, second, third)) == [second, first, third]


def test_each_sign_is_shown_once_and_what_to_wear_comes_first() -> None:
    twice = replace(SAMPLE, hazards=HAZARDS + HAZARDS, signs=("M004", "W004"))
    shown = signs_shown(twice)
    assert shown[:2] == ["M004", "W004"]
    assert len(shown) == len(set(shown)) == 7


def test_the_steps_of_a_scale_share_all_scores_without_gap_or_overlap() -> None:
    spans = [step_scores(FIVE_BY_FIVE, step) for step in FIVE_BY_FIVE.steps]
    assert spans == ["1 to 4", "5 to 9", "10 to 15", "16 to 25"]


def test_a_rating_stands_as_high_as_its_step() -> None:
    mark = judged(FIVE_BY_FIVE, Rating(severity=5, likelihood=4))
    assert (mark.score, mark.step.name, mark.rank, mark.ranks) == (20, "Stop", 4, 4)


def test_every_hazard_stands_on_the_matrix_once_before_and_once_after() -> None:
    rows = matrix(FIVE_BY_FIVE, HAZARDS)
    assert [len(row) for row in rows] == [5] * 5
    assert rows[0][0].judged.rating == Rating(severity=1, likelihood=5)
    cells = [cell for row in rows for cell in row]
    numbers = list(range(1, len(HAZARDS) + 1))
    assert sorted(n for cell in cells for n in cell.before) == numbers
    assert sorted(n for cell in cells for n in cell.after) == numbers
    assert rows[1][4].before == (1,)  # fire: severity 5, likelihood 4
    assert rows[4][4].after == (1, 4)


def test_the_bar_of_a_result_is_as_long_as_its_ratio() -> None:
    half = gauge(replace(FUME, ratio=0.5))
    assert half is not None
    assert half.filled == pytest.approx(half.limit / 2)
    assert half.action == pytest.approx(half.limit / 2)
    assert not half.over


def test_a_result_far_over_its_limit_runs_out_of_the_bar() -> None:
    far = gauge(replace(FUME, ratio=40.0))
    assert far is not None
    assert far.filled == far.width
    assert far.over


def test_no_action_mark_is_drawn_on_a_scale_that_is_not_linear() -> None:
    bar = gauge(NOISE)
    assert bar is not None
    assert bar.action is None


def test_without_a_limit_or_a_ratio_there_is_no_bar() -> None:
    assert gauge(replace(FUME, limit=None)) is None
    assert gauge(replace(FUME, ratio=None)) is None
