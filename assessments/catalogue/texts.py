"""Every text of a kind with the place where it stands, so that a rule can look at them all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

from assessments.catalogue.kind import Kind, Source
from assessments.catalogue.shape import name_in_file


def texts(kind: Kind) -> Iterator[tuple[str, str]]:
    """Give place and text of our own words: titles of publications and sources are not ours."""
    for where, text in _walk(kind, ""):
        if not where.endswith("source"):
            yield where, text


def sources_named(kind: Kind) -> Iterator[tuple[str, str]]:
    """Give place and text of every field that says where something comes from, where given."""
    for where, text in _walk(kind, ""):
        if where.endswith("source") and text:
            yield where, text


def _walk(value: Any, where: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Source | Enum):
        return
    if isinstance(value, str):
        yield where, value
    elif is_dataclass(value):
        for each in fields(value):
            yield from _walk(getattr(value, each.name), _within(where, name_in_file(each)))
    elif isinstance(value, Mapping):
        for name, each in value.items():
            yield from _walk(each, _within(where, name))
    elif isinstance(value, tuple):
        for count, each in enumerate(value, start=1):
            yield from _walk(each, f"{where} {getattr(each, 'key', count)}")


def _within(where: str, name: str) -> str:
    return f"{where}: {name}" if where else name
