"""What a term plan is asked for, as it is kept with the plan and read back. Pure."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from app.errors import BadInput

USUAL_GROUP = 6  # where an induction names no group size (common practice)
USUAL_MINUTES = 60
MOST_PLACES = 500
MOST_MINUTES = 12 * 60
MOST_DAYS = 190  # a term with its holidays, and not a year by a slip of the pen


class Who(StrEnum):
    """Whose needs are planned."""

    COHORT = "cohort"
    LACKING = "lacking"
    LAPSING = "lapsing"


@dataclass(frozen=True, kw_only=True, slots=True)
class Taught:
    """How an induction is given in this plan."""

    induction: int
    minutes: int
    group_most: int
    group_least: int = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Asked:
    """Who needs which inductions by when, and the rooms for them."""

    courses: tuple[Taught, ...]
    who: Who
    cohort: int | None
    by: date | None  # over by the end of this day; None: by the end of the plan
    rooms: tuple[int, ...]  # areas

    def as_json(self) -> dict[str, Any]:
        return {
            "courses": [asdict(course) for course in self.courses],
            "who": self.who.value,
            "cohort": self.cohort,
            "by": self.by.isoformat() if self.by else None,
            "rooms": list(self.rooms),
        }


def read_asked(kept: dict[str, Any]) -> Asked:
    return Asked(
        courses=tuple(Taught(**course) for course in kept["courses"]),
        who=Who(kept["who"]),
        cohort=kept["cohort"],
        by=date.fromisoformat(kept["by"]) if kept["by"] else None,
        rooms=tuple(kept["rooms"]),
    )


def insist_on_sense(asked: Asked, *, first_on: date, last_on: date) -> None:
    """Refuse what cannot be planned.

    Raises:
        BadInput: with a sentence, for the first thing found.
    """
    if last_on < first_on:
        raise BadInput("The last day comes before the first.", status=422)
    if (last_on - first_on).days >= MOST_DAYS:
        raise BadInput(f"A plan has at most {MOST_DAYS} days.", status=422)
    if asked.by is not None and not first_on <= asked.by <= last_on:
        raise BadInput("The day by which it is needed lies outside the plan.", status=422)
    if not asked.courses:
        raise BadInput("Choose at least one induction.", status=422)
    if not asked.rooms:
        raise BadInput("Choose at least one room.", status=422)
    if asked.who is Who.COHORT and asked.cohort is None:
        raise BadInput("Choose the cohort.", status=422)
    for course in asked.courses:
        _insist_on_size(course)


def _insist_on_size(course: Taught) -> None:
    if not 5 <= course.minutes <= MOST_MINUTES:
        raise BadInput(f"An induction lasts from 5 to {MOST_MINUTES} minutes.", status=422)
    if not 1 <= course.group_least <= course.group_most <= MOST_PLACES:
        raise BadInput(
            f"A group has at least 1 and at most {MOST_PLACES} people, and its least is no more "
            "than its most.",
            status=422,
        )
