"""Kinds of machines, benches, rooms and activities: what usually hurts there and what helps.

One file each in ``kinds/``; adding one touches nothing else. It is advice to be confirmed on
site, line by line, and every value names its source or says that it is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from assessments.catalogue.kind import Kind
from assessments.catalogue.reading import parse_kind
from assessments.errors import Refused


@cache
def kinds() -> Mapping[str, Kind]:
    """Return every kind by its key, sorted by key.  Raises Defective where a file is broken."""
    found: dict[str, Kind] = {}
    for file in (files(__name__) / "kinds").iterdir():
        if file.name.endswith(".toml"):
            found[file.name.removesuffix(".toml")] = parse_kind(
                file.read_text("utf-8"), name=file.name
            )
    return MappingProxyType(dict(sorted(found.items())))


def kind(key: str) -> Kind:
    """Return the kind of this key, such as ``"potters-wheel"``.  Raises Refused."""
    try:
        return kinds()[key]
    except KeyError:
        raise Refused(f"There is no kind {key[:60]!r} in the catalogue.", field="kind") from None
