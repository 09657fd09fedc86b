"""The form of every method there is, made from its description alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from werkzeug.datastructures import MultiDict

from app.calculations.form import RESERVED, fields, given, pairs, typed_as, typed_from
from app.calculations.shown import number, unit
from app.calculations.stale import stale
from assessments.calculate import calculate
from assessments.describe import describe
from assessments.document.frozen import freeze_finding, thaw_finding
from assessments.errors import Refused
from assessments.examples import questions
from assessments.finding import Finding, Limit, Quantity
from assessments.limits import REGIMES, Limits
from assessments.methods import catalogue

METHODS = list(catalogue().values())
QUESTIONS = [(method, question) for method in METHODS for question in questions(method)]
each_method = pytest.mark.parametrize("method", METHODS, ids=lambda method: method.id)
each_question = pytest.mark.parametrize(
    ("method", "question"),
    QUESTIONS,
    ids=[f"{method.id}-{count}" for count, (method, _) in enumerate(QUESTIONS)],
)


@each_question
def test_what_is_typed_gives_the_finding_of_the_same_question(
    method: Any, question: dict[str, Any]
) -> None:
    described = describe(method)
    typed = typed_as(described, question)
    sent_again = typed_from(described, MultiDict(list(pairs(typed))))
    found = calculate(method.id, given(described, sent_again))
    assert freeze_finding(found) == freeze_finding(calculate(method.id, question))


@each_method
def test_every_input_has_its_field_with_label_range_and_meaning(method: Any) -> None:
    described = describe(method)
    shown = fields(described, typed_as(described, {}))
    assert [field.name for field in shown] == [each.name for each in method.inputs]
    for field, each in zip(shown, method.inputs, strict=True):
        assert field.label == each.words
        assert each.meaning.rstrip(".") in field.hints[0]
        assert field.rows, "there is always a box to fill in"


@each_method
def test_no_input_has_a_name_that_the_form_needs_itself(method: Any) -> None:
    assert RESERVED.isdisjoint(each.name for each in method.inputs)


def test_a_blank_row_does_not_count_and_pasted_rows_do() -> None:
    described = describe(catalogue()["noise.daily"])
    sent = {"tasks-0-0": "85", "tasks-0-1": "4", "tasks-1-0": " ", "tasks-1-1": ""}
    typed = typed_from(described, MultiDict(sent | {"tasks-paste": "90\t1.5\n\n 70 2 h\n"}))
    assert typed == {"tasks": [["85", "4"], ["90", "1.5"], ["70", "2 h"]]}
    assert given(described, typed)["tasks"][2] == ["70", "2 h"]


def test_pasted_numbers_of_a_series_stand_one_below_the_other() -> None:
    described = describe(catalogue()["noise.sum"])
    typed = typed_from(described, MultiDict({"levels-paste": "80 81\n82;83"}))
    assert given(described, typed) == {"levels": ["80", "81", "82", "83"]}


def test_one_more_row_is_shown_when_it_is_asked_for_and_never_too_many() -> None:
    described = describe(catalogue()["noise.weekly"])
    days = typed_from(described, MultiDict({f"days-{n}-0": "80" for n in range(6)}))
    (field,) = fields(described, days, adding="days")
    assert (len(field.rows), field.may_add) == (7, False)
    full = typed_from(described, MultiDict({f"days-{n}-0": "80" for n in range(7)}))
    (field,) = fields(described, full, adding="days")
    assert len(field.rows) == 7


@pytest.mark.parametrize(
    ("sentence", "wrong"),
    [
        ("tasks row 2, duration, must be a number; 'x' was given.", ["tasks-1-1"]),
        ("tasks row 1 must hold 2 values.", ["tasks-0-0", "tasks-0-1"]),
        ("The durations in tasks must not add up to more than 24 h.", "all"),
    ],
)
def test_the_cell_that_a_refusal_names_is_marked(sentence: str, wrong: Any) -> None:
    described = describe(catalogue()["noise.daily"])
    typed = typed_as(described, {"tasks": [[85, 4], [90, 2]]})
    (field,) = fields(described, typed, problem=Refused(sentence, field="tasks"))
    cells = [cell for row in field.rows for cell in row]
    marked = [cell.name for cell in cells if cell.wrong]
    assert marked == ([cell.name for cell in cells] if wrong == "all" else wrong)


def test_a_hint_says_the_range_as_people_write_it() -> None:
    described = describe(catalogue()["gas.oxygen"])
    shown = {field.name: field.hints for field in fields(described, typed_as(described, {}))}
    assert shown["room_volume"][0].endswith(
        "A number from 0.1 to 1\N{NARROW NO-BREAK SPACE}000\N{NARROW NO-BREAK SPACE}000 m³, "
        "for example 60."
    )
    assert "0 is taken where this is left empty." in shown["air_changes"]
    assert "May be left empty." in shown["time"]


def test_a_refusal_stands_at_its_field_and_nowhere_else() -> None:
    described = describe(catalogue()["dust.layer"])
    problem = Refused("The sentence.", field="covered_area")
    shown = fields(described, typed_as(described, {}), problem=problem)
    assert {field.name: field.problem for field in shown if field.problem} == {
        "covered_area": "The sentence."
    }


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (13.93333, "13.93"),
        (41234.4, "41\N{NARROW NO-BREAK SPACE}234"),
        (0.0000123, "1.23 × 10⁻⁵"),
        (-2.5e12, "-2.5 × 10¹²"),
        (0, "0"),
        ([1.0, None, "St1"], "1, none, St1"),
        (True, "True"),
    ],
)
def test_a_number_is_rounded_only_where_it_is_shown(value: object, written: str) -> None:
    assert number(value) == written


def test_a_unit_is_written_as_it_is_printed() -> None:
    assert [unit(u) for u in ("m3/s", "W/m2/nm", "degC", "um", "1")] == [
        "m³/s",
        "W/m²/nm",
        "°C",
        "µm",
        "",
    ]


# --- stale ---------------------------------------------------------------------------------


@each_method
@pytest.mark.parametrize("regime", REGIMES)
def test_a_finding_of_today_is_not_stale(method: Any, regime: str) -> None:
    asked = questions(method)[-1]
    assert stale(freeze_finding(calculate(method.id, asked, regime=regime)), Limits(regime)) is None


def test_an_uncertain_finding_of_today_is_not_stale() -> None:
    asked = {"tasks": [["normal(85,2)", 4], ["90", "uniform(1,2)"]]}
    assert stale(freeze_finding(calculate("noise.daily", asked)), GB) is None


GB = Limits("gb")
FOUND = calculate("noise.daily", {"tasks": [[85, 4]]})
assert FOUND.limit is not None
OTHER = replace(FOUND.limit, value=85.0)
UNKNOWN = Limit(name="Gone", value=1, unit="1", source=FOUND.limit.source, regime="atlantis")


@pytest.mark.parametrize(
    ("finding", "words"),
    [
        (replace(FOUND, edition="0"), "edition 1 now; this came from edition 0"),
        (replace(FOUND, method="noise.gone"), "noise.gone is not calculated here any more"),
        (replace(FOUND, limit=OTHER), "The limit is another one now"),
        (replace(FOUND, limit=UNKNOWN), "The limit is another one now"),
        (replace(FOUND, limit=None), "The limit is another one now"),
        (replace(FOUND, outputs={"daily": Quantity(value=20.0)}), "comes out differently"),
        (
            replace(FOUND, inputs={"tasks": Quantity(value=[[400.0, 4.0]])}),
            "refuses these inputs now: tasks row 1, level,",
        ),
        (replace(FOUND, inputs={"task": Quantity(value=1)}), "refuses these inputs now"),
    ],
)
def test_a_finding_that_would_not_come_out_again_is_stale(finding: Finding, words: str) -> None:
    reason = stale(freeze_finding(finding), GB)
    assert reason is not None
    assert words in reason


def test_what_cannot_be_read_is_stale() -> None:
    assert "cannot be read" in (stale("{}", GB) or "")
    assert thaw_finding(freeze_finding(FOUND)) == FOUND
