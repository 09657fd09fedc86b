"""Whether the calculations that a kind proposes can be done with the inputs it proposes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from assessments.calculate import calculate
from assessments.catalogue.kind import Calculation, Kind
from assessments.errors import Refused
from assessments.method import Choice, Method, Number
from assessments.methods import catalogue
from assessments.reading import read


def uncomputable(kind: Kind) -> Iterator[str]:
    """Give one sentence for each proposed calculation that its method would refuse."""
    for hazard in kind.hazards:
        for proposed in hazard.methods:
            wrong = _wrong(proposed)
            if wrong:
                yield f"hazard {hazard.key}: method {proposed.id}: {wrong}"


def _wrong(proposed: Calculation) -> str:
    method = catalogue().get(proposed.id)
    if method is None:
        return "there is no such calculation method."
    for name in proposed.ask:
        if method.input(name) is None:
            return f"ask: {name!r} is not an input of it."
        if name in proposed.inputs:
            return f"ask: {name} is also given in inputs; it is asked or given, not both."
    try:
        _try(method, proposed)
    except Refused as refused:
        return f"inputs: {refused.sentence}"
    return ""


def _try(method: Method, proposed: Calculation) -> None:
    """Calculate; where something is still to be asked, read with a stand-in for each of these."""
    if not proposed.ask:
        calculate(method.id, proposed.inputs)
        return
    read(method, {**proposed.inputs, **{name: _stand_in(method, name) for name in proposed.ask}})


def _stand_in(method: Method, name: str) -> Any:
    """Return a value that the input would take: what it is does not matter, nothing is computed."""
    each = method.input(name)
    if each is not None and each.example is not None:
        return each.example
    if isinstance(each, Number):
        return each.low
    if isinstance(each, Choice):
        return next(iter(each.options))
    raise Refused(f"{name} cannot be asked for here.", field=name)
