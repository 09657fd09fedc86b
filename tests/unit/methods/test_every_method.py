"""What holds for every method there is, or will be: nothing here names one."""

import json
import math
from contextlib import suppress
from itertools import pairwise

import numpy as np
import pytest

from assessments import units
from assessments.calculate import calculate, to_json
from assessments.command import run
from assessments.describe import describe
from assessments.errors import Refused
from assessments.examples import questions
from assessments.finding import Band
from assessments.method import Choice, Number, Rows, Series
from assessments.methods import catalogue
from assessments.reading import read

METHODS = list(catalogue().values())
QUESTIONS = [(method, question) for method in METHODS for question in questions(method)]
each_method = pytest.mark.parametrize("method", METHODS, ids=lambda method: method.id)
each_question = pytest.mark.parametrize(
    ("method", "question"),
    QUESTIONS,
    ids=[f"{method.id}-{count}" for count, (method, _) in enumerate(QUESTIONS)],
)
KEYS = ["method", "edition", "inputs", "outputs", "limit", "ratio", "band"]
KEYS += ["working", "sources", "cautions"]


def numbers(method, question):
    """Yield (column, put) for every number in a question; put(x) is the question with x there."""
    for each in method.inputs:
        if each.name not in question:
            continue
        if isinstance(each, Number):
            yield each, lambda x, name=each.name: question | {name: x}
        elif isinstance(each, Series):
            rest = list(question[each.name][1:])
            yield each.column, lambda x, name=each.name, rest=rest: question | {name: [x, *rest]}
        elif isinstance(each, Rows):
            yield from columns(question, each)


def columns(question, rows):
    first, *rest = question[rows.name]
    for place, column in enumerate(rows.columns):
        if isinstance(column, Number):
            yield (
                column,
                lambda x, i=place: (
                    question | {rows.name: [[*first[:i], x, *first[i + 1 :]], *rest]}
                ),
            )


def spread(column, value):
    """Write a narrow distribution about a value, inside the column's range."""
    width = max(abs(value) * 0.01, (column.high - column.low) * 1e-6)
    low, high = max(column.low, value - width), min(column.high, value + width)
    return value if column.whole else f"uniform({low!r},{high!r})"


def uncertain(method, question):
    """Return the question with every number in it uncertain."""
    changed = dict(question)
    for each in method.inputs:
        value = changed.get(each.name)
        if value is None:
            continue
        if isinstance(each, Number):
            changed[each.name] = spread(each, value)
        elif isinstance(each, Series):
            changed[each.name] = [spread(each.column, x) for x in value]
        elif isinstance(each, Rows):
            changed[each.name] = [
                [
                    spread(column, cell) if isinstance(column, Number) else cell
                    for column, cell in zip(each.columns, row, strict=True)
                ]
                for row in value
            ]
    return changed


@each_question
def test_its_example_gives_a_finding_in_the_published_shape(method, question):
    plain = to_json(calculate(method.id, question))
    assert list(plain) == KEYS
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert Band(plain["band"]) in method.bands
    assert plain["working"]
    for pair in (*plain["inputs"].values(), *plain["outputs"].values()):
        assert pair.keys() == {"value", "unit"}


@each_question
def test_the_inputs_of_a_finding_can_be_asked_again(method, question):
    first = to_json(calculate(method.id, question))
    again = {
        each.name: first["inputs"][each.name]["value"]
        for each in method.inputs
        if each.name in first["inputs"]
    }
    assert to_json(calculate(method.id, again))["outputs"] == first["outputs"]


@each_question
def test_both_ends_of_every_range_belong_to_it_and_nothing_beyond(method, question):
    for column, put in numbers(method, question):
        for end, direction in ((column.low, -math.inf), (column.high, math.inf)):
            read(method, put(end))
            beyond = end + math.copysign(1, direction) if column.whole else None
            with pytest.raises(Refused):
                read(method, put(beyond or float(np.nextafter(end, direction))))


@each_question
def test_at_an_end_of_a_range_it_answers_or_refuses_and_never_crashes(method, question):
    for column, put in numbers(method, question):
        for end in (column.low, column.high):
            with suppress(Refused):  # two extremes may exclude each other; nothing may crash
                to_json(calculate(method.id, put(end)))


NOT_NUMBERS = [
    math.nan,
    math.inf,
    -math.inf,
    "nan",
    "inf",
    "1e309",
    "1,5",
    "１５",
    "1_000",
    "0x10",
    True,
    [],
    {},
    "1" * 10_000_000,
    10**400,
]


@each_question
@pytest.mark.parametrize("nonsense", NOT_NUMBERS, ids=lambda each: str(each)[:10])
def test_what_is_no_plain_number_is_refused_by_name(method, question, nonsense):
    for column, put in numbers(method, question):
        with pytest.raises(Refused) as refused:
            read(method, put(nonsense))
        assert column.name in refused.value.sentence
        assert len(refused.value.sentence) < 1000


@each_question
def test_a_wrong_dimension_is_refused_by_name_range_and_unit(method, question):
    for column, put in numbers(method, question):
        is_mass = units.unit(column.unit).dimension == units.unit("kg").dimension
        wrong = "3 s" if is_mass else "3 kg"
        with pytest.raises(Refused) as refused:
            read(method, put(wrong))
        assert column.asked in refused.value.sentence


@each_question
def test_every_needed_input_is_missed_by_name(method, question):
    replaceable = {name for one_of in method.one_of for name in one_of.names}
    for each in method.inputs:
        needed = not each.optional and each.default is None and each.name not in replaceable
        if each.name in question and needed:
            rest = {name: value for name, value in question.items() if name != each.name}
            with pytest.raises(Refused, match=f"^{each.name} is missing: it must be "):
                read(method, rest)


@each_method
def test_a_question_without_any_alternative_is_refused(method):
    replaceable = {name for one_of in method.one_of for name in one_of.names}
    for question in questions(method):
        rest = {name: value for name, value in question.items() if name not in replaceable}
        if rest != question:
            with pytest.raises(Refused, match="Give exactly one of these"):
                read(method, rest)


UNCERTAIN = [(m, uncertain(m, q)) for m, q in QUESTIONS if uncertain(m, q) != q]


@pytest.mark.parametrize(("method", "asked"), UNCERTAIN, ids=[m.id for m, _ in UNCERTAIN])
def test_it_takes_uncertain_inputs(method, asked):
    plain = to_json(calculate(method.id, asked))
    assert plain["probability"]["given"] == "given the inputs you assumed"
    for value in plain["outputs"].values():
        if "shares" in value:
            assert sum(value["shares"].values()) == pytest.approx(1)
        elif isinstance(value["value"], list):
            assert len(value["p05"]) == len(value["median"]) == len(value["p95"])
        else:
            assert value["p05"] <= value["median"] <= value["p95"]


@each_question
def test_the_command_answers_as_the_function_does(method, question):
    words = [f"{name}={_typed(value)}" for name, value in question.items()]
    code, out, err = run([method.id, *words, "--json"])
    assert (code, err) == (0, "")
    assert json.loads(out) == to_json(calculate(method.id, question))


def _typed(value):
    return value if isinstance(value, str) else json.dumps(value)


@each_method
def test_its_description_is_complete(method):
    plain = describe(method)
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    fields = [*plain["fields"]]
    fields += [column for field in fields for column in field.get("columns", [])]
    for field in fields:
        assert field["meaning"], field["name"]
        assert field["label"], field["name"]
        assert field["asked"], field["name"]
    for text in ("title", "answers", "equation", "validity", "sources", "outputs", "bands"):
        assert plain[text], text


@each_method
def test_every_input_is_used_by_one_of_its_examples(method):
    used = {name for question in questions(method) for name in question}
    assert used == {each.name for each in method.inputs}


@each_method
def test_every_option_of_every_choice_is_explained(method):
    for each in method.inputs:
        if isinstance(each, Choice):
            assert all(each.options.values()), each.name


def test_ids_are_listed_in_order_under_their_family():
    ids = list(catalogue())
    assert ids
    assert all(one < other for one, other in pairwise(ids))
    assert all(method.family and "." in method.id for method in METHODS)
