"""What the matrix answers: who may run this, whom would that stop, what lapses in which week."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.clearance.decision import MachineFacts, Verdict
from app.dates import day_begins, local_date
from app.inductions.models import Induction, InductionRevision, Inductor
from app.matrix.cells import Matrix, matrix
from app.matrix.columns import SHIFT, told_apart
from app.matrix.site import Whole
from app.sessions.asked import USUAL_GROUP
from app.sessions.models import TeachingHours

WEEKS = 12
# A place on an induction takes somebody's time: 2 to 3 hours for a group in published schemes
# of university shops; a site's own sessions say better.
HOURS_OF_A_SESSION = 2.0


@dataclass(frozen=True, kw_only=True)
class Stopped:
    """What would change if something failed: for each machine, who could no longer use it."""

    machine_id: int
    people: tuple[int, ...]  # cleared or supervised now, and not then


@dataclass(frozen=True, kw_only=True)
class Week:
    """One of the weeks to come."""

    begins: date
    clearances: int  # cells that are cleared or supervised before it and not after it
    people: int  # who lose at least one


@dataclass(frozen=True, kw_only=True)
class Need:
    """An induction that runs out for people in the weeks to come."""

    induction_id: int
    title: str
    people: tuple[int, ...]
    group_size: int
    first_on: date  # the first day on which somebody lapses

    @property
    def sessions(self) -> int:
        return -(-len(self.people) // self.group_size)

    @property
    def hours(self) -> float:
        return self.sessions * HOURS_OF_A_SESSION


def usable(found: Matrix) -> npt.NDArray[np.bool_]:
    """Return where somebody may come: cleared, or under supervision."""
    return found.verdicts <= Verdict.SUPERVISED


def may_run(found: Matrix, machine_id: int) -> dict[Verdict, list[int]]:
    """Return, by verdict, who may and who may not run this machine."""
    column = found.verdicts[:, found.column[machine_id]]
    return {
        verdict: [found.people[i] for i in np.flatnonzero(column == verdict)] for verdict in Verdict
    }


def stops(
    site: Whole,
    changed: Callable[[MachineFacts], MachineFacts],
    *,
    zone: ZoneInfo,
    machines: Iterable[int] | None = None,
) -> list[Stopped]:
    """Return whom a change of machines' facts would stop, by asking the rules as if it were so."""
    asked = list(site.machines) if machines is None else list(machines)
    facts = {m: changed(each) for m, each in site.machines.items()}
    touched = [m for m in asked if facts[m] != site.machines[m]]
    if not touched:
        return []
    then = matrix(site.people, facts, site.particular, now=site.now, zone=zone, only=touched)
    found = []
    for machine_id in touched:
        before = usable(site.matrix)[:, site.matrix.column[machine_id]]
        after = usable(then)[:, then.column[machine_id]]
        lost = np.flatnonzero(before & ~after)
        found.append(
            Stopped(machine_id=machine_id, people=tuple(site.matrix.people[i] for i in lost))
        )
    return found


def check_fails(check_id: int) -> Callable[[MachineFacts], MachineFacts]:
    """Say what a machine is like when this check has failed."""

    def changed(machine: MachineFacts) -> MachineFacts:
        if check_id not in {check.id for check in machine.checks}:
            return machine
        return replace(
            machine,
            checks=tuple(
                replace(check, failed=check.failed or check.id == check_id)
                for check in machine.checks
            ),
        )

    return changed


def assessment_changes(assessment_id: int) -> Callable[[MachineFacts], MachineFacts]:
    """Say what a machine is like once a material revision of this assessment is in force."""

    def changed(machine: MachineFacts) -> MachineFacts:
        return replace(
            machine,
            assessments=tuple(
                replace(each, number=each.number + 1, material_number=each.number + 1)
                if each.id == assessment_id
                else each
                for each in machine.assessments
            ),
        )

    return changed


def leaves(site: Whole, technician: int, *, zone: ZoneInfo) -> list[int]:
    """Return the machines that nobody else on record may supervise once this technician leaves.

    A supervisor is a technician of the area who is cleared on the machine.
    """
    alone = []
    for machine_id, facts in site.machines.items():
        column = site.matrix.verdicts[:, site.matrix.column[machine_id]]
        may = {
            person
            for person, areas in site.people.roles.items()
            if areas & {None, facts.area_id}
            and person in site.matrix.row
            and column[site.matrix.row[person]] == Verdict.CLEARED
        }
        if may == {technician}:
            alone.append(machine_id)
    return alone


def lapses(site: Whole, *, zone: ZoneInfo, weeks: int = WEEKS) -> list[Week]:
    """Return, for each of the weeks to come, what lapses if nothing new is recorded.

    The person part of the whole matrix is asked as of each week's end, with what is on record
    now: a daily check that is not done yet then is no lapse of anybody's.
    """
    begins = local_date(site.now, zone)
    before = _of_people(site, site.now, zone)
    found = []
    for week in range(weeks):
        end = begins + timedelta(weeks=week + 1)
        at = day_begins(end, zone)
        then = _of_people(site, at, zone)
        lost = before & ~then
        found.append(
            Week(
                begins=begins + timedelta(weeks=week),
                clearances=int(lost.sum()),
                people=int(lost.any(axis=1).sum()),
            )
        )
        before = then
    return found


def _of_people(site: Whole, at: datetime, zone: ZoneInfo) -> npt.NDArray[np.bool_]:
    return usable(
        matrix(
            site.people, site.machines, site.particular, now=at, zone=zone, machine_part_too=False
        )
    )


def needs(session: Session, site: Whole, *, zone: ZoneInfo, weeks: int = WEEKS) -> list[Need]:
    """Return the inductions that run out for people in the weeks to come, the most people first."""
    today = local_date(site.now, zone)
    end = today + timedelta(weeks=weeks)
    asked = {i for facts in site.machines.values() for i in facts.inductions}
    people: dict[int, set[int]] = defaultdict(set)
    first: dict[int, date] = {}
    for pair, (_at, said) in site.people.records.items():
        person, induction = divmod(pair, SHIFT)
        if induction not in asked or person not in site.matrix.row:
            continue
        for result, _number, day in told_apart(said):
            if result == "on their own" and day is not None and today <= day < end:
                people[induction].add(person)
                first[induction] = min(day, first.get(induction, day))
    titles = dict(session.execute(select(Induction.id, Induction.title)).all())
    sizes = dict(
        session.execute(
            select(InductionRevision.induction_id, InductionRevision.group_size).order_by(
                InductionRevision.number
            )
        ).all()
    )
    found = [
        Need(
            induction_id=induction,
            title=titles[induction],
            people=tuple(sorted(those)),
            group_size=sizes.get(induction) or USUAL_GROUP,
            first_on=first[induction],
        )
        for induction, those in people.items()
    ]
    return sorted(found, key=lambda need: (-len(need.people), need.title))


def nobody_else_gives(session: Session, technician: int) -> list[str]:
    """Return the inductions that only this person is appointed to give."""
    ended = select(Inductor.ends_id).where(Inductor.ends_id.is_not(None))
    by_induction: dict[int, set[int]] = defaultdict(set)
    for induction, person in session.execute(
        select(Inductor.induction_id, Inductor.person_id).where(
            Inductor.ends_id.is_(None), Inductor.id.not_in(ended)
        )
    ):
        by_induction[induction].add(person)
    alone = [induction for induction, people in by_induction.items() if people == {technician}]
    return list(
        session.execute(
            select(Induction.title).where(Induction.id.in_(alone)).order_by(Induction.title)
        ).scalars()
    )


def hours_there_are(session: Session, *, today: date, weeks: int = WEEKS) -> float:
    """Return the hours that technicians said they can give to inductions in the weeks to come."""
    end = today + timedelta(weeks=weeks)
    ended = select(TeachingHours.ends_id).where(TeachingHours.ends_id.is_not(None))
    rows = session.execute(
        select(TeachingHours.opens, TeachingHours.closes).where(
            TeachingHours.day >= today,
            TeachingHours.day < end,
            TeachingHours.ends_id.is_(None),
            TeachingHours.id.not_in(ended),
        )
    )
    return sum(_minutes(closes) - _minutes(opens) for opens, closes in rows) / 60


def _minutes(wall_time: str) -> int:
    hours, minutes = wall_time.split(":")
    return int(hours) * 60 + int(minutes)
