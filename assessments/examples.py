"""Example questions of a method: its own, or made from the examples of its inputs."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from typing import Any

from assessments.method import Method


def questions(method: Method) -> list[dict[str, Any]]:
    """Return questions that between them use every input: one for each group of
    alternatives and each option that brings inputs of its own.
    """
    if method.examples:
        return [dict(example) for example in method.examples]
    groups = [one_of.groups for one_of in method.one_of]
    return [
        _question(method, choices, {name for group in chosen for name in group})
        for choices in _choices(method)
        for chosen in product(*groups)
    ]


def _choices(method: Method) -> list[dict[str, str]]:
    """Return the settings of those choices that other inputs depend on."""
    options: dict[str, list[str]] = {}
    for each in method.inputs:
        if each.when:
            known = options.setdefault(each.when[0], [])
            known.extend(option for option in each.when[1] if option not in known)
    return [dict(zip(options, setting, strict=True)) for setting in product(*options.values())]


def _question(method: Method, choices: Mapping[str, str], alternatives: set[str]) -> dict[str, Any]:
    replaced = {name for one_of in method.one_of for name in one_of.names} - alternatives
    values: dict[str, Any] = {}
    for each in method.inputs:
        wanted = each.when is None or values.get(each.when[0]) in each.when[1]
        example = choices.get(each.name, each.example)
        if wanted and each.name not in replaced and example is not None:
            values[each.name] = example
    return values
