"""From the plain tables of a file to the dataclasses, and a sentence for each thing amiss.

What a field may hold is read from the annotations in `kind.py`, so that a field is declared
once. Nothing here knows what a hazard is.
"""

from __future__ import annotations

from dataclasses import MISSING, Field, fields
from enum import StrEnum
from types import MappingProxyType, NoneType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from assessments.catalogue.kind import Whole, Words
from assessments.hierarchy import Level

MOST_ENTRIES = 40  # of any list; more is no workshop document but somebody's experiment

ABSENT = object()


class Shape:
    """Reads tables into dataclasses; what it could not read is in ``sentences``."""

    def __init__(self) -> None:
        self.sentences: list[str] = []

    def table(self, cls: type[Any], given: Any, where: str) -> Any:
        """Return an instance of a dataclass, or ABSENT after noting why there is none."""
        if not isinstance(given, dict):
            return self._note(where, "must be a table of its own fields")
        named = {name_in_file(each): each for each in fields(cls)}
        types = get_type_hints(cls, include_extras=True)
        for name in given:
            if name not in named:
                known = ", ".join(named)
                self._note(_within(where, name), f"is not known here; known are {known}")
        values = {
            each.name: self._field(each, types[each.name], given, _within(where, name))
            for name, each in named.items()
        }
        return ABSENT if ABSENT in values.values() else cls(**values)

    def _field(self, each: Field[Any], hint: Any, given: dict[str, Any], where: str) -> Any:
        if name_in_file(each) in given:
            value = given[name_in_file(each)]
            if each.default == "" and value == "":
                return value
            return self._value(hint, value, where)
        if each.default is MISSING:
            return self._note(where, "is missing")
        return each.default

    def _value(self, hint: Any, value: Any, where: str) -> Any:
        origin, arguments = get_origin(hint), get_args(hint)
        if origin is Annotated:
            return self._limited(arguments[1], value, where)
        if origin is Union:
            return self._value(next(a for a in arguments if a is not NoneType), value, where)
        if origin is tuple:
            return self._list(arguments[0], value, where)
        if origin is not None:  # the only mapping there is: the inputs of a calculation
            return self._mapping(arguments[1], value, where)
        return self._plain(hint, value, where)

    def _plain(self, hint: Any, value: Any, where: str) -> Any:
        if hint is bool:
            return value if isinstance(value, bool) else self._note(where, "must be true or false")
        if hint is Level or issubclass(hint, StrEnum):
            return self._word(hint, value, where)
        return self.table(hint, value, where)

    def _word(self, hint: Any, value: Any, where: str) -> Any:
        known = words_of(hint)
        if isinstance(value, str) and value in known:
            return known[value]
        return self._note(where, f"must be one of {', '.join(known)}")

    def _limited(self, limit: Any, value: Any, where: str) -> Any:
        if isinstance(limit, Whole):
            if type(value) is int and limit.low <= value <= limit.high:
                return value
            return self._note(where, f"must be a whole number from {limit.low} to {limit.high}")
        wrong = _wrong_text(limit, value)
        return self._note(where, wrong) if wrong else value

    def _list(self, hint: Any, value: Any, where: str) -> Any:
        if not isinstance(value, list):
            return self._note(where, "must be a list")
        if len(value) > MOST_ENTRIES:
            return self._note(where, f"may hold at most {MOST_ENTRIES} entries")
        read = [
            self._value(hint, each, f"{where} {count}{_named(each)}")
            for count, each in enumerate(value, start=1)
        ]
        return ABSENT if ABSENT in read else tuple(read)

    def _mapping(self, hint: Any, value: Any, where: str) -> Any:
        if not isinstance(value, dict) or len(value) > MOST_ENTRIES:
            return self._note(where, f"must be a table of at most {MOST_ENTRIES} texts")
        read = {name: self._value(hint, each, _within(where, name)) for name, each in value.items()}
        return ABSENT if ABSENT in read.values() else MappingProxyType(read)

    def _note(self, where: str, wrong: str) -> Any:
        self.sentences.append(f"{where or 'the file'} {wrong}.")
        return ABSENT


def name_in_file(each: Field[Any]) -> str:
    """Return what the file calls a field: ``hazard`` for ``hazards``."""
    name: str = each.metadata.get("table", each.name)
    return name


def words_of(hint: Any) -> dict[str, Any]:
    """Return the members of an enumeration by the word that stands for each in a file."""
    if hint is Level:
        return {each.name.lower(): each for each in Level}
    return {each.value: each for each in hint}


def _within(where: str, name: str) -> str:
    shown = name if len(name) <= 40 and name.isprintable() else repr(name[:40])
    return f"{where}: {shown}" if where else shown


def _named(each: Any) -> str:
    """Return the key of an entry, so that a person finds it without counting."""
    key = each.get("key") if isinstance(each, dict) else None
    return f" ({key})" if isinstance(key, str) and len(key) <= 60 and key.isprintable() else ""


def _wrong_text(limit: Words, value: Any) -> str:
    if not isinstance(value, str):
        return "must be a text in quotation marks"
    if len(value) > limit.most:
        return f"may hold at most {limit.most} characters and holds {len(value)}"
    if not (value.replace("\n", "") if limit.lines else value).isprintable():
        return "holds a character that cannot be printed"
    if limit.pattern is not None:
        return "" if limit.pattern.fullmatch(value) else f"must be {limit.words}"
    return "" if value.strip() else "is empty"
