"""Whether a finding would still come out as it was frozen, by today's methods, limits and data."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from sqlalchemy.orm import Session

from app.calculations.limits import limits_asked, limits_of_the_site
from app.hazards.findings import outdated
from app.hazards.models import HazardFinding
from assessments.calculate import calculate
from assessments.document.frozen import freeze_finding, thaw_finding
from assessments.errors import Refused
from assessments.finding import Finding
from assessments.limits import Limits
from assessments.method import Method
from assessments.methods import find

OwnRows = tuple[tuple[tuple[str, str], ...], ...]


def stale_findings(session: Session, rows: Sequence[HazardFinding]) -> dict[int, str]:
    """Say, by the finding's id, which of them no longer stand, and why.

    A finding falls with an edition of its method, with the limits it was held against, and
    with the data of the machine that it was computed from.
    """
    of_the_site = limits_of_the_site(session)
    moved_on = outdated(session, rows)
    said = {}
    for row in rows:
        why = [stale(row.content, limits_asked(row.limits, of_the_site)), moved_on.get(row.id)]
        if any(why):
            said[row.id] = " ".join(words for words in why if words)
    return said


def stale(finding_text: str, limits: Limits) -> str | None:
    """Return why a frozen finding no longer stands, in one sentence, or None if it does.

    It stands when its inputs, asked again with these limits, give the very same text. Whatever
    cannot be asked again does not stand.
    """
    own = tuple(tuple(sorted(row.items())) for row in limits.site)
    return _stale(finding_text, limits.regime, own)


@lru_cache(maxsize=1024)  # methods and printed limits change only when the program does
def _stale(finding_text: str, regime: str | None, own: OwnRows) -> str | None:
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
    return _differs(finding_text, frozen, method, Limits(regime, tuple(map(dict, own))))


def _differs(text: str, frozen: Finding, method: Method, limits: Limits) -> str | None:
    given = _given(frozen, method)
    try:
        today = calculate(frozen.method, given, regime=limits.regime, site_limits=limits.site)
    except Refused as refused:
        return f"The method refuses these inputs now: {refused.sentence}"
    if freeze_finding(today) == text:
        return None
    if today.limit != frozen.limit:
        return "The limit is another one now. Calculate it again."
    return "Calculated now, it comes out differently. Calculate it again."


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
