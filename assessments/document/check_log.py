"""The check and examination log of one system over a period: what was looked at, and what it read.

A system is a control that machines share or that one machine has: an extraction system, an
interlock. Source of the fields: the log book and the examination report of local exhaust
ventilation in HSG258 (2nd ed. 2011, paragraph 349, as quoted by suppliers) and, in Great Britain,
COSHH regulation 9; what the register does not hold of that list is named as not kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A reading as a number, for the plot."""

    on: date
    value: float  # in the unit of the check
    passed: bool


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One check, done."""

    on: date
    machine: str  # whom it speaks for; "": the system as a whole
    outcome: str  # passed, failed
    reading: str  # with its unit
    note: str
    by: str
    next_due: date
    late: str  # "written down 3 March 2026"; "": at once
    report: str  # of the examiner, with employer and reference; "": none was needed


@dataclass(frozen=True, kw_only=True)
class Gap:
    """Days on which the check had lapsed."""

    machine: str
    first_on: date
    last_on: date
    still: bool  # nothing ended it by the end of the period


@dataclass(frozen=True, kw_only=True)
class CheckPart:
    """One recurring check of the system with its entries in the period, the oldest first."""

    title: str
    interval: str
    basis: str  # statutory, maker, common practice; with its source
    done_by: str
    passes_when: str
    range: str  # "at least 0.50 m/s"; "": nothing is measured
    unit: str
    low: float | None  # the reading passes from here; None: no bound on that side
    high: float | None  # up to here
    entries: tuple[Entry, ...]
    readings: tuple[Reading, ...]
    gaps: tuple[Gap, ...]
    last: str  # the last result of all, in words; "never done"


@dataclass(frozen=True, kw_only=True)
class CheckLog:
    """A system and all its checks from one day to another."""

    KIND: ClassVar[str] = "Check and examination log"
    TEMPLATE: ClassVar[str] = "check_log.html"
    WIDE: ClassVar[bool] = False

    head: Head
    system: str
    number: int  # of the control in the register
    level: str  # of the hierarchy
    details: str
    area: str
    machines: tuple[str, ...]  # that rely on it by an assessment in force
    first_on: date
    last_on: date
    checks: tuple[CheckPart, ...]
    actions: tuple[str, ...]  # what failures and reports want put right, with owner and day


__all__ = ["CheckLog", "CheckPart", "Entry", "Gap", "Reading"]
