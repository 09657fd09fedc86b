"""Generated moments at a machine: who is about, what runs or is kept, when the area is open."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from app.clearance.decision import BookingFact, Here, InductionFact, JobFact, PersonFacts
from app.machines.hours import Calendar, Days, Stretch
from app.presence.present import Being, Present
from tests.unit.clearance.drawing import Dice, an_instant, mostly

OTHERS = (8, 9)  # people who may be about; 7 is whoever asks
UNIT = 1
FIRST_AID = InductionFact(id=9, title="First aid", counts_from=1)


def around(dice: Dice, now: datetime, today: date, others: dict[int, PersonFacts]) -> Here:
    """Draw who is about at a machine, and when its area is open."""
    return Here(
        calendar=None if dice.randrange(2) else a_calendar(dice, today),
        present=tuple(somebody(dice, now) for _ in range(dice.randint(0, 4))),
        capacity=mostly(dice, None, lambda: dice.choice((0, 2, 9))),
        people_per_supervisor=dice.choice((None, 0, 1)),
        jobs=mostly(dice, (), lambda: (JobFact(id=1, what="Firing"),)),
        bookings=tuple(a_booking(dice, n, now) for n in range(mostly(dice, 0, lambda: 2))),
        others=others,
        first_aid=dice.choice((None, FIRST_AID)),
    )


def somebody(dice: Dice, now: datetime) -> Present:
    """Draw somebody who is about, was, or will be; it may be whoever asks."""
    since, until = sorted((an_instant(dice, now), an_instant(dice, now)))
    person_id = dice.choice((*OTHERS, 7))
    return Present(
        person_id=person_id,
        name=f"Somebody {person_id}",
        being=dice.choice(list(Being)),
        since=min(since, now) if dice.randrange(4) else since,
        until=max(until, now + timedelta(hours=1)) if dice.randrange(4) else until,
        machine_id=UNIT + dice.randrange(3),
        supervised=dice.choice((False, True, True)),
        supervisor_id=dice.choice((None, *OTHERS)),
    )


def a_booking(dice: Dice, number: int, now: datetime) -> BookingFact:
    """Draw a booking of the machine, by whoever asks or by somebody else."""
    begins, ends = sorted((an_instant(dice, now), an_instant(dice, now)))
    return BookingFact(id=number + 1, person_id=dice.choice((7, 8)), starts_at=begins, ends_at=ends)


def a_calendar(dice: Dice, today: date) -> Calendar:
    """Draw opening hours with days off and terms near today; some open nothing."""
    if dice.randrange(2):
        staffed = dice.choice((True, False))
        stretches = [
            Stretch(weekday=day, opens=0, closes=1440, staffed=staffed) for day in range(6)
        ]
    else:
        stretches = [a_stretch(dice) for _ in range(dice.randint(0, 8))]
    return Calendar(
        stretches=tuple(stretches),
        closed=tuple(some_days(dice, today) for _ in range(dice.randint(0, 2))),
        terms=tuple(some_days(dice, today) for _ in range(dice.randint(0, 2))),
    )


def a_stretch(dice: Dice) -> Stretch:
    """Draw a piece of a weekday in quarters of an hour."""
    return Stretch(
        weekday=dice.randrange(7),
        opens=dice.randint(0, 96) * 15,
        closes=dice.choice((1440, dice.randint(0, 96) * 15)),
        staffed=dice.choice((True, False)),
        in_term=dice.choice((None, None, True, False)),
    )


def some_days(dice: Dice, today: date) -> Days:
    """Draw up to ten days near today."""
    first = today + timedelta(days=dice.randint(-10, 10))
    return Days(first_on=first, last_on=first + timedelta(days=dice.randint(0, 9)))
