"""Bands: where they begin, and when the favourable one is withheld."""

import pytest

from assessments.calculate import calculate, to_json
from assessments.errors import Refused
from assessments.finding import Band, Limit, Source
from assessments.judging import judge
from assessments.limits import Limits
from assessments.method import (
    ALL_BANDS,
    UNFAVOURABLE,
    Judge,
    Number,
    Output,
    Result,
    method,
)

PRINTED = Source(title="A standard")
REMEMBERED = Source(title="A standard", confirmed=False)


def declared(*, worse="high", bands=ALL_BANDS, judged=True):
    @method(
        id="test.plain",
        title="Plain",
        answers="What is x?",
        inputs=(Number("x", "mg/m3", 0, 100, meaning="Concentration", example=1),),
        outputs=(Output("x", "mg/m3", meaning="The same"),),
        equation="x = x",
        sources=(PRINTED,),
        validity="Tests.",
        bands=bands,
        judge=Judge("x", by=lambda inputs, limits: None, worse=worse) if judged else None,
    )
    def plain(*, x):
        return Result({"x": x})

    return plain


def limit(*, source=PRINTED, action=5.0, notation=()):
    return Limit(
        name="L", value=10.0, unit="mg/m3", source=source, action=action, notation=notation
    )


@pytest.mark.parametrize(
    ("value", "band"),
    [
        (4.999, Band.BELOW_ACTION),
        (5, Band.ACTION),
        (10, Band.ACTION),
        (10.001, Band.OVER_LIMIT),
    ],
)
def test_action_begins_at_its_value_and_the_limit_is_passed_above_it(value, band):
    found = judge(declared(), value, limit(), ())
    assert found.band is band
    assert found.ratio == pytest.approx(value / 10)


@pytest.mark.parametrize(
    ("value", "band"), [(25, Band.BELOW_ACTION), (20, Band.ACTION), (9.99, Band.OVER_LIMIT)]
)
def test_where_little_is_the_danger_the_bands_are_turned_round(value, band):
    found = judge(declared(worse="low"), value, limit(action=20.0), ())
    assert found.band is band
    assert (found.ratio > 1) == (band is Band.OVER_LIMIT)


@pytest.mark.parametrize(
    ("bands", "at", "doubts"),
    [
        (UNFAVOURABLE, limit(), ()),
        (ALL_BANDS, limit(source=REMEMBERED), ()),
        (ALL_BANDS, limit(notation=("carcinogen",)), ()),
        (ALL_BANDS, limit(notation=("skin", "sensitiser")), ()),
        (ALL_BANDS, limit(), ("Not judged: two samples are too few.",)),
    ],
)
def test_the_favourable_band_is_withheld_with_number_ratio_and_reason(bands, at, doubts):
    found = judge(declared(bands=bands), 1, at, doubts)
    assert found.band is Band.NOT_JUDGED
    assert found.ratio == pytest.approx(0.1)
    assert any("Not judged" in line for line in found.words)


@pytest.mark.parametrize("value", [6, 11])
def test_an_unfavourable_band_is_given_in_any_doubt(value):
    found = judge(declared(), value, limit(source=REMEMBERED, notation=("carcinogen",)), ("?",))
    assert found.band in (Band.ACTION, Band.OVER_LIMIT)


def test_skin_notation_alone_withholds_nothing():
    assert judge(declared(), 1, limit(notation=("skin",)), ()).band is Band.BELOW_ACTION


def test_an_unknown_limit_gives_no_ratio():
    found = judge(declared(), 1, None, ())
    assert (found.band, found.ratio) == (Band.NO_LIMIT, None)


def test_a_method_that_is_held_against_nothing_is_not_judged():
    assert judge(declared(judged=False), 1, None, ()).band is Band.NOT_JUDGED


def test_the_ratio_of_levels_is_that_of_their_energy():
    # 3 dB more are twice the energy.
    finding = calculate("noise.daily", {"tasks": [[90.0103, 8]]})
    assert finding.ratio == pytest.approx(2, rel=1e-4)


def test_a_limit_is_never_taken_from_another_regime():
    given = {"days": [90] * 5}
    finding = calculate("noise.weekly", given, regime="us")
    assert (finding.band, finding.limit, finding.ratio) == (Band.NO_LIMIT, None, None)
    dose = {"tasks": [[95, 8]], "criterion": "90", "exchange": "5", "threshold": 80}
    assert calculate("noise.dose", dose, regime="gb").band is Band.NO_LIMIT
    assert calculate("noise.dose", dose, regime="us").band is Band.OVER_LIMIT


def test_a_high_threshold_leaves_the_action_level_unjudged():
    dose = {"tasks": [[85, 8]], "criterion": "90", "exchange": "5"}
    assert calculate("noise.dose", dose | {"threshold": 80}, regime="us").band is Band.ACTION
    finding = calculate("noise.dose", dose | {"threshold": 90}, regime="us")
    assert finding.band is Band.NOT_JUDGED


def test_an_unknown_regime_is_refused():
    with pytest.raises(Refused, match="limits must be one of gb, eu, us"):
        calculate("noise.daily", {"tasks": [[85, 8]]}, regime="fr")


def test_draws_raise_the_same_doubts_as_single_numbers():
    dose = {"tasks": [[70, 1]], "criterion": "90", "exchange": "5"}
    sure = calculate("noise.dose", dose | {"threshold": "uniform(50,60)"}, regime="us")
    unsure = calculate("noise.dose", dose | {"threshold": "uniform(60,90)"}, regime="us")
    assert sure.band is Band.BELOW_ACTION
    assert unsure.band is Band.NOT_JUDGED


SITE = {
    "regime": "gb",
    "quantity": "noise.daily",
    "name": "House rule",
    "action": "75",
    "limit": "80",
    "unit": "dB",
    "source": "Site rule 4",
    "confirmed": "yes",
}


def test_a_site_may_bring_limits_of_its_own():
    finding = calculate("noise.daily", {"tasks": [[81, 8]]}, site_limits=[SITE])
    assert finding.band is Band.OVER_LIMIT
    assert to_json(finding)["limit"]["source"] == "Site rule 4"


SUBSTANCE = {
    "regime": "eu",
    "edition": "2024",
    "agent": "Testane",
    "cas": "00-00-0",
    "twa_8h": "50",
    "stel_15min": "",
    "unit": "ppm",
    "notation": "skin; carcinogen",
    "source": "Site",
    "confirmed": "from memory",
}


@pytest.mark.parametrize("name", ["Testane", "testane", " TESTANE ", "00-00-0"])
def test_a_substance_is_found_by_name_or_number(name):
    limits = Limits("eu", (SITE, SUBSTANCE))
    found = limits.substance(name, "twa_8h")
    assert (found.value, found.unit) == (50.0, "ppm")
    assert found.notation == ("skin", "carcinogen")
    assert not found.source.confirmed


def test_a_limit_that_the_row_does_not_have_is_none():
    limits = Limits("eu", (SUBSTANCE,))
    assert limits.substance("Testane", "stel_15min") is None
    assert limits.substance("Testane", "twa_8h", "mg/m3") is None
    assert limits.substance("", "twa_8h") is None
    assert limits.substance(None, "twa_8h") is None
    assert limits.substance("unheard of", "twa_8h") is None
    assert limits.physical("unheard of") is None
