"""The induction record: what one person was seen to do, by whom, under which wording.

Source of the fields: HSE L114 (2nd ed. 2014) and its summary of training for woodworking machines
ask for demonstrated competence with a checklist, records, and authorisation in writing that
names machines and operations; place, duration, group and language are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One item of the checklist."""

    words: str
    essential: bool
    seen: bool


@dataclass(frozen=True, kw_only=True)
class Before:
    """An induction that comes first, and where the person stood in it that day."""

    title: str
    state: str


@dataclass(frozen=True, kw_only=True)
class Briefed:
    """An assessment that was in force and gone through, and the person's own word on it."""

    reference: str
    revision: int
    title: str
    acknowledged: str  # "on 3 March 2026, on their own phone"; "": not on record


@dataclass(frozen=True, kw_only=True)
class InductionRecord:
    """One sign-off with everything that it rests on, as the register holds it."""

    KIND: ClassVar[str] = "Induction record"
    TEMPLATE: ClassVar[str] = "induction_record.html"
    WIDE: ClassVar[bool] = False

    head: Head
    person: str
    person_number: int  # of the register: it stays when a name is erased
    belongs: str  # "here since ..., until ..."
    age: str  # "18 or over on that day", "under 18 on that day", "not on record"
    induction: str
    revision: int  # of the induction: which wording was taught
    taught: str  # that wording
    occurred_at: datetime  # in the site's zone
    recorded_at: datetime
    on_paper: bool  # it was written on paper first, and typed in by the time it was recorded
    typed_by: str  # who wrote down what somebody else had seen; "": the one who saw it
    session: str  # place, duration and size of the group; "": it belongs to no session
    given_by: str
    authority: tuple[str, ...]  # by which appointment, and how the inductor stood themself
    before: tuple[Before, ...]
    items: tuple[Seen, ...]
    briefed: tuple[Briefed, ...]
    result: str
    valid: str  # "through 3 March 2027", with the basis of the period
    supervised_uses: str  # watched uses that come before working alone
    machines: tuple[str, ...]  # whose assessment in force then asked for it
    note_kept: bool  # words beside the sign-off, read in the register by those entitled
    afterwards: tuple[str, ...]  # renewals, revocations, suspensions since, each with its day


__all__ = ["Before", "Briefed", "InductionRecord", "Seen"]
