"""A method as plain data: enough for a form, a list of methods, or a page of documentation."""

from __future__ import annotations

from typing import Any

from assessments.examples import questions
from assessments.method import AnyInput, Choice, Method, Number, Rows, Series, Text, UnitBy


def describe(method: Method) -> dict[str, Any]:
    """Return a method's whole declaration as data that JSON can carry."""
    return {
        "id": method.id,
        "family": method.family,
        "title": method.title,
        "answers": method.answers,
        "edition": method.edition,
        "equation": method.equation,
        "validity": method.validity,
        "fields": [_field(each) for each in method.inputs],
        "one_of": [[list(group) for group in each.groups] for each in method.one_of],
        "outputs": [
            {
                "name": each.name,
                "unit": each.unit,
                "unit_by": _unit_by(each.unit_by),
                "meaning": each.meaning,
                "optional": each.optional,
                "options": list(each.options),
            }
            for each in method.outputs
        ],
        "examples": questions(method),
        "judged": method.judge.output if method.judge else None,
        "bands": [band.value for band in method.bands],
        "sources": [str(source) for source in method.sources],
        "cautions": list(method.cautions),
    }


def _field(each: AnyInput) -> dict[str, Any]:
    """Return one field; ``kind`` is number, choice, text, series or rows."""
    when = {"input": each.when[0], "is": list(each.when[1])} if each.when else None
    field = {
        "name": each.name,
        "label": each.words,
        "kind": type(each).__name__.lower(),
        "meaning": each.meaning,
        "asked": each.asked,
        "example": each.example,
        "optional": each.optional,
        "default": each.default,
        "when": when,
    }
    return field | _particular(each)


def _unit_by(by: UnitBy | None) -> dict[str, Any] | None:
    return {"input": by[0], "units": dict(by[1])} if by else None


def _particular(each: AnyInput) -> dict[str, Any]:
    match each:
        case Number():
            range_ = {"unit": each.unit, "low": each.low, "high": each.high}
            return range_ | {"whole": each.whole, "unit_by": _unit_by(each.unit_by)}
        case Choice():
            return {"options": dict(each.options)}
        case Text():
            return {"most": each.most}
        case Series():
            range_ = {"unit": each.unit, "low": each.low, "high": each.high}
            lengths = {"least": each.least, "most": each.most}
            return range_ | lengths | {"unit_by": _unit_by(each.unit_by)}
        case Rows():
            columns = [_field(column) for column in each.columns]
            return {"columns": columns, "least": each.least, "most": each.most}
