"""The inspection register: every examination that a law asks for, with the day it is due.

Source of the fields: records of inspection of work equipment as regulation 6 of PUWER (GB) and its
approved code L22 ask for them (from memory), and common practice of such registers. Whose law it
is, and what else it asks for, the site's adviser knows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Examination:
    """One examination of one unit."""

    title: str
    system: str
    number: int  # of the control in the register
    machines: tuple[str, ...]  # that stop with it: name, maker, model, serial where on record
    area: str
    interval: str
    source: str  # which law, as the terms of the check name it
    scope: str  # passes when
    last_on: date | None
    outcome: str  # passed, failed; "": never done
    reading: str
    examiner: str  # with employer and the reference of the report; "": no report is kept
    due_on: date | None  # through this day; None: never done
    state: str  # overdue, failed, never done, due soon, in date


@dataclass(frozen=True, kw_only=True)
class InspectionRegister:
    """All statutory examinations of an area or of the whole site, what stops people first."""

    KIND: ClassVar[str] = "Inspection register"
    TEMPLATE: ClassVar[str] = "inspection_register.html"
    WIDE: ClassVar[bool] = True

    head: Head
    where: str  # an area, or the whole site
    soon_days: int  # what "due soon" means
    examinations: tuple[Examination, ...]
    without: tuple[str, ...]  # machines on the register that no statutory examination covers


__all__ = ["Examination", "InspectionRegister"]
