"""Somebody who is about in an area, as a value. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Being(StrEnum):
    """Why somebody counts as present."""

    AT_WORK = "at work"
    PARTNER = "named as a partner"
    SUPERVISING = "supervising a use"
    ON_DUTY = "on duty"


@dataclass(frozen=True, kw_only=True, slots=True)
class Present:
    """One reason to count a person as present in an area, from an instant up to another."""

    person_id: int
    name: str
    being: Being
    since: datetime
    until: datetime  # it runs out by itself; a finish ends it earlier
    machine_id: int | None = None  # None: on duty
    supervised: bool = False  # at work under supervision
    supervisor_id: int | None = None  # under whose; None: nobody is on record
    use_id: int | None = None  # of the start; None: on duty

    def at(self, moment: datetime) -> bool:
        return self.since <= moment < self.until
