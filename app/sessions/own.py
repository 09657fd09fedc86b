"""Sessions as one person sees them: what is theirs, what is open to them, what comes first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.machines.models import Machine
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionInduction, RevisionMachine
from app.sessions.coming import Bar, Code, How, Learner, Offered, Step, own_bars, path
from app.sessions.given import Place
from app.sessions.learners import Coming
from app.sessions.models import PlaceWord
from app.sessions.places import HAS_ONE, waiting


@dataclass(frozen=True, kw_only=True, slots=True)
class OwnSide:
    """How one session stands to one person."""

    it: Offered
    word: PlaceWord | None
    before: int  # who waits before them, where they wait
    bars: tuple[Bar, ...]  # why they cannot take a place; none where they have one
    path: tuple[Step, ...]

    @property
    def has_place(self) -> bool:
        return self.word in HAS_ONE

    @property
    def may_take(self) -> bool:
        return not self.has_place and not self.bars

    def may_give_back(self, now: datetime) -> bool:
        return self.word in (PlaceWord.BOOKED, PlaceWord.WAITING) and self.it.starts_at > now

    @property
    def missing(self) -> tuple[Step, ...]:
        return tuple(step for step in self.path if step.how is How.MISSING)


def own_side(on: Coming, who: Learner, it: Offered, *, now: datetime) -> OwnSide:
    """Return how a session that stands is to this person."""
    word = who.words.get(it.id)
    return OwnSide(
        it=it,
        word=word,
        before=_before(on.places.get(it.id, []), who.who.id),
        bars=() if word in HAS_ONE else tuple(own_bars(on.taught, who, it, now=now)),
        path=tuple(path(on.taught, who, it)),
    )


def _before(places: list[Place], person_id: int) -> int:
    queue = [place.person_id for place in waiting(places)]
    return queue.index(person_id) if person_id in queue else 0


@dataclass(frozen=True, kw_only=True, slots=True)
class Group:
    """The sessions to come of one induction."""

    induction: int
    title: str
    opens: tuple[str, ...]  # machines that ask for it
    held: bool
    runs_out_on: date | None
    sides: tuple[OwnSide, ...]

    @property
    def open(self) -> tuple[OwnSide, ...]:
        return tuple(side for side in self.sides if side.may_take)

    @property
    def booked(self) -> bool:
        """Say whether they have a place in one of these, or wait for one."""
        return any(side.has_place for side in self.sides)

    @property
    def first(self) -> tuple[Step, ...]:
        """Return what is missing before the session that asks for the least."""
        return min((side.missing for side in self.sides), key=len, default=())

    @property
    def only_held(self) -> bool:
        """Say whether nothing but having it already stands in the way of each."""
        return all(bar.code is Code.HELD for side in self.sides for bar in side.bars) and any(
            side.bars for side in self.sides
        )


def groups(
    on: Coming, who: Learner, opens: Mapping[int, Iterable[str]], *, now: datetime
) -> Iterator[Group]:
    """Yield the inductions with sessions that have not begun, by title."""
    for induction in sorted(on.taught, key=lambda each: on.taught[each].title):
        sides = tuple(
            own_side(on, who, it, now=now)
            for it in on.offered.values()
            if it.induction == induction and it.starts_at > now
        )
        if sides:
            yield Group(
                induction=induction,
                title=on.taught[induction].title,
                opens=tuple(opens.get(induction, ())),
                held=induction in who.held,
                runs_out_on=who.held.get(induction),
                sides=sides,
            )


def machines_asking(session: Session, *, now: datetime) -> dict[int, list[str]]:
    """Return the machines that ask for each induction, by name. One statement."""
    found: dict[int, list[str]] = {}
    for induction, name in session.execute(
        select(RevisionInduction.induction_id, Machine.name)
        .distinct()
        .select_from(Revision)
        .join(RevisionInduction, RevisionInduction.revision_id == Revision.id)
        .join(RevisionMachine, RevisionMachine.revision_id == Revision.id)
        .join(Machine, Machine.id == RevisionMachine.machine_id)
        .where(in_force(now), Machine.retired_on.is_(None))
        .order_by(Machine.name)
    ):
        found.setdefault(induction, []).append(name)
    return found
