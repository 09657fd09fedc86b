"""From what a person typed (or a form or JSON sent) to the values of a method, or a refusal.

Every refusal is one sentence that names the input, what it must be, and its unit.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn

from assessments import uncertainty, units
from assessments.errors import OutOfRange, Refused
from assessments.method import (
    AnyInput,
    Choice,
    Input,
    Method,
    Number,
    OneOf,
    Rows,
    Series,
    Text,
    in_unit,
)
from assessments.written import exact

LONGEST_LIST = 100_000  # characters; checked before anything is parsed


@dataclass(frozen=True)
class Reading:
    """The checked values by input name; a number may be Uncertain; absent options are None."""

    values: Mapping[str, Any]
    assumptions: tuple[str, ...]

    @property
    def given(self) -> Mapping[str, Any]:
        return {name: value for name, value in self.values.items() if value is not None}


def read(method: Method, given: Mapping[str, Any]) -> Reading:
    """Check and convert every input of a method.  Raises Refused with one sentence.

    A value may be a plain number in the input's unit, a text with or without a unit, a
    ``{"value", "unit"}`` pair, or a list (also as JSON text); blank means absent.
    """
    for name in given:
        if method.input(name) is None:
            known = ", ".join(f"{each.name} ({each.asked})" for each in method.inputs)
            raise Refused(f"{name[:40]!r} is not an input of {method.id}: {known}.", field=name)
    present = {name: value for name, value in given.items() if not _is_blank(value)}
    alternatives = frozenset[str]().union(*(group.names for group in method.one_of))
    for one_of in method.one_of:
        _check_alternatives(method, one_of, present)
    values: dict[str, Any] = {}
    assumptions: list[str] = []
    for each in method.inputs:
        wanted = _is_wanted(each, values)
        if each.name in present and not wanted:
            raise Refused(f"{each.name} is used only when {_when(each)}.", field=each.name)
        if each.name in present:
            values[each.name] = _value(in_unit(each, values), present[each.name])
        elif wanted and each.default is not None:
            values[each.name] = _value(in_unit(each, values), each.default)
            assumptions.append(f"{each.words} taken as {each.default}: none was given.")
        elif wanted and not each.optional and each.name not in alternatives:
            raise Refused(f"{each.name} is missing: it must be {each.asked}.", field=each.name)
        else:
            values[each.name] = None
    return Reading(values, tuple(assumptions))


def _is_blank(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value[:100].strip())


def _is_wanted(each: AnyInput, values: Mapping[str, Any]) -> bool:
    return each.when is None or values.get(each.when[0]) in each.when[1]


def _when(each: AnyInput) -> str:
    choice, options = each.when or ("", ())
    return f"{choice} is {' or '.join(options)}"


def _check_alternatives(method: Method, one_of: OneOf, present: Mapping[str, Any]) -> None:
    chosen = one_of.names & present.keys()
    optional = {each.name for each in method.inputs if each.optional}
    begun = [group for group in one_of.groups if chosen and chosen <= set(group)]
    missing = [[name for name in group if name not in chosen | optional] for group in begun]
    if not all(missing):
        return  # at least one group is whole, and nothing of another is given
    if len(begun) == 1:
        first = _asked(method, missing[0][0])
        raise Refused(f"{first} is missing.", field=missing[0][0])
    groups = [" with ".join(_asked(method, name) for name in group) for group in one_of.groups]
    field = next(iter(sorted(chosen)), one_of.groups[0][0])
    raise Refused(f"Give exactly one of these: {'; or '.join(groups)}.", field=field)


def _asked(method: Method, name: str) -> str:
    each = method.input(name)
    return f"{name} ({each.asked})" if each else name


def _value(each: AnyInput, given: Any) -> Any:
    match each:
        case Rows():
            return tuple(
                _row(each, row, f"{each.name} row {count}")
                for count, row in enumerate(_list(each, given, each.least, each.most), start=1)
            )
        case Series():
            return tuple(
                _number(each.column, value, f"{each.name} number {count}")
                for count, value in enumerate(_list(each, given, each.least, each.most), start=1)
            )
        case _:
            return _cell(each, given, each.name)


def _row(rows: Rows, row: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(row, Sequence) or isinstance(row, str) or len(row) != len(rows.columns):
        names = ", ".join(f"{column.name} ({column.asked})" for column in rows.columns)
        raise Refused(f"{where} must hold {len(rows.columns)} values: {names}.", field=rows.name)
    return tuple(
        _cell(column, cell, f"{where}, {column.name},", owner=rows)
        for column, cell in zip(rows.columns, row, strict=True)
    )


def _cell(each: AnyInput, given: Any, where: str, owner: Input | None = None) -> Any:
    try:
        if isinstance(each, Number):
            return _number(each, given, where)
        return _word(each, given, where)
    except Refused as refused:
        # A form marks the list that the cell stands in.
        raise type(refused)(refused.sentence, field=(owner or each).name) from None


def _list(each: Rows | Series, given: Any, least: int, most: int) -> Sequence[Any]:
    if isinstance(given, str):
        given = _parsed(each, given)
    if not isinstance(given, Sequence) or not least <= len(given) <= most:
        raise Refused(f"{each.name} must be {each.asked}.", field=each.name)
    return given


def _parsed(each: Rows | Series, text: str) -> Any:
    if len(text) > LONGEST_LIST:
        raise Refused(
            f"{each.name} must be {each.asked}, in at most {LONGEST_LIST} characters.",
            field=each.name,
        )
    try:
        return json.loads(uncertainty.quote(text), parse_constant=_not_a_constant)
    except (ValueError, RecursionError):
        raise Refused(
            f"{each.name} must be {each.asked}, written as a JSON list with words and units in "
            "double quotes.",
            field=each.name,
        ) from None


def _not_a_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


def _number(number: Number, given: Any, where: str) -> float | int | uncertainty.Uncertain:
    given, unit = _with_unit(given)
    if isinstance(given, str):
        uncertain = uncertainty.read(given, number, where)
        if uncertain is not None:
            _converted(number, 1.0, uncertain.unit, where)
            return uncertain
        if _DECIMAL_COMMA.fullmatch(given.strip()[: units.LONGEST_NUMBER]):
            _refuse(number, given, f"{where} takes a point before its decimals and")
        given, unit = units.split(given) or (given, unit)
    if isinstance(given, bool) or not isinstance(given, int | float):
        _refuse(number, given, where)
    try:
        value = _converted(number, float(given), unit or number.unit, where)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value) or (number.whole and value != round(value)):
        _refuse(number, given, where)
    if not number.low <= value <= number.high:
        sentence = f"{where} must be {number.asked}; {_shown(given)} {unit}".rstrip()
        raise OutOfRange(f"{sentence} was given.", field=number.name)
    return int(value) if number.whole else value


def _with_unit(given: Any) -> tuple[Any, str]:
    if isinstance(given, Mapping) and given.keys() <= {"value", "unit"}:
        return given.get("value"), str(given.get("unit", ""))[:40]
    return given, ""


def _converted(number: Number, value: float, unit: str, where: str) -> float:
    try:
        return float(units.convert(value, unit, number.unit))
    except units.UnitError as error:
        raise Refused(f"{where} must be {number.asked}; {error}.", field=number.name) from None


def _refuse(number: Number, given: Any, where: str) -> NoReturn:
    raise Refused(f"{where} must be {number.asked}; {_shown(given)} was given.", field=number.name)


_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+.*", re.ASCII)


def _shown(given: Any) -> str:
    if isinstance(given, int | float):
        return exact(given) if abs(given) < 1e300 else "a number beyond all bounds"
    return repr(given[:40]) if isinstance(given, str) else f"a {type(given).__name__}"


def _word(each: AnyInput, given: Any, where: str) -> str:
    given, _ = _with_unit(given)
    if isinstance(given, int | float) and not isinstance(given, bool):
        given = _shown(given)
    is_word = isinstance(given, str) and len(given) <= units.LONGEST_NUMBER
    word = given.strip() if is_word else ""
    if isinstance(each, Choice):
        word = _option(each, word)
    known = word in each.options if isinstance(each, Choice) else _is_name(each, word)
    if not known:
        raise Refused(f"{where} must be {each.asked}; {_shown(given)} was given.", field=each.name)
    return word


def _option(choice: Choice, word: str) -> str:
    """Return the option that a word spells: SNR is snr, and mg/m³ is mg/m3."""
    typed = units.plain(word).casefold()
    spelt = [option for option in choice.options if units.plain(option).casefold() == typed]
    return spelt[0] if len(spelt) == 1 else word


def _is_name(each: AnyInput, word: str) -> bool:
    return isinstance(each, Text) and 0 < len(word) <= each.most and word.isprintable()
