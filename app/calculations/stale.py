"""Whether a finding would still come out as it was frozen, by today's methods and limits."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from assessments.calculate import calculate
from assessments.document.frozen import freeze_finding, thaw_finding
from assessments.errors import Refused
from assessments.finding import Finding
from assessments.limits import REGIMES
from assessments.method import Method
from assessments.methods import find


@lru_cache(maxsize=1024)  # methods and limits change only when the program does
def stale(finding_text: str) -> str | None:
    """Return why a frozen finding no longer stands, in one sentence, or None if it does.

    It stands when its inputs, asked again, give the very same text. Whatever cannot be
    asked again does not stand.
    """
    try:
        frozen = thaw_finding(finding_text)
    except Refused as refused:
        return f"This finding cannot be read: {refused.sentence}"
    try:
        method = find(frozen.method)
    except Refused:
        return f"{frozen.method} is not calculated here any more."
    if method.edition != frozen.edition:
        return (
            f"The method is in edition {method.edition} now; this came from edition "
            f"{frozen.edition}. Calculate it again."
        )
    return _differs(finding_text, frozen, method)


def _differs(text: str, frozen: Finding, method: Method) -> str | None:
    given = _given(frozen, method)
    for regime in _regimes(frozen):
        try:
            today = calculate(frozen.method, given, regime=regime)
        except Refused as refused:
            return f"The method refuses these inputs now: {refused.sentence}"
        if freeze_finding(today) == text:
            return None
    if today.limit != frozen.limit:
        return "The limit is another one now. Calculate it again."
    return "Calculated now, it comes out differently. Calculate it again."


def _regimes(frozen: Finding) -> list[str]:
    """Return whose limits the finding was held against; all of them where it does not say."""
    named = frozen.limit.regime if frozen.limit else ""
    return [named] if named in REGIMES else list(REGIMES)


def _given(frozen: Finding, method: Method) -> dict[str, Any]:
    """Return the inputs that somebody gave: not those that were taken for want of any."""
    return {
        name: quantity.value
        for name, quantity in frozen.inputs.items()
        if not _was_taken(name, frozen, method)
    }


def _was_taken(name: str, frozen: Finding, method: Method) -> bool:
    each = method.input(name)
    if each is None or each.default is None:
        return False
    return any(line.startswith(f"{each.words} taken as ") for line in frozen.assumptions)
