"""A permit as the register knows it: one condition of use, lifted for one person until an hour.

Source of the fields: number, place, start and finish, issuer and receiver who are different
people, hand-back, as published hot-work permits name them; what is done against fire on the spot is
not in the register and is filled in by hand. One day at most, and a watch afterwards, are common
practice; the site's own permit system and its insurer's terms come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Permit:
    """An override or a permit with what it lifts and what it leaves."""

    KIND: ClassVar[str] = "Permit"
    TEMPLATE: ClassVar[str] = "permit.html"
    WIDE: ClassVar[bool] = False

    head: Head
    number: int
    person: str
    person_number: int
    machine: str
    where: str
    lifts: str  # the condition, in words
    becomes: str  # what the person may do meanwhile
    granted_by: str
    granted_at: datetime  # in the site's zone
    until: datetime
    ended: str  # early: when and by whom; "": it was not
    looked_at: str  # afterwards: when and by whom; "": not yet
    fire_hazards: tuple[str, ...]  # which the assessments in force name for this machine
    conditions: tuple[str, ...]  # of use by the assessments in force, which stay


__all__ = ["Permit"]
