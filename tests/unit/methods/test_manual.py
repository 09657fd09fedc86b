"""Docstrings and table of the methods: whole, worked through, and never stale."""

import doctest
import importlib
import pkgutil
import re
import sys

import pytest

import assessments
from assessments import methods_table
from assessments.method import Rows
from assessments.methods import catalogue

METHODS = list(catalogue().values())
each_method = pytest.mark.parametrize("method", METHODS, ids=lambda method: method.id)
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.(\d*))?(?:e([+-]\d+))?")


class PrintedDigits(doctest.OutputChecker):
    """Takes a number as found when it is what is printed, to the digits that are printed."""

    def check_output(self, want, got, optionflags):
        if super().check_output(want, got, optionflags):
            return True
        wanted, found = list(NUMBER.finditer(want)), list(NUMBER.finditer(got))
        return (
            NUMBER.sub("#", want) == NUMBER.sub("#", got)
            and len(wanted) == len(found)
            and all(self._agree(a, b) for a, b in zip(wanted, found, strict=True))
        )

    def _agree(self, wanted, found):
        last = 10.0 ** (int(wanted[2] or 0) - len(wanted[1] or ""))
        return abs(float(wanted[0]) - float(found[0])) <= 0.5 * last * (1 + 1e-9)


def run(name, text, names):
    test = doctest.DocTestParser().get_doctest(text, dict(names), name, name, 0)
    said = []
    results = doctest.DocTestRunner(PrintedDigits()).run(test, out=said.append)
    assert results.failed == 0, "".join(said)
    return results.attempted


@each_method
def test_the_worked_example_of_a_method_comes_out(method):
    module = sys.modules[method.function.__module__]
    assert run(method.id, method.function.__doc__, vars(module)) >= 2


@each_method
def test_a_docstring_holds_the_whole_declaration(method):
    text = " ".join(method.function.__doc__.split())
    said = [method.answers, method.equation, method.validity, *map(str, method.sources)]
    for each in method.inputs:
        said += [f"{each.argument}: {each.meaning.rstrip('.')}", each.asked]
        if isinstance(each, Rows):
            said += [column.asked for column in each.columns]
    said += [f"{each.name}{f' [{each.unit}]' if each.unit else ''}:" for each in method.outputs]
    for words in said:
        assert " ".join(words.split()) in text


@pytest.mark.parametrize(
    "name", [each.name for each in pkgutil.walk_packages(assessments.__path__, "assessments.")]
)
def test_the_examples_in_a_module_come_out(name):
    module = importlib.import_module(name)
    for test in doctest.DocTestFinder(exclude_empty=True).find(module, name):
        if test.examples:
            said = []
            failed = doctest.DocTestRunner(PrintedDigits()).run(test, out=said.append).failed
            assert failed == 0, "".join(said)


@pytest.mark.parametrize(
    ("want", "got", "agrees"),
    [
        ("85.39", "85.3899", True),
        ("85.39", "85.396", False),
        ("[1.0, 2.5]", "[1.04, 2.46]", True),
        ("[1.0, 2.5]", "[1.0]", False),
        ("'no burn'", "'burn'", False),
        ("1.2e-05", "1.24e-05", True),
        ("1.2e-05", "1.26e-05", False),
    ],
)
def test_printed_digits_decide_how_near_a_number_must_be(want, got, agrees):
    assert PrintedDigits().check_output(f"{want}\n", f"{got}\n", 0) is agrees


def test_the_table_of_methods_is_up_to_date():
    written = methods_table.PLACE.read_text("utf-8")
    assert written == methods_table.table(), "write it anew: python -m assessments.methods_table"


@each_method
def test_the_table_tells_what_a_method_takes_gives_and_rests_on(method):
    part = methods_table.table().split(f"### `{method.id}`")[1].split("\n### ")[0]
    assert method.answers in part
    for each in (*method.inputs, *method.outputs):
        assert f"`{each.name}`" in part
    for source in method.sources:
        assert str(source) in part
    for band in method.bands:
        assert band.value in part
