"""A declaration that does not fit its function cannot be imported."""

import numpy as np
import pytest

from assessments.calculate import calculate
from assessments.errors import Refused
from assessments.finding import Source
from assessments.method import Judge, Number, OneOf, Output, Result, method

BOOK = (Source(title="A book"),)
X = Number("x", "m", 0, 1, meaning="Length", example=0.5)
CLASS = Number("class", "1", 1, 4, meaning="Class", example=1)


def declare(function, *, inputs=(X,), sources=BOOK, **more):
    return method(
        id="test.one",
        title="One",
        answers="What?",
        inputs=inputs,
        outputs=(Output("y", "m"),),
        equation="y = x",
        sources=sources,
        validity="Tests.",
        **more,
    )(function)


def same(*, x):
    return Result({"y": x})


def test_a_declared_method_is_called_like_its_function():
    assert declare(same)(x=0.25).outputs == {"y": 0.25}


def test_a_name_that_python_keeps_for_itself_gets_an_underscore():
    def classed(*, class_):
        return Result({"y": class_})

    assert declare(classed, inputs=(CLASS,)).inputs[0].argument == "class_"


@pytest.mark.parametrize(
    "function",
    [lambda *, z: Result({"y": z}), lambda *, x, z: Result({"y": x}), lambda: Result({})],
)
def test_arguments_and_inputs_must_be_the_same(function):
    with pytest.raises(TypeError, match="not its declared inputs"):
        declare(function)


def test_arguments_must_be_given_by_name():
    with pytest.raises(TypeError, match="keyword arguments only"):
        declare(lambda x: Result({"y": x}))


def test_a_method_needs_a_source():
    with pytest.raises(TypeError, match="rumour"):
        declare(same, sources=())


def test_alternatives_must_be_inputs():
    with pytest.raises(TypeError, match="one_of"):
        declare(same, one_of=(OneOf((("x",), ("z",))),))


def test_the_judged_output_must_be_an_output():
    with pytest.raises(TypeError, match="judged"):
        declare(same, judge=Judge("z", by=lambda inputs, limits: None))


def test_a_branch_that_overflows_spoils_no_other_branch(monkeypatch):
    def branched(*, x):
        return Result({"y": np.where(x < 1, x, 10 ** (1000 * x))})

    branching = declare(branched)
    monkeypatch.setattr("assessments.calculate.find", lambda method_id: branching)
    assert calculate("test.one", {"x": 0.5}).outputs["y"].value == 0.5
    with pytest.raises(Refused, match="no finite y"):
        calculate("test.one", {"x": 1})
