"""How a calculation method is declared: once, beside its function, and complete.

The form on the web, the command, the JSON endpoint, the printed working and the table in the
documentation are all made from the declaration. The decorated function is pure, takes keyword
arguments only, and works alike on floats and on NumPy arrays of draws.
"""

from __future__ import annotations

import inspect
import keyword
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from string import Formatter
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from assessments.errors import Refused
from assessments.finding import Band, Limit, Source
from assessments.manual import docstring
from assessments.written import exact

if TYPE_CHECKING:
    from assessments.limits import Limits
    from assessments.plots import Draw

# A float, or an array with one value for each draw of an uncertain input.
Amount: TypeAlias = Any

# A choice that says in which unit a number is given or returned: its name, and the unit that
# each of its options means.
UnitBy: TypeAlias = tuple[str, Mapping[str, str]]

ALL_BANDS = tuple(Band)
UNFAVOURABLE = tuple(band for band in Band if band is not Band.BELOW_ACTION)

NO_PERMISSION = (
    "This is no permission to enter, light or unload: measure first, and let a competent "
    "person decide."
)

# The share of draws that may fall outside what a method holds for before it refuses.
TOLERATED_SHARE = 0.01


@dataclass(frozen=True)
class Input:
    """What every input has.  ``when`` asks for it only beside certain values of a choice."""

    name: str
    _: KW_ONLY
    meaning: str
    example: Any = None  # None only for an input that its method's other inputs replace
    label: str = ""
    optional: bool = False
    default: Any = None
    when: tuple[str, tuple[str, ...]] | None = None

    @property
    def argument(self) -> str:
        """The name in Python, where ``class`` and ``from`` need an underscore."""
        return f"{self.name}_" if keyword.iskeyword(self.name) else self.name

    @property
    def words(self) -> str:
        return self.label or self.name.replace("_", " ").capitalize()


@dataclass(frozen=True)
class Number(Input):
    """One number with its unit; both ends of the range belong to it."""

    unit: str
    low: float
    high: float
    _: KW_ONLY
    whole: bool = False
    unit_by: UnitBy | None = None

    @property
    def asked(self) -> str:
        kind = "a whole number" if self.whole else "a number"
        return f"{kind} from {exact(self.low)} to {exact(self.high)} {_shown(self.unit)}".rstrip()


@dataclass(frozen=True)
class Choice(Input):
    """One word out of a few; the options are written as value: meaning."""

    options: Mapping[str, str]

    @property
    def asked(self) -> str:
        return f"one of {', '.join(self.options)}"


@dataclass(frozen=True)
class Text(Input):
    """A name, for example of a substance; the method decides whether it knows it."""

    most: int = 80

    @property
    def asked(self) -> str:
        return f"a name of 1 to {self.most} characters"


@dataclass(frozen=True)
class Series(Input):
    """A list of numbers of one kind."""

    unit: str
    low: float
    high: float
    _: KW_ONLY
    least: int = 1
    most: int = 500
    unit_by: UnitBy | None = None

    @property
    def column(self) -> Number:
        return Number(self.name, self.unit, self.low, self.high, meaning=self.meaning, example=0)

    @property
    def asked(self) -> str:
        return f"a list of {self.least} to {self.most} numbers, each {self.column.asked[2:]}"


@dataclass(frozen=True)
class Rows(Input):
    """A list of rows, each with the same columns in the same order."""

    columns: tuple[Number | Choice | Text, ...]
    _: KW_ONLY
    least: int = 1
    most: int = 200

    @property
    def asked(self) -> str:
        named = ", ".join(f"{column.name} ({column.asked})" for column in self.columns)
        return f"a list of {self.least} to {self.most} rows [{named}]"


AnyInput: TypeAlias = Number | Choice | Text | Series | Rows


@dataclass(frozen=True)
class OneOf:
    """Groups of inputs that replace each other: exactly one group is given, and whole."""

    groups: tuple[tuple[str, ...], ...]

    @property
    def names(self) -> frozenset[str]:
        return frozenset(name for group in self.groups for name in group)


@dataclass(frozen=True)
class Output:
    """One result.  ``options`` lists the words that a verdict may take."""

    name: str
    unit: str = ""
    _: KW_ONLY
    meaning: str = ""
    optional: bool = False
    options: tuple[str, ...] = ()
    unit_by: UnitBy | None = None


@dataclass(frozen=True)
class Judge:
    """Which output is held against which limit.

    ``by(inputs, limits)`` returns the limit in the unit of the output, or None when there is
    none on record. ``worse`` says in which direction the danger lies.
    """

    output: str
    _: KW_ONLY
    by: Callable[[Mapping[str, Any], Limits], Limit | None]
    worse: str = "high"


@dataclass(frozen=True)
class Step:
    """One line of working, put into words only where there are no draws."""

    template: str
    values: tuple[Amount, ...]

    def __str__(self) -> str:
        return _WORDS.vformat(self.template, self.values, {})


class _Words(Formatter):
    """Formats as Python does, but writes out what it would write with an e."""

    def format_field(self, value: Any, format_spec: str) -> str:
        text: str = super().format_field(value, format_spec)
        return exact(float(text)) if _WITH_AN_E.fullmatch(text) else text


_WORDS = _Words()
_WITH_AN_E = re.compile(r"-?[\d.]+e[+-]\d+", re.ASCII)


def step(template: str, *values: Amount) -> Step:
    """Note a line of working: ``step("{:.1f} dB for {:g} h", level, hours)``."""
    return Step(template, values)


@dataclass(frozen=True)
class Result:
    """What a method's function returns.

    ``doubts`` are reasons why this result may never be given the favourable band;
    ``assumptions`` and ``cautions`` are printed with it.
    """

    outputs: Mapping[str, Amount]
    _: KW_ONLY
    steps: Sequence[Step] = ()
    assumptions: Sequence[str] = ()
    cautions: Sequence[str] = ()
    doubts: Sequence[str] = ()


def require(holds: Amount, sentence: str, *, field: str | None = None) -> None:
    """Refuse unless a relation between inputs holds (for draws: for all but one in a hundred)."""
    if 1.0 - np.mean(holds) > (TOLERATED_SHARE if np.ndim(holds) else 0.0):
        raise Refused(sentence, field=field)


def in_unit(each: Any, values: Mapping[str, Any]) -> Any:
    """Return an input or output with the unit that a choice among the values gives it."""
    if isinstance(each, Rows):
        return replace(each, columns=tuple(in_unit(column, values) for column in each.columns))
    by: UnitBy | None = getattr(each, "unit_by", None)
    unit = by[1].get(values.get(by[0], "")) if by else None
    return replace(each, unit=unit) if unit else each


@dataclass(frozen=True, kw_only=True)
class Method:
    """A declared method; calling it calls the pure function, without any checking."""

    id: str
    title: str
    answers: str
    inputs: tuple[AnyInput, ...]
    outputs: tuple[Output, ...]
    equation: str
    sources: tuple[Source, ...]
    validity: str
    cautions: tuple[str, ...]
    bands: tuple[Band, ...]
    edition: str
    one_of: tuple[OneOf, ...]
    judge: Judge | None
    examples: tuple[Mapping[str, Any], ...]
    plot: Draw | None
    function: Callable[..., Result] = field(repr=False)

    def __call__(self, **values: Any) -> Result:
        return self.function(**values)

    @property
    def family(self) -> str:
        return self.id.partition(".")[0]

    def input(self, name: str) -> AnyInput | None:
        return next((each for each in self.inputs if each.name == name), None)


def method(
    *,
    id: str,
    title: str,
    answers: str,
    inputs: tuple[AnyInput, ...],
    outputs: tuple[Output, ...],
    equation: str,
    sources: tuple[Source, ...],
    validity: str,
    cautions: tuple[str, ...] = (),
    bands: tuple[Band, ...] = (Band.NOT_JUDGED,),
    edition: str = "1",
    one_of: tuple[OneOf, ...] = (),
    judge: Judge | None = None,
    examples: tuple[Mapping[str, Any], ...] = (),
    plot: Draw | None = None,
) -> Callable[[Callable[..., Result]], Method]:
    """Declare the function below as a method; a declaration that does not fit it will not import.

    ``bands`` are those that it may give: leave out the favourable one (``UNFAVOURABLE``) for
    modelled values and for equations or tables that rest on memory. ``examples`` are whole
    questions, for a method whose inputs' own examples do not go together in every combination.
    ``plot`` draws a finding where people would rather look than read.
    """

    def declare(function: Callable[..., Result]) -> Method:
        declared = Method(
            id=id,
            title=title,
            answers=answers,
            inputs=inputs,
            outputs=outputs,
            equation=equation,
            sources=sources,
            validity=validity,
            cautions=cautions,
            bands=bands,
            edition=edition,
            one_of=one_of,
            judge=judge,
            examples=examples,
            plot=plot,
            function=function,
        )
        _check(declared)
        function.__doc__ = docstring(declared)
        return declared

    return declare


def _check(declared: Method) -> None:
    parameters = inspect.signature(declared.function).parameters.values()
    if [p.name for p in parameters] != [each.argument for each in declared.inputs]:
        raise TypeError(f"{declared.id}: the function's arguments are not its declared inputs")
    if any(p.kind is not inspect.Parameter.KEYWORD_ONLY for p in parameters):
        raise TypeError(f"{declared.id}: a method takes keyword arguments only")
    names = {each.name for each in declared.inputs}
    if any(not group.names <= names for group in declared.one_of):
        raise TypeError(f"{declared.id}: one_of names an input that is not declared")
    _check_units(declared)
    if declared.judge and declared.judge.output not in {each.name for each in declared.outputs}:
        raise TypeError(f"{declared.id}: the judged output is not declared")
    if not declared.sources:
        raise TypeError(f"{declared.id}: a method without a source is a rumour")


def _check_units(declared: Method) -> None:
    options: dict[str, set[str]] = {}
    for each in declared.inputs:
        if isinstance(each, Choice):
            options[each.name] = set(each.options)
        for column in each.columns if isinstance(each, Rows) else (each,):
            _check_unit(declared, column, options)
    for output in declared.outputs:
        _check_unit(declared, output, options)


def _check_unit(declared: Method, each: Any, options: Mapping[str, set[str]]) -> None:
    by = getattr(each, "unit_by", None)
    if by and options.get(by[0]) != set(by[1]):
        raise TypeError(f"{declared.id}: {each.name} needs the choice {by[0]} before it, whole")


def _shown(unit: str) -> str:
    return "" if unit == "1" else unit
