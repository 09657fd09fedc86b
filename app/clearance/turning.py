"""How long an answer holds if nothing new is recorded: exactly so long. Pure.

Time enters the rules where a day begins, where something happened or runs out, and where an
area's hours change. It is enough to ask the same rules again at those instants, in order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta

from app.clearance.codes import Reason
from app.clearance.known import Facts, Here, MachineFacts, PersonFacts
from app.clearance.machine_rules import later, review_closes_after
from app.clearance.person_rules import birthday, seen_to_use, unused_after
from app.dates import day_begins, local_date
from app.machines.hours import boundary_days, changes, opening

Ask = Callable[[Facts], tuple[Reason, ...]]


class _Points:
    """Where time may matter: days that begin, last days, instants."""

    def __init__(self) -> None:
        self.first_days: set[date] = set()
        self.last_days: set[date | None] = set()
        self.instants: set[datetime] = set()

    def all_after(self, facts: Facts) -> list[datetime]:
        # A last day of 9999-12-31, which people type for never, has no day after it.
        days = self.first_days | {
            day + timedelta(days=1) for day in self.last_days if day and day < date.max
        }
        found = self.instants | {day_begins(d, facts.zone) for d in days if d > facts.today}
        return sorted(at for at in found if at > facts.now)


def holds_until(facts: Facts, reasons: tuple[Reason, ...], ask: Ask) -> datetime | None:
    """Return the first instant at which the passing of time alone gives other reasons."""
    for instant in _in_order(facts):
        if ask(replace(facts, now=instant)) != reasons:
            return instant
    return None


def _in_order(facts: Facts) -> Iterator[datetime]:
    """Yield every instant at which the reasons could become others, in order.

    Between two instants that are not of the hours themselves, the hours come round every
    week: how the area stands for the first time is asked, and what comes again is not.
    """
    points = _turning_points(facts)
    if facts.here is None or facts.here.calendar is None:
        yield from points
        return
    begin = facts.now
    for point in [*points, None]:
        seen = {opening(facts.here.calendar, begin, facts.zone)}
        try:
            for at, how in changes(facts.here.calendar, facts.zone, after=begin):
                if point is not None and at >= point:
                    break
                if how not in seen:
                    seen.add(how)
                    yield at
        except OverflowError:  # the last days there are
            pass
        if point is not None:
            yield point
            begin = point


def _turning_points(facts: Facts) -> list[datetime]:
    points = _Points()
    _of_machine(points, facts.machine)
    if facts.person is not None:
        _of_person(points, facts, facts.person)
    if facts.here is not None:
        _of_moment(points, facts, facts.here)
    return points.all_after(facts)


def _of_machine(points: _Points, machine: MachineFacts) -> None:
    if machine.retired_on is not None:
        points.first_days.add(machine.retired_on)
    points.last_days |= {check.due_on for check in machine.checks}
    points.last_days |= {
        review_closes_after(each, machine.house.review_grace_days) for each in machine.assessments
    }


def _of_person(points: _Points, facts: Facts, person: PersonFacts) -> None:
    points.last_days |= {person.ends_on, *person.visits}
    points.first_days |= person.visits
    if person.starts_on is not None:
        points.first_days.add(person.starts_on)
    if person.adult_on is not None:
        for conditions in facts.machine.conditions:
            for age in (conditions.minimum_age, conditions.supervised_under):
                points.first_days.add(birthday(person.adult_on, age or 0))
    for induction_id in facts.machine.inductions:
        _of_training(points, facts, person, induction_id)
    points.last_days |= {each.expires_on for each in person.equipment}
    points.instants |= {each.at for each in person.exposures}
    points.last_days |= {local_date(each.at, facts.zone) for each in person.exposures}
    points.instants |= {each.until for each in person.overrides}
    points.instants |= set(person.test_runs.values())


def _of_training(points: _Points, facts: Facts, person: PersonFacts, induction_id: int) -> None:
    house, months = facts.machine.house, facts.machine.disuse_months
    for record in person.records.get(induction_id, ()):
        points.last_days.add(record.expires_on)
        if record.expires_on is not None and house.grace_days > 0:
            points.last_days.add(later(record.expires_on, house.grace_days))
        points.instants.add(record.occurred_at)
    for at in seen_to_use(person, induction_id):
        points.instants.add(at)
        if months is not None:
            points.last_days.add(unused_after(at, months, facts.zone))
    points.instants |= set(person.watched.get(induction_id, ()))


def _of_moment(points: _Points, facts: Facts, here: Here) -> None:
    for present in here.present:
        points.instants |= {present.since, present.until}
    for booking in here.bookings:
        points.instants |= {booking.starts_at, booking.ends_at}
    if here.calendar is not None:
        points.first_days |= boundary_days(here.calendar)
    for other in here.others.values():
        _of_person(points, facts, other)
        if here.first_aid is not None:
            _of_training(points, facts, other, here.first_aid.id)
