"""The attendance sheet of one induction session: who had a place, who came, what came of it.

Source of the fields: common practice of training records (date, place, duration, size of the
group, who gave it and by which authority); no law was found that lists them. An attendance is no
sign-off, as HSE's guidance on training for woodworking machines asks for competence shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Attendant:
    """One person of the session."""

    name: str
    number: int  # of the register
    word: str  # booked, waiting, attended, absent, withdrawn
    result: str  # of a sign-off in this induction that day; "": none is on record


@dataclass(frozen=True, kw_only=True)
class AttendanceSheet:
    """A session as it was planned and as it was kept; with room to sign until it is over."""

    KIND: ClassVar[str] = "Attendance sheet"
    TEMPLATE: ClassVar[str] = "attendance_sheet.html"
    WIDE: ClassVar[bool] = False

    head: Head
    induction: str
    revision: int
    starts_at: datetime  # in the site's zone
    ends_at: datetime
    area: str
    place: str
    given_by: str
    authority: tuple[str, ...]
    places: int
    called_off: bool
    to_sign: bool  # it is not over yet: the sheet has room for signatures
    attendants: tuple[Attendant, ...]
    waiting: tuple[Attendant, ...]
    spare_lines: int  # for those who come without a place


__all__ = ["AttendanceSheet", "Attendant"]
