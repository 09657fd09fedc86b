"""Plant two years of checks: the old ones in bulk, today's through the function."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from sqlalchemy import insert, select

from app.dates import add_months
from app.hazards.checks import record_check
from app.hazards.due import IntervalUnit, next_due
from app.hazards.models import Check, CheckResult, HazardControl, Outcome
from app.hazards.models import Hazard as HazardRow
from app.machines.models import Area, Machine
from app.risk_assessments.models import AssessmentMachine
from seed import shapes
from seed.documents import Documents
from seed.ground import Ground
from seed.stories import FAILED_TODAY, FIRST_DAYS_AGO, NOT_DONE_TODAY, OVERDUE_BY_DAYS

FAILS_ONE_IN = 250
BEFORE_THE_FIRST = FIRST_DAYS_AGO + 1


@dataclass(frozen=True, kw_only=True)
class Round:
    """One check at one machine; of a shared control, at whichever stands first."""

    check: Check
    terms: shapes.Check
    machine: Machine
    technicians: list[int]
    retired_on: date | None

    @property
    def speaks_for(self) -> int | None:
        return None if self.terms.shared else self.machine.id


def plant_rounds(ground: Ground, documents: Documents) -> None:
    """Record what was checked up to yesterday, then let this morning's round happen."""
    rounds = list(_rounds(ground, documents))
    ground.session.execute(
        insert(CheckResult), [row for each in rounds for row in _history(ground, each)]
    )
    for each in rounds:
        if each.terms.unit is IntervalUnit.DAY and each.retired_on is None:
            _this_morning(ground, each)


def _rounds(ground: Ground, documents: Documents) -> Iterator[Round]:
    rows = ground.session.execute(
        select(Check, Machine, Area.name)
        .join(HazardControl, HazardControl.control_id == Check.control_id)
        .join(HazardRow, HazardRow.id == HazardControl.hazard_id)
        .join(AssessmentMachine, AssessmentMachine.assessment_id == HazardRow.assessment_id)
        .join(Machine, Machine.id == AssessmentMachine.machine_id)
        .join(Area, Area.id == Machine.area_id)
        .distinct()
        .order_by(Check.id, Machine.id)
    ).all()
    done = set()
    for check, machine, area in rows:
        terms = documents.terms[check.title]
        if (check.id, None if terms.shared else machine.id) in done:
            continue
        done.add((check.id, None if terms.shared else machine.id))
        yield Round(
            check=check,
            terms=terms,
            machine=machine,
            technicians=[ground.people[login] for login in ground.technicians[area]],
            retired_on=machine.retired_on,
        )


def _history(ground: Ground, each: Round) -> Iterator[dict[str, Any]]:
    chance = random.Random(f"{each.check.title} {each.machine.name}")  # noqa: S311
    for day in _days(ground, each, chance):
        if each.retired_on is not None and day >= each.retired_on:
            continue
        who = chance.choice(each.technicians)
        hour = time(8, chance.randrange(10, 50))
        if each.terms.unit is IntervalUnit.DAY and chance.randrange(FAILS_ONE_IN) == 0:
            yield _row(ground, each, day, hour, who, Outcome.FAILED, "Put right before opening.")
            hour = time(11, 5)
        yield _row(ground, each, day, hour, who, Outcome.PASSED, "", _reading(each, chance))


def _reading(each: Round, chance: random.Random) -> str:
    """Return what was read on a day when it passed: a little inside of what passes."""
    if each.terms.low:
        return f"{float(each.terms.low) * chance.uniform(1.04, 1.3):.2f}"
    if each.terms.high:
        return f"{float(each.terms.high) * chance.uniform(0.5, 0.9):.1f}"
    return ""


def _days(ground: Ground, each: Round, chance: random.Random) -> list[date]:
    """Return the days before today on which this was done, so that it is in time today."""
    first, terms = ground.day(BEFORE_THE_FIRST), each.terms
    if terms.unit is IntervalUnit.DAY:
        days = (ground.day(ago) for ago in range(BEFORE_THE_FIRST, 0, -1))
        return [day for day in days if day.weekday() < 5]
    if terms.unit is IntervalUnit.WEEK:
        newest, step = ground.day(chance.randrange(1, 6)), timedelta(weeks=terms.every)
        count = (newest - first) // step + 1
        return [newest - n * step for n in range(count)][::-1]
    late = OVERDUE_BY_DAYS.get(terms.title)
    ago = chance.randrange(2, 28) if terms.every == 1 else chance.randrange(40, 28 * terms.every)
    newest = ground.day(ago)
    if late is not None:
        newest = add_months(ground.day(late), -terms.every)
    days_back = [newest]
    while days_back[-1] > first:
        days_back.append(add_months(days_back[-1], -terms.every) + timedelta(days=3))
    return [max(day, first) for day in reversed(days_back)]


def _row(
    ground: Ground,
    each: Round,
    day: date,
    hour: time,
    who: int,
    outcome: Outcome,
    note: str,
    reading: str = "",
) -> dict[str, Any]:
    at = datetime.combine(day, hour, ground.site.tz).astimezone(UTC)
    return {
        "check_id": each.check.id,
        "machine_id": each.speaks_for,
        "outcome": outcome,
        "reading": reading,
        "note": note,
        "next_due_on": next_due(day, every=each.terms.every, unit=each.terms.unit),
        "recorded_by_id": who,
        "occurred_at": at,
        "recorded_at": at,
    }


def _this_morning(ground: Ground, each: Round) -> None:
    if each.check.title in NOT_DONE_TODAY:
        return
    note = FAILED_TODAY.get(each.check.title, "")
    chance = random.Random(f"{each.check.title} this morning")  # noqa: S311
    record_check(
        ground.session,
        each.check,
        machine_id=each.machine.id,
        outcome=Outcome.FAILED if note else Outcome.PASSED,
        reading="" if note else _reading(each, chance),
        actor_id=each.technicians[0],
        now=ground.earlier_today(90),
        zone=ground.site.tz,
        note=note,
    )
