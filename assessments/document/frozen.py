"""The frozen text of a risk assessment: canonical JSON, its digest, and the way back.

One value has one text: keys sorted, no white space, UTF-8, composed characters (NFC),
dates as ISO 8601, and every number as a decimal string, because two JSON readers need
not agree on a binary fraction. The text is the evidence; the value is only a reading
of it. Each schema number keeps its own reader for ever, with a golden file in the tests.
"""

from __future__ import annotations

import hashlib
import json
import types
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum, IntEnum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from assessments.document.content import SCHEMA, RiskAssessment
from assessments.document.numerals import number_from, numeral
from assessments.document.signs import sign
from assessments.errors import Refused
from assessments.finding import Finding

JSON = dict[str, "JSON"] | list["JSON"] | str | bool | None


def freeze(content: RiskAssessment) -> str:
    """Return the canonical text of a risk assessment.

    Refused, in one sentence that names the place: a number that is not finite, a
    character that cannot be printed, a value of a kind that has no written form, a
    rating outside the scale, a sign that is not kept here.
    """
    for number in (*content.signs, *(line.sign for line in content.hazards if line.sign)):
        sign(number)
    for line in content.hazards:
        content.scale.score(line.before)
        content.scale.score(line.after)
    if str(content.schema) not in READERS:
        raise Refused(f"Schema {content.schema} is unknown here.", field="schema")
    return canonical(_written(content, RiskAssessment, "the assessment", content.schema))


def canonical(tree: JSON) -> str:
    """Return the one text of a tree of objects, lists and strings."""
    return json.dumps(tree, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def digest(text: str) -> str:
    """Return the SHA-256 of the text in UTF-8.  [64 hexadecimal digits]"""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def thaw(text: str) -> RiskAssessment:
    """Read a frozen text back, whatever schema wrote it.

    Refused: a text that is not JSON, an unknown schema, an unknown or missing or doubled
    field, a bare number, a value that its field cannot hold.
    """
    tree = _parsed(text)
    if not isinstance(tree, dict) or "schema" not in tree:
        raise Refused("The frozen text names no schema.", field="schema")
    reader = READERS.get(str(tree["schema"]))
    if reader is None:
        raise Refused(
            f"Schema {tree['schema']!r} is unknown here; known: {', '.join(READERS)}.",
            field="schema",
        )
    return reader(tree)


def _reader(schema: int) -> Callable[[JSON], RiskAssessment]:
    def read(tree: JSON) -> RiskAssessment:
        content: RiskAssessment = _read(tree, RiskAssessment, "the assessment", schema)
        return content

    return read


# Schema 2 added fields and changed none, so that one reader leaves out what came later.
READERS: dict[str, Callable[[JSON], RiskAssessment]] = {"1": _reader(1), "2": _reader(2)}


def freeze_finding(finding: Finding) -> str:
    """Return the canonical text of one finding, as it stands beside a hazard before approval.

    Refused as by `freeze`: a number that is not finite, a value without a written form.
    """
    return canonical(_written(finding, Finding, "the finding"))


def thaw_finding(text: str) -> Finding:
    """Read one frozen finding back.  Refused as by `thaw`, save that it has no schema."""
    finding: Finding = _read(_parsed(text), Finding, "the finding")
    return finding


def freeze_value(value: Any, where: str) -> str:
    """Return the canonical text of any frozen dataclass whose fields say what they hold.

    ``where`` names it in a refusal. Refused as by `freeze`; a moment has its zone.
    """
    return canonical(_written(value, type(value), where))


# Writing


def _written(value: Any, kind: Any, where: str, schema: int = SCHEMA) -> JSON:
    """Return the JSON of a value that its declaration says is of this kind."""
    kind, optional = _unwrapped(kind)
    if value is None and (optional or kind is Any):
        return None
    if isinstance(kind, type) and is_dataclass(kind):
        return {
            name: _written(getattr(value, name), hint, f"{where}, {name}", schema)
            for name, hint in _hints(kind, schema).items()
        }
    if get_origin(kind) is tuple:
        inner = get_args(kind)[0]
        return [_written(v, inner, f"{where} {n}", schema) for n, v in enumerate(value, start=1)]
    if get_origin(kind) is not None and issubclass(get_origin(kind), Mapping):
        return _written_mapping(value, get_args(kind)[1], where)
    if kind is Any:
        return _written_open(value, where)
    return _written_leaf(value, kind, where)


def _written_leaf(value: Any, kind: Any, where: str) -> JSON:
    if isinstance(kind, type) and issubclass(kind, Enum):
        return _enum_word(kind(value))
    if kind is bool and isinstance(value, bool):
        return value
    if kind is str and isinstance(value, str):
        return _clean(value, where)
    if kind is date and isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    if kind is datetime and isinstance(value, datetime) and value.tzinfo is not None:
        return value.isoformat(timespec="microseconds")
    if kind in (int, float):
        return numeral(value, kind, where)
    raise Refused(f"{where}: {type(value).__name__} is not {kind.__name__}.", field=where)


def _written_mapping(value: Mapping[str, Any], inner: Any, where: str) -> JSON:
    tree: dict[str, JSON] = {}
    for key, item in value.items():
        name = _clean(key, where)
        if name in tree:
            raise Refused(f"{where}: the name {name!r} stands twice.", field=where)
        tree[name] = _written(item, inner, f"{where}, {name}")
    return tree


def _written_open(value: Any, where: str) -> JSON:
    """Write a value whose kind is not declared, with a mark that tells it when read."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return {"text": _clean(value, where)}
    if isinstance(value, Mapping):
        return {"row": _written_mapping(value, Any, where)}
    if isinstance(value, (list, tuple)):
        return [_written(v, Any, f"{where} {n}") for n, v in enumerate(value, start=1)]
    return {"number": numeral(value, None, where)}


def _clean(text: str, where: str) -> str:
    """Compose the characters, and refuse what no page can show."""
    if not isinstance(text, str):
        raise Refused(f"{where}: {type(text).__name__} is not text.", field=where)
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n"))
    for letter in text:
        if unicodedata.category(letter) in ("Cc", "Cs") and letter not in "\n\t":
            raise Refused(f"{where}: the character {letter!a} cannot be printed.", field=where)
    return text


# Reading


def _read(tree: JSON, kind: Any, where: str, schema: int = SCHEMA) -> Any:
    kind, optional = _unwrapped(kind)
    if tree is None and (optional or kind is Any):
        return None
    if is_dataclass(kind):
        return _read_object(tree, kind, where, schema)
    if get_origin(kind) is tuple:
        inner = get_args(kind)[0]
        rows = _expect(tree, list, where)
        return tuple(_read(v, inner, f"{where} {n}", schema) for n, v in enumerate(rows, start=1))
    if get_origin(kind) is not None and issubclass(get_origin(kind), Mapping):
        inner = get_args(kind)[1]
        return _read_mapping(tree, inner, where)
    if kind is Any:
        return _read_open(tree, where)
    return _read_leaf(tree, kind, where)


def _read_object(tree: JSON, kind: Any, where: str, schema: int) -> Any:
    given = _expect(tree, dict, where)
    hints = _hints(kind, schema)
    if unknown := sorted(given.keys() - hints.keys()):
        raise Refused(f"{where}: unknown field {', '.join(unknown)}.", field=unknown[0])
    if missing := sorted(hints.keys() - given.keys()):
        raise Refused(f"{where}: missing field {', '.join(missing)}.", field=missing[0])
    return kind(**{n: _read(given[n], hint, f"{where}, {n}", schema) for n, hint in hints.items()})


def _read_mapping(tree: JSON, inner: Any, where: str) -> dict[str, Any]:
    given = _expect(tree, dict, where)
    return {_clean(k, where): _read(v, inner, f"{where}, {k}") for k, v in given.items()}


def _read_leaf(tree: JSON, kind: Any, where: str) -> Any:
    if kind is bool:
        return _expect(tree, bool, where)
    text = _expect(tree, str, where)
    if kind is str:
        return _clean(text, where)
    if kind in (int, float):
        return number_from(text, kind, where)
    if kind is date:
        return _read_date(text, where)
    for member in kind:
        if _enum_word(member) == text:
            return member
    raise Refused(f"{where}: {text!r} is none of the words for it.", field=where)


def _read_date(text: str, where: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError as error:
        raise Refused(f"{where}: {text!r} is not a date.", field=where) from error
    if found.isoformat() != text:
        raise Refused(f"{where}: {text!r} is not written as year-month-day.", field=where)
    return found


def _read_open(tree: JSON, where: str) -> Any:
    if isinstance(tree, bool):
        return tree
    if isinstance(tree, list):
        return [_read(v, Any, f"{where} {n}") for n, v in enumerate(tree, start=1)]
    marked = _expect(tree, dict, where)
    if len(marked) == 1:
        ((mark, inner),) = marked.items()
        if mark == "text":
            return _clean(_expect(inner, str, where), where)
        if mark == "number":
            return number_from(_expect(inner, str, where), None, where)
        if mark == "row":
            return _read_mapping(inner, Any, where)
    raise Refused(f"{where}: an open value is marked text, number or row.", field=where)


# Shared


def _parsed(text: str) -> JSON:
    try:
        tree: JSON = json.loads(
            text,
            object_pairs_hook=_once,
            parse_int=_bare,
            parse_float=_bare,
            parse_constant=_bare,
        )
    except json.JSONDecodeError as error:
        raise Refused(f"The frozen text is not JSON: {error}.") from error
    return tree


@cache
def _hints(kind: Any, schema: int) -> dict[str, Any]:
    """Return the fields that texts of this schema have, with what each may hold."""
    hints = get_type_hints(kind)
    return {
        field.name: hints[field.name]
        for field in fields(kind)
        if field.metadata.get("since", 1) <= schema
    }


def _unwrapped(kind: Any) -> tuple[Any, bool]:
    """Split ``X | None`` into X and whether None is allowed."""
    if get_origin(kind) in (Union, types.UnionType):
        (inner,) = (arm for arm in get_args(kind) if arm is not type(None))
        return inner, True
    return kind, False


def _enum_word(member: Enum) -> str:
    return member.name.lower() if isinstance(member, IntEnum) else str(member.value)


def _expect(tree: JSON, kind: Any, where: str) -> Any:
    if not isinstance(tree, kind):
        raise Refused(f"{where}: {type(tree).__name__} where {kind.__name__} belongs.", field=where)
    return tree


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    tree = dict(pairs)
    if len(tree) != len(pairs):
        raise Refused("The frozen text holds a field twice.")
    return tree


def _bare(text: str) -> Any:
    raise Refused(f"The frozen text holds the bare number {text}; numbers are decimal strings.")
