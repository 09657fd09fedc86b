"""What the reminders are worked out from, as frozen values. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from app.reminders.stages import Told


class Topic(StrEnum):
    """What somebody is reminded of."""

    CLEARANCE = "what runs out"
    SESSION = "sessions of the next day"
    NEWS = "changes to sessions"
    CHANGE = "changed assessments"
    TEACHING = "sessions to give"
    CHECK = "checks"
    EXAMINATION = "examinations"
    REVIEW = "reviews"
    ACTION = "actions"
    CERTIFICATE = "certificates and fits"

    @property
    def stoppable(self) -> bool:
        """Say whether a person may do without it.

        Two are a convenience: without them the machine says the same at the scan. A change of
        what can hurt somebody, what became of a place they counted on, and what somebody is
        bound to do for the safety of others is told whether it is wanted or not.
        """
        return self in (Topic.CLEARANCE, Topic.SESSION)


@dataclass(frozen=True, kw_only=True, slots=True)
class Somebody:
    """A person who belongs here today."""

    id: int
    name: str
    email: str | None
    ends_on: date | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Outstanding:
    """Somebody who is still to acknowledge an assessment, and since when."""

    person_id: int
    since: date
    changed: bool  # they knew an earlier wording; else they were briefed on this one


@dataclass(frozen=True, kw_only=True, slots=True)
class Changed:
    """An assessment in force that people are still to acknowledge."""

    assessment_id: int
    reference: str
    title: str
    material_number: int
    revision_id: int  # the one in force
    people: tuple[Outstanding, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Sitting:
    """A session that has not begun, and who is to be told what about it."""

    id: int
    title: str
    place: str
    starts_at: datetime
    technician_id: int
    booked: frozenset[int] = frozenset()
    # Of those booked: who had waited for the place, and the row that gave it.
    moved_up: frozenset[tuple[int, int]] = frozenset()
    called_off: bool = False  # then ``booked`` are those who had places or waited


@dataclass(frozen=True, kw_only=True, slots=True)
class Duty:
    """Something that somebody has to do by a day."""

    topic: Topic
    subject: str
    title: str
    words: str
    due_on: date
    days: tuple[int, ...]  # stages before it
    told: Told
    path: str
    areas: frozenset[int] = frozenset()


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """All that is asked for once."""

    people: Mapping[int, Somebody] = field(default_factory=dict)
    # person, induction, the last day on which it counts
    runs_out: list[tuple[int, int, date]] = field(default_factory=list)
    inductions: Mapping[int, str] = field(default_factory=dict)  # titles
    changed: list[Changed] = field(default_factory=list)
    sittings: list[Sitting] = field(default_factory=list)
    duties: list[Duty] = field(default_factory=list)
    stopped: frozenset[tuple[int, Topic]] = frozenset()


@dataclass(frozen=True, slots=True)
class Line:
    """What one person is to be told of one thing at one stage. Its key is told once."""

    person_id: int
    subject: str
    stage: str
    topic: Topic
    due_on: date
    title: str
    words: str
    path: str

    @property
    def key(self) -> tuple[int, str, str]:
        return (self.person_id, self.subject, self.stage)
