"""Which machines nobody may start from a printed list, and what a reader of it has to see to. Pure.

A list tells of the moment at which it was made. It is no fall-back for a machine of which one word
that was spoken since could cost a hand: that is asked of a technician, or nobody starts.
"""

from __future__ import annotations

from collections.abc import Iterator

from app.clearance.decision import MachineFacts, Reason, Verdict, worst
from app.clearance.wording import words
from app.risk_assessments.run_mode import RunMode


def never_from_paper(machine: MachineFacts, reasons: tuple[Reason, ...]) -> str | None:
    """Return why nobody starts this machine from a list, or None if they may.

    Args:
        machine: as the register knows it when the list is made.
        reasons: what holds for everybody there, by the one decision.
    """
    if worst(reasons) is Verdict.OUT_OF_USE:
        # It returns by named tests, which a list printed before cannot know of.
        return " ".join(words(reason).sentence for reason in reasons)
    if reasons:
        # A check that is done later in the day lets people start, but not from paper.
        return " ".join(words(reason).sentence for reason in reasons)
    if any(each.run_mode is RunMode.TECHNICIAN_RUN for each in machine.assessments):
        return "Technicians run it; others bring them a file or material."
    if machine.id in machine.house.red_list:
        return "Nobody uses it alone, and a list does not know who is here."
    if machine.loan_tool:
        return "It is lent by a technician, who knows who has it and for how long today."
    return None


def to_be_seen_to(machine: MachineFacts) -> Iterator[str]:
    """Yield what the list cannot confirm and its reader sees with their own eyes."""
    companions = max((c.companions for c in machine.conditions), default=0)
    if companions > 1:
        yield f"{companions} others here"
    elif companions or any(c.never_alone for c in machine.conditions):
        yield "not alone"
    if any(c.first_aider for c in machine.conditions):
        yield "a first aider here"
    if any(not c.unstaffed for c in machine.conditions):
        yield "staffed hours only"
    if any(check.each_use for check in machine.checks):
        yield "checks before use"
