"""All calculation methods: every declared method of every module in this folder.

Adding a method touches one file here and its tests; nothing has to be listed anywhere.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache

from assessments.errors import Refused
from assessments.method import Method


@cache
def catalogue() -> Mapping[str, Method]:
    """Return every method by its id, sorted by id.  Two methods of one id will not load."""
    found: dict[str, Method] = {}
    for module in pkgutil.iter_modules(__path__):
        members = vars(importlib.import_module(f"{__name__}.{module.name}")).values()
        for method in (each for each in members if isinstance(each, Method)):
            if found.setdefault(method.id, method) is not method:
                raise TypeError(f"two methods are called {method.id}")
    return dict(sorted(found.items()))


def find(method_id: str) -> Method:
    """Return the method of this id.  Raises Refused with the ids of its family or all."""
    method = catalogue().get(method_id)
    if method is None:
        family = method_id.partition(".")[0]
        near = [each for each in catalogue() if each.startswith(f"{family}.")]
        known = f"; of this family there are {', '.join(near)}" if near else ""
        raise Refused(f"{method_id[:40]!r} is not a calculation method{known}.", field="method")
    return method
