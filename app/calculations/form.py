"""The form of a method, made from its description and from nothing else."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from werkzeug.datastructures import MultiDict

from app.calculations.shown import number, unit
from assessments.errors import Refused

# Names in the form, or the JSON, that are not inputs. No method may have an input of such a name.
RESERVED = frozenset({"csrf_token", "calculation", "limits", "add", "inputs", "taken"})

Described = Mapping[str, Any]
Typed = Mapping[str, str | list[list[str]]]


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One box to fill in, or one choice to make."""

    name: str
    label: str
    value: str
    unit: str = ""
    options: Mapping[str, str] | None = None
    optional: bool = False
    wrong: bool = False


@dataclass(frozen=True, kw_only=True)
class Field:
    """One input of a method: a single cell, or rows of cells that can be added to."""

    name: str
    label: str
    hints: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    listed: bool
    joined: bool = False  # a series: each row is one number
    may_add: bool = False
    lead: str = ""  # said once, before inputs that replace each other
    problem: str = ""
    columns: tuple[str, ...] = field(default=())
    notes: tuple[str, ...] = ()  # what the data sheets of machines have for it

    @property
    def cell(self) -> Cell:
        return self.rows[0][0]


# From what was sent to what was typed, and on to what the method reads


def typed_from(described: Described, sent: MultiDict[str, str]) -> Typed:
    """Return what was typed for each input; rows that are wholly blank are left out."""
    return {
        each["name"]: _rows_from(each, sent) if _is_listed(each) else sent.get(each["name"], "")
        for each in described["fields"]
    }


def typed_as(described: Described, question: Mapping[str, Any]) -> Typed:
    """Return a question of the description's examples as if somebody had typed it."""
    return {
        each["name"]: _rows_as(each, question.get(each["name"], []))
        if _is_listed(each)
        else _word(question.get(each["name"], ""))
        for each in described["fields"]
    }


def given(described: Described, typed: Typed) -> dict[str, Any]:
    """Return the inputs as `calculate` reads them; what is blank is absent."""
    inputs: dict[str, Any] = {}
    for each in described["fields"]:
        value = typed[each["name"]]
        if value and each["kind"] == "series":
            inputs[each["name"]] = [row[0] for row in value]
        elif value:
            inputs[each["name"]] = value
    return inputs


def pairs(typed: Typed) -> Iterator[tuple[str, str]]:
    """Return what was typed as hidden fields, to be sent once more."""
    for name, value in typed.items():
        if isinstance(value, str):
            yield name, value
        else:
            for at, row in enumerate(value):
                yield from ((cell_name(name, at, place), cell) for place, cell in enumerate(row))


def _rows_from(each: Described, sent: MultiDict[str, str]) -> list[list[str]]:
    width = len(_columns(each))
    places = [[cell_name(each["name"], at, i) for i in range(width)] for at in range(each["most"])]
    rows = [[sent.get(name, "") for name in names] for names in places]
    rows += _pasted(sent.get(f"{each['name']}-paste", ""), width)
    return [row for row in rows if any(cell.strip() for cell in row)]


def _pasted(text: str, width: int) -> list[list[str]]:
    """Split pasted lines into cells; what is left over stays in the last, to be refused there."""
    if width == 1:
        return [[cell] for cell in re.split(r"[\s;]+", text) if cell]
    rows = [re.split(r"[\t ;]+", line.strip(), maxsplit=width - 1) for line in text.splitlines()]
    return [row + [""] * (width - len(row)) for row in rows]


def _rows_as(each: Described, rows: Sequence[Any]) -> list[list[str]]:
    if each["kind"] == "series":
        return [[_word(value)] for value in rows]
    return [[_word(value) for value in row] for row in rows]


def _word(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value)


# From what was typed to what is shown


def fields(
    described: Described,
    typed: Typed,
    *,
    adding: str = "",
    problem: Refused | None = None,
    notes: Mapping[str, Sequence[str]] | None = None,
) -> tuple[Field, ...]:
    """Return the fields to show: with what was typed, one more row, and what was refused."""
    leads = _leads(described)
    return tuple(
        _field(
            each,
            typed[each["name"]],
            described,
            adding=adding == each["name"],
            lead=leads.get(each["name"], ""),
            problem=problem.sentence if problem and problem.field == each["name"] else "",
            notes=tuple((notes or {}).get(each["name"], ())),
        )
        for each in described["fields"]
    )


def _wrong(each: Described, problem: str) -> tuple[int, str] | None:
    """Return which row and column a refusal speaks of, counted from 1; 0 and "" are all."""
    if not problem:
        return None
    named = re.match(rf"{re.escape(each['name'])} (?:row|number) (\d+)(?:, (\w+),)?", problem)
    return (int(named[1]), named[2] or "") if named else (0, "")


def _field(
    each: Described,
    value: str | list[list[str]],
    described: Described,
    *,
    adding: bool,
    lead: str,
    problem: str,
    notes: tuple[str, ...],
) -> Field:
    columns = _columns(each)
    listed = not isinstance(value, str)
    rows = [[value]] if isinstance(value, str) else _padded(each, value, adding=adding)
    wrong = _wrong(each, problem)
    return Field(
        name=each["name"],
        label=each["label"],
        hints=tuple(_hints(each, described)),
        rows=tuple(
            tuple(
                _cell(
                    column,
                    cell_name(each["name"], at, place) if listed else each["name"],
                    row[place],
                    wrong=wrong is not None
                    and wrong[0] in (0, at + 1)
                    and wrong[1] in ("", column["name"]),
                )
                for place, column in enumerate(columns)
            )
            for at, row in enumerate(rows)
        ),
        listed=listed,
        joined=each["kind"] == "series",
        may_add=listed and len(rows) < each["most"],
        lead=lead,
        problem=problem,
        columns=tuple(column["label"] for column in columns),
        notes=notes,
    )


def _padded(each: Described, rows: list[list[str]], *, adding: bool) -> list[list[str]]:
    wanted = max(each["least"], 1, len(rows) + adding)
    blank = [""] * len(_columns(each))
    return [*rows, *(blank for _ in range(len(rows), min(wanted, each["most"])))]


def _cell(column: Described, name: str, value: str, *, wrong: bool) -> Cell:
    return Cell(
        name=name,
        label=column["label"],
        value=value,
        unit=_unit(column),
        options=column.get("options"),
        optional=bool(column["optional"] or column["default"] is not None),
        wrong=wrong,
    )


def _unit(column: Described) -> str:
    by = column.get("unit_by")
    units = by["units"].values() if by else [column.get("unit", "")]
    return " or ".join(unit(each) for each in dict.fromkeys(units))


def _hints(each: Described, described: Described) -> Iterator[str]:
    if each["kind"] == "rows":
        yield f"{_sentence(each['meaning'])} From {each['least']} to {each['most']} rows."
        for column in each["columns"]:
            yield f"{column['label']}: {_meant(column)}"
    else:
        yield _meant(each)
    if each["when"]:
        yield _when(each["when"], described)
    if each["default"] is not None:
        yield f"{_word(each['default'])} is taken where this is left empty."
    elif each["optional"]:
        yield "May be left empty."


def _meant(each: Described) -> str:
    """Say what an input means and what it may be; a choice shows that by itself."""
    return f"{_sentence(each['meaning'])} {_asked(each)}".rstrip()


def _asked(each: Described) -> str:
    match each["kind"]:
        case "number":
            kind = "A whole number" if each["whole"] else "A number"
            return f"{kind} {_range(each)}{_for_example(each)}."
        case "series":
            count = f"{each['least']} to {each['most']}"
            return f"From {count} numbers, each {_range(each)}."
        case "text":
            return f"At most {each['most']} characters{_for_example(each)}."
    return ""


def _range(each: Described) -> str:
    return f"from {number(each['low'])} to {number(each['high'])} {_unit(each)}".rstrip()


def _for_example(each: Described) -> str:
    return "" if each["example"] is None else f", for example {_word(each['example'])}"


def _sentence(words: str) -> str:
    return words if words.endswith((".", "?")) else f"{words}."


def _when(when: Described, described: Described) -> str:
    choice = next(each for each in described["fields"] if each["name"] == when["input"])
    options = " or ".join(f"“{choice['options'][option]}”" for option in when["is"])
    return f"Only where {choice['label']} is {options}; leave it empty otherwise."


def _leads(described: Described) -> dict[str, str]:
    """Say, at the first of them, which inputs replace each other."""
    labels = {each["name"]: each["label"] for each in described["fields"]}
    leads: dict[str, str] = {}
    for groups in described["one_of"]:
        words = [" with ".join(labels[name] for name in group) for group in groups]
        named = {name for group in groups for name in group}
        first = next(name for name in labels if name in named)
        leads[first] = f"Give exactly one of these: {'; or '.join(words)}."
    return leads


def _columns(each: Described) -> Sequence[Described]:
    return each["columns"] if each["kind"] == "rows" else (each,)


def _is_listed(each: Described) -> bool:
    return each["kind"] in ("rows", "series")


def cell_name(name: str, row: int, column: int) -> str:
    return f"{name}-{row}-{column}"
