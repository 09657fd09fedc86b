"""Uncertain inputs: distributions, draws, and what becomes of them; scipy is the witness."""

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from scipy import stats

from assessments.calculate import calculate
from assessments.errors import OutOfRange, Refused
from assessments.finding import Band
from assessments.method import Number
from assessments.uncertainty import DRAWS, percentiles, quote, read

ANY = Number("x", "m", -1e9, 1e9, meaning="Anything", example=1)

DISTRIBUTIONS = [
    ("normal(40,4)", stats.norm(40, 4)),
    ("uniform(0.1,0.3)", stats.uniform(0.1, 0.2)),
    ("lognormal(5,2)", stats.lognorm(math.log(2), scale=5)),
    ("triangular(1,2,6)", stats.triang(0.2, loc=1, scale=5)),
    ("triangular(1,5,6)", stats.triang(0.8, loc=1, scale=5)),
    ("triangular(0,0,1)", stats.triang(0, loc=0, scale=1)),
]


@pytest.mark.parametrize(("text", "witness"), DISTRIBUTIONS)
def test_the_median_of_a_distribution_is_exact(text, witness):
    assert read(text, ANY, "x").median() == pytest.approx(witness.median())


@pytest.mark.parametrize(("text", "witness"), DISTRIBUTIONS)
def test_draws_follow_the_distribution(text, witness):
    values, _ = read(text, ANY, "x").draw(place=7)
    # Kolmogorov-Smirnov distance of 100,000 draws: 0.0062 is passed once in a thousand times.
    assert stats.kstest(values, witness.cdf).statistic < 0.0062


def test_draws_at_different_places_are_uncorrelated():
    texts = ["normal(0,1)", "uniform(0,1)", "lognormal(1,2)", "triangular(0,1,3)"] * 3
    draws = [read(text, ANY, "x").draw(place)[0] for place, text in enumerate(texts)]
    ranks = np.argsort(np.argsort(draws, axis=1), axis=1)
    correlation = np.corrcoef(ranks) - np.eye(len(texts))
    # 4.5 standard errors of 1 / sqrt(100,000), for 66 pairs.
    assert np.abs(correlation).max() < 4.5 / math.sqrt(DRAWS)


def test_normal_and_uniform_draws_of_one_place_are_independent_too():
    one, two = (read(text, ANY, "x").draw(3)[0] for text in ("normal(0,1)", "uniform(0,1)"))
    assert abs(stats.spearmanr(one, two).statistic) < 4.5 / math.sqrt(DRAWS)


def test_what_was_drawn_again_follows_the_distribution_cut_off_at_the_range():
    narrow = Number("x", "m", 0, 1e9, meaning="Anything", example=1)
    values, share = read("normal(25,10)", narrow, "x").draw(place=5)
    assert share == pytest.approx(stats.norm.cdf(-2.5), abs=0.002)
    assert stats.kstest(values, stats.truncnorm(-2.5, math.inf, 25, 10).cdf).statistic < 0.0062


@pytest.mark.parametrize(("text", "witness"), DISTRIBUTIONS)
def test_percentiles_lie_within_the_error_of_sampling(text, witness):
    found = percentiles(read(text, ANY, "x").draw(place=0)[0])
    for share, value in zip((0.05, 0.5, 0.95), found, strict=True):
        # The share of draws below the true percentile is known to sqrt(q (1 - q) / n).
        error = math.sqrt(share * (1 - share) / DRAWS)
        assert witness.cdf(value) == pytest.approx(share, abs=4 * error)


@pytest.mark.parametrize("count", [1, 2, 3, 20, 99, 100, 101, 102, 103, 1001, DRAWS, DRAWS + 1])
def test_percentiles_are_those_of_numpy(count):
    values = np.random.default_rng(count).normal(size=count)
    before = values.copy()
    assert percentiles(values) == pytest.approx(tuple(np.percentile(values, (5, 50, 95))))
    assert (values == before).all()


def test_percentiles_of_many_equal_values_are_those_of_numpy():
    values = np.random.default_rng(1).integers(0, 3, 10_000).astype(float)
    assert percentiles(values) == tuple(np.percentile(values, (5, 50, 95)))


def test_percentiles_of_a_linear_method_are_those_of_its_input():
    # A wheel's rim speed is proportional to its rotation, so its spread is known exactly.
    given = {"diameter": 125, "rotation": "normal(10000,300)", "marked": 70}
    finding = calculate("wheel.speed", given)
    witness = stats.norm(10_000, 300).ppf([0.05, 0.5, 0.95]) * math.pi * 0.125 / 60
    spread = finding.uncertainty["outputs"]["speed"]
    found = [spread["p05"], spread["median"], spread["p95"]]
    assert found == pytest.approx(list(witness), rel=0.001)
    chance = stats.norm(10_000, 300).sf(70 * 60 / (math.pi * 0.125))
    assert finding.uncertainty["probability"]["over_limit"] == pytest.approx(chance, abs=0.005)


def test_every_output_carries_its_spread_and_the_chance_is_labelled():
    finding = calculate("noise.daily", {"tasks": [["normal(85,2)", 4], [90, 1.5]]})
    for output in ("daily", "parts", "points"):
        assert finding.uncertainty["outputs"][output].keys() >= {"median", "p05", "p95"}
    assert finding.uncertainty["draws"] >= 100_000
    assert finding.uncertainty["probability"]["given"] == "given the inputs you assumed"
    assert any("given the inputs you assumed" in line for line in finding.working)


def test_the_band_is_judged_at_the_unfavourable_end():
    assert calculate("noise.daily", {"tasks": [["normal(86,2)", 8]]}).band is Band.OVER_LIMIT
    assert calculate("noise.daily", {"tasks": [["normal(70,2)", 8]]}).band is Band.BELOW_ACTION


def test_the_same_question_gets_the_same_answer():
    given = {"tasks": [["lognormal(85,1.02)", "uniform(3,4)"]]}
    assert calculate("noise.daily", given) == calculate("noise.daily", given)


def test_threads_that_calculate_at_once_do_not_disturb_each_other():
    questions = [{"tasks": [[f"normal({level},2)", "uniform(3,5)"]]} for level in range(70, 90)]
    alone = [calculate("noise.daily", question) for question in questions]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda question: calculate("noise.daily", question), questions))
    assert together == alone


def test_two_equal_distributions_are_drawn_apart():
    # Two equal independent sources: the spread of the sum is narrower than that of one alone.
    one = calculate("vibration.daily", {"tools": [["normal(5,1)", 2]]}).uncertainty["outputs"]
    two = calculate("vibration.daily", {"tools": [["normal(5,1)", 1], ["normal(5,1)", 1]]})
    width = two.uncertainty["outputs"]["a8"]["p95"] - two.uncertainty["outputs"]["a8"]["p05"]
    assert width < 0.8 * (one["a8"]["p95"] - one["a8"]["p05"])


def test_a_distribution_may_have_a_unit():
    plain = calculate("vibration.time_to", {"magnitude": "uniform(4,6)"})
    other = calculate("vibration.time_to", {"magnitude": "uniform(400,600) cm/s2"})
    one, two = (f.uncertainty["outputs"]["to_limit"]["p95"] for f in (plain, other))
    assert one == pytest.approx(two)


def test_few_draws_outside_the_range_are_drawn_again_and_reported():
    finding = calculate("noise.distance", {"level": 90, "from": 1, "to": 2, "source": "point"})
    assert not finding.uncertainty
    spread = calculate("lifting.filter", QUESTION | {"twist": "normal(30,12)"})
    assert any("fell outside and were redrawn" in line for line in spread.assumptions)


QUESTION = {"zones": [["elbow_knuckle", "near"]], "sex": "male", "frequency": 0.1, "twist": 0}


def test_many_draws_outside_the_range_are_refused():
    with pytest.raises(OutOfRange, match=r"twist must be a number from 0 to 180 deg; .* outside"):
        calculate("lifting.filter", QUESTION | {"twist": "normal(10,14)"})


@pytest.mark.parametrize(
    "text",
    [
        "normal(40)",
        "normal(40,4,1)",
        "normal(40,0)",
        "normal(40,-1)",
        "normal(a,b)",
        "normal(nan,1)",
        "normal(1e309,1)",
        "normal(4,1 W)",
        "uniform(3,3)",
        "uniform(4,3)",
        "lognormal(0,2)",
        "lognormal(5,1)",
        "triangular(1,6,2)",
        "triangular(1,1,1)",
        "normal()",
    ],
)
def test_a_distribution_with_impossible_numbers_is_refused_by_name(text):
    with pytest.raises(Refused, match=r"magnitude must be a number from 0\.5 to 100 m/s2"):
        calculate("vibration.time_to", {"magnitude": text})


@pytest.mark.parametrize("text", ["cauchy(1,2)", "normal(1,2", "NORMAL(1,2)", "normal(1,2)kg"])
def test_what_only_resembles_a_distribution_is_refused(text):
    with pytest.raises(Refused, match="magnitude must be"):
        calculate("vibration.time_to", {"magnitude": text})


def test_a_whole_number_is_never_uncertain():
    with pytest.raises(Refused, match="and certain"):
        calculate("rating.matrix", {"severity": "normal(3,1)", "likelihood": 2})


def test_too_many_uncertain_values_are_refused():
    with pytest.raises(Refused, match="at most 40"):
        calculate("noise.sum", {"levels": ["normal(80,1)"] * 41})


def test_a_verdict_is_given_with_the_share_of_each_word():
    given = {"material": "metal", "temperature": "normal(51,2)", "time": 60}
    shares = calculate("contact.burn", given).uncertainty["outputs"]["verdict"]["shares"]
    assert shares["no burn expected"] == pytest.approx(0.5, abs=0.01)
    assert sum(shares.values()) == pytest.approx(1)


def test_people_may_forget_the_quotation_marks_inside_a_list():
    assert (
        quote('[[normal(85,2),4],["uniform(1,2)",3]]') == '[["normal(85,2)",4],["uniform(1,2)",3]]'
    )
    bare = calculate("noise.daily", {"tasks": "[[normal(85,2),4]]"})
    assert bare == calculate("noise.daily", {"tasks": [["normal(85,2)", 4]]})


@pytest.mark.parametrize(("text", "witness"), DISTRIBUTIONS)
def test_every_shape_rises_with_its_standard_draws(text, witness):
    # The ends of the draws are judged by those of the standard draws alone.
    uncertain = read(text, ANY, "x")
    edge = Number("x", "m", -1e9, float(uncertain.draw(place=2)[0].max()), meaning="x", example=1)
    below = Number("x", "m", -1e9, float(np.nextafter(edge.high, 0)), meaning="x", example=1)
    assert read(text, edge, "x").draw(place=2)[1] == 0.0
    assert read(text, below, "x").draw(place=2)[1] == pytest.approx(1 / DRAWS)
