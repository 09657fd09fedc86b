"""The frozen text: one value has one text, and only a whole and known text is read."""

from __future__ import annotations

import json
import math
import unicodedata
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.document.content import RiskAssessment
from assessments.document.frozen import digest, freeze, thaw
from assessments.errors import OutOfRange, Refused
from assessments.finding import Band, Finding, Quantity
from assessments.rating import Rating
from tests.unit.document.sample import BARE, SAMPLE
from tests.unit.document.sample_hazards import FUME, HAZARDS

GOLDEN_2 = Path(__file__).parent / "golden" / "risk_assessment_2.json"
GOLDEN_2_DIGEST = "f3624fa6bc849e0583b15d0040355654bad3a1d017949521023f0d850682d7cd"
GOLDEN = Path(__file__).parent / "golden" / "risk_assessment_1.json"
GOLDEN_DIGEST = "1677f2f2c5f854448f0a149e2649ab3b665a8ddf7b6add1a89649712e761f51a"

words = st.text(
    st.characters(exclude_categories=["Cc", "Cs"], include_characters="\n"), max_size=30
).map(lambda text: unicodedata.normalize("NFC", text))
numbers = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**30), 10**30)
open_values = st.recursive(
    numbers | words | st.booleans() | st.none(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=6,
)
quantities = st.dictionaries(words, st.builds(Quantity, value=open_values, unit=words), max_size=3)
findings = st.builds(
    Finding,
    method=words,
    title=words,
    edition=words,
    inputs=quantities,
    outputs=quantities,
    band=st.sampled_from(Band),
    working=st.lists(words, max_size=2).map(tuple),
    sources=st.just(FUME.sources),
    limit=st.sampled_from([None, FUME.limit]),
    ratio=st.none() | st.floats(allow_nan=False, allow_infinity=False),
    uncertainty=st.dictionaries(words, open_values, max_size=2),
)


@st.composite
def contents(draw: st.DrawFn) -> RiskAssessment:
    base = draw(st.sampled_from([SAMPLE, BARE]))
    rating = st.builds(Rating, severity=st.integers(1, 5), likelihood=st.integers(1, 5))
    hazard = replace(
        base.hazards[0], how=draw(words), findings=(draw(findings),), before=draw(rating)
    )
    return replace(
        base,
        title=draw(words),
        who=tuple(draw(st.lists(words, max_size=3))),
        hazards=(hazard, *base.hazards[1:]),
        prepared_on=draw(st.dates()),
        material_change=draw(st.booleans()),
        minimum_age=draw(st.none() | st.integers(0, 120)),
    )


def reversed_keys(tree: Any) -> Any:
    if isinstance(tree, dict):
        return {key: reversed_keys(tree[key]) for key in reversed(tree)}
    return [reversed_keys(item) for item in tree] if isinstance(tree, list) else tree


@settings(max_examples=60, deadline=None)
@given(contents())
def test_a_frozen_text_reads_back_as_the_value_it_came_from(content: RiskAssessment) -> None:
    text = freeze(content)
    assert thaw(text) == content
    assert freeze(thaw(text)) == text


@settings(max_examples=30, deadline=None)
@given(contents())
def test_neither_the_order_of_keys_nor_white_space_changes_what_is_read(
    content: RiskAssessment,
) -> None:
    text = freeze(content)
    other = json.dumps(reversed_keys(json.loads(text)), indent=2)
    assert thaw(other) == content
    assert freeze(thaw(other)) == text


def test_the_order_in_which_a_method_names_its_inputs_does_not_change_the_text() -> None:
    turned = replace(FUME, inputs=dict(reversed(list(FUME.inputs.items()))))
    hazards = (replace(HAZARDS[0], findings=(turned,)),)
    straight = (replace(HAZARDS[0], findings=(FUME,)),)
    assert freeze(replace(SAMPLE, hazards=hazards)) == freeze(replace(SAMPLE, hazards=straight))


def test_the_golden_text_of_schema_1_is_still_read_and_still_has_its_digest() -> None:
    text = GOLDEN.read_text("utf-8")
    assert digest(text) == GOLDEN_DIGEST
    content = thaw(text)
    assert freeze(content) == text
    assert (content.reference, content.number, content.schema) == ("RA-014", 3, 1)
    assert content.hazards[1].findings[0].limit == FUME.limit
    assert content.hazards[1].findings[0].inputs == FUME.inputs


def test_the_golden_text_of_schema_2_is_still_read_and_still_has_its_digest() -> None:
    text = GOLDEN_2.read_text("utf-8")
    assert digest(text) == GOLDEN_2_DIGEST
    content = thaw(text)
    assert freeze(content) == text
    assert (content.schema, content.threshold) == (2, 10)
    assert content.conditions == SAMPLE.conditions
    assert content.abnormal == SAMPLE.abnormal
    assert content.hazards[2].source == "test catalogue, open lasers"


def test_a_text_of_schema_1_has_no_fields_of_schema_2() -> None:
    tree = json.loads(GOLDEN.read_text("utf-8"))
    content = thaw(json.dumps(tree))
    assert (content.conditions, content.abnormal, content.threshold) == (None, (), None)
    assert "conditions" not in json.loads(freeze(replace(SAMPLE, schema=1)))
    with pytest.raises(Refused, match="unknown field threshold"):
        thaw(json.dumps(tree | {"threshold": None}))


def test_a_schema_that_nobody_reads_is_not_written() -> None:
    with pytest.raises(Refused, match="Schema 9 is unknown"):
        freeze(replace(SAMPLE, schema=9))


def test_the_digest_is_the_sha_256_of_fips_180() -> None:
    # NIST, Cryptographic Standards and Guidelines, example values, SHA-256 of "abc".
    assert digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_numbers_are_decimal_strings_and_nothing_else_is_a_number() -> None:
    def no_number(text: str) -> Any:
        raise AssertionError(text)

    json.loads(freeze(SAMPLE), parse_int=no_number, parse_float=no_number)


def test_the_keys_are_sorted_and_composed_characters_are_written_one_way() -> None:
    apart = unicodedata.normalize("NFD", "Büro")
    assert freeze(replace(SAMPLE, title=apart)) == freeze(replace(SAMPLE, title="Büro"))
    tree = json.loads(freeze(SAMPLE))
    dense = json.dumps(tree, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    assert freeze(SAMPLE) == dense


def changed(**fields: Any) -> str:
    return json.dumps(json.loads(freeze(SAMPLE)) | fields)


def without(name: str) -> str:
    tree = json.loads(freeze(SAMPLE))
    del tree[name]
    return json.dumps(tree)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ("[]", "names no schema"),
        (without("schema"), "names no schema"),
        (changed(schema="3"), "Schema '3' is unknown"),
        (changed(schema="1"), "unknown field abnormal, conditions, scale_departs, threshold"),
        (changed(surprise="x"), "unknown field surprise"),
        (without("scope"), "missing field scope"),
        (changed(minimum_age=16), "bare number 16"),
        (changed(minimum_age="NaN"), "'NaN' is not a decimal number"),
        (changed(minimum_age="1e3"), "'1e3' is not a decimal number"),
        (changed(minimum_age="016"), "'016' is not a decimal number"),
        (changed(minimum_age="16.5"), "'16.5' is not a whole number"),
        (changed(title=None), "NoneType where str"),
        (changed(material_change="true"), "str where bool"),
        (changed(prepared_on="2026-13-01"), "is not a date"),
        (changed(prepared_on="20261101"), "not written as year-month-day"),
        (changed(who="everybody"), "str where list"),
        (changed(title="a\u0007"), "cannot be printed"),
        ('{"schema":"1","schema":"1"}', "a field twice"),
        ('{"schema":NaN}', "bare number NaN"),
    ],
)
def test_a_text_that_is_not_whole_and_known_is_refused_in_one_sentence(
    text: str, words: str
) -> None:
    with pytest.raises(Refused, match=words) as refusal:
        thaw(text)
    assert "\n" not in refusal.value.sentence


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_never_frozen(number: float) -> None:
    hazard = replace(HAZARDS[0], findings=(replace(FUME, ratio=number),))
    with pytest.raises(Refused, match=r"hazards 1, findings 1, ratio: .* not a finite number"):
        freeze(replace(SAMPLE, hazards=(hazard,)))


def with_input(value: Any) -> RiskAssessment:
    finding = replace(FUME, inputs={"x": Quantity(value=value)})
    return replace(SAMPLE, hazards=(replace(HAZARDS[0], findings=(finding,)),))


def with_fields(**fields: Any) -> RiskAssessment:
    return replace(SAMPLE, **fields)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (with_input(datetime(2026, 1, 1)), "datetime is not a number"),  # noqa: DTZ001
        (with_input({1: 2.0}), "int is not text"),
        (with_input({"é": 1, "e\u0301": 2}), "stands twice"),
        (replace(SAMPLE, number=True), "bool is not a number"),
        (with_fields(number=1.5), "not a whole number"),
        (replace(SAMPLE, title="\ud800"), "cannot be printed"),
        (with_fields(material_change="yes"), "str is not bool"),
        (replace(SAMPLE, signs=("W999",)), "W999"),
    ],
)
def test_a_value_without_a_written_form_is_refused(content: RiskAssessment, words: str) -> None:
    with pytest.raises(Refused, match=words):
        freeze(content)


def test_a_rating_outside_the_scale_is_refused_before_it_is_frozen() -> None:
    hazard = replace(HAZARDS[0], after=Rating(severity=6, likelihood=1))
    with pytest.raises(OutOfRange, match="severity is 6"):
        freeze(replace(SAMPLE, hazards=(hazard,)))
