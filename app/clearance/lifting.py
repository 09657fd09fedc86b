"""What an override lifts, to what, and who may grant it. Pure.

Nothing of the machine part is in the table, so that nothing which is out of use is ever
lifted; nor a suspension, a mark, an age, equipment, a missing supervisor, first aider or
companion. Those are danger and not policy, or somebody else's decision.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from app.clearance.codes import Code, Lifted, Reason, Verdict
from app.clearance.known import Facts, OverrideFact
from app.people.rights import Act


@dataclass(frozen=True, kw_only=True, slots=True)
class Lift:
    """What a reason becomes under an override, and the right that granting it asks for."""

    becomes: Verdict  # cleared: the reason is lifted as a whole
    act: Act


_UNDER_SUPERVISION = Lift(becomes=Verdict.SUPERVISED, act=Act.OVERRIDE)
_BY_PERMIT = Lift(becomes=Verdict.CLEARED, act=Act.PERMIT)

LIFTABLE: dict[Code, Lift] = {
    Code.INDUCTION_MISSING: _UNDER_SUPERVISION,
    Code.INDUCTION_NOT_YET: _UNDER_SUPERVISION,
    Code.INDUCTION_EXPIRED: _UNDER_SUPERVISION,
    Code.INDUCTION_OUTDATED: _UNDER_SUPERVISION,
    Code.PREREQUISITE_LAPSED: _UNDER_SUPERVISION,
    Code.CLOSED_NOW: _BY_PERMIT,
    Code.UNSTAFFED: _BY_PERMIT,
}


def override_of(facts: Facts, code: Code) -> OverrideFact | None:
    """Return the override that lifts this code for this person here now; the longest of several."""
    if facts.person is None or code not in LIFTABLE:
        return None
    standing = (
        each
        for each in facts.person.overrides
        if each.machine_id == facts.machine.id and each.lifts == code and facts.now < each.until
    )
    return max(standing, key=lambda each: (each.until, -each.id), default=None)


def lifted(
    facts: Facts, reasons: Iterable[Reason]
) -> tuple[tuple[Reason, ...], tuple[Lifted, ...]]:
    """Return the reasons as the overrides leave them, and those that were lifted."""
    left: list[Reason] = []
    found: list[Lifted] = []
    for reason in reasons:
        override = override_of(facts, reason.code)
        if override is None or LIFTABLE[reason.code].becomes >= reason.verdict:
            left.append(reason)
            continue
        found.append(
            Lifted(
                reason=reason,
                override_id=override.id,
                author_id=override.author_id,
                until=override.until,
            )
        )
        becomes = LIFTABLE[reason.code].becomes
        if becomes is not Verdict.CLEARED:
            left.append(replace(reason, code=Code.OVERRIDE, verdict=becomes))
    return tuple(left), tuple(found)
