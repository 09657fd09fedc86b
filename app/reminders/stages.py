"""At which stage of being reminded a thing stands on a day, and whom a late one reaches. Pure.

A stage is reached once and never comes back: as the days pass, what is to come is reminded of
closer and closer to its day, and what is late climbs a ladder from its owner to the approver.
Only the stage that holds is sent. One that was missed, because nothing was sent that day, is not
made up for: the next one says more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import IntEnum

# Whoever has not answered a change so long after the last stage is told at the machine.
LAPSES_AFTER = timedelta(days=28)


class Rung(IntEnum):
    """How far something late has climbed."""

    OWNER = 0
    TECHNICIANS = 1
    APPROVER = 2

    @property
    def words(self) -> str:
        return ("late", "late, and told to the technicians", "late, and told to the approver")[self]


@dataclass(frozen=True, kw_only=True, slots=True)
class Ladder:
    """After how many days late the next ones are told. The approver is never told first."""

    technicians_after: int
    approver_after: int

    def rung(self, due_on: date, today: date) -> Rung | None:
        """Return the rung that holds; None while the day through which it may be done lasts."""
        late = (today - due_on).days
        if late <= 0:
            return None
        if late >= max(self.approver_after, self.technicians_after):
            return Rung.APPROVER
        return Rung.TECHNICIANS if late >= self.technicians_after else Rung.OWNER


@dataclass(frozen=True, kw_only=True, slots=True)
class Told:
    """Whom something is the business of, by rung."""

    owners: frozenset[int]
    technicians: frozenset[int]
    approvers: frozenset[int]

    def at(self, rung: Rung) -> frozenset[int]:
        """Return who is told: everybody up to this rung, or the next who are there at all.

        What has no owner is the technicians' from the first day; with nobody in the area, the
        approvers'. So nothing that is late is told to nobody while anybody is there.
        """
        rungs = (self.owners, self.technicians, self.approvers)
        found = frozenset().union(*rungs[: rung + 1])
        return found or next((each for each in rungs[rung + 1 :] if each), frozenset())


def ahead(due_on: date, *, today: date, reach: date, days: Iterable[int]) -> int | None:
    """Return which of these stages holds, as days before ``due_on``; None: none, or it is past.

    ``reach`` is the last day before something can be sent again, at the earliest ``today``: what
    begins on a quiet day is said before it and not after it.
    """
    if due_on < today:
        return None
    left = (due_on - max(reach, today)).days
    return min((each for each in days if each >= left), default=None)


def since(began_on: date, *, today: date, days: Iterable[int]) -> int | None:
    """Return which of these stages holds, as days after ``began_on``; None: none, or none any more.

    The last one lapses after four weeks.
    """
    gone = (today - began_on).days
    stage = max((each for each in days if each <= gone), default=None)
    if stage is None or timedelta(days=gone - stage) >= LAPSES_AFTER:
        return None
    return stage


def worth_saying(days: Iterable[int], interval_days: int) -> tuple[int, ...]:
    """Return the stages of something that comes round: none earlier than halfway to its day.

    A weekly check that was done this morning is not due “in seven days”.
    """
    return tuple(each for each in days if 2 * each < interval_days)
