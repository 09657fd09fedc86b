"""From a kind to the text of its file; what is read back is equal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from typing import Any

import tomli_w

from assessments.catalogue.kind import Kind
from assessments.catalogue.shape import name_in_file
from assessments.hierarchy import Level


def write_kind(kind: Kind) -> str:
    """Return a kind as TOML, its fields in the order of `kind.py`; what is default is left out."""
    return tomli_w.dumps(_table(kind), multiline_strings=True, indent=2)


def _table(value: Any) -> dict[str, Any]:
    written: dict[str, Any] = {}
    for each in fields(value):
        held = getattr(value, each.name)
        if each.default is MISSING or held != each.default:
            written[name_in_file(each)] = _plain(held)
    return written


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return _table(value)
    if isinstance(value, Level):
        return value.name.lower()
    if isinstance(value, str):
        return str(value)
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return value
