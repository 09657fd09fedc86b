"""What stands between a person and a place in a session, and the way to one. Pure.

A technician who gives a place and a person who takes one ask the same rules; a few more are
asked of whoever takes it for themself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum

from app.inductions.catalogue import Catalogue
from app.people.identity import Identity
from app.sessions.models import PlaceWord

# So long before it runs out an induction may be booked again: the term's sessions are full at
# its end (common practice: reminders begin two months ahead).
RENEWED_WITHIN = timedelta(days=60)


@dataclass(frozen=True, kw_only=True, slots=True)
class Offered:
    """One published session that stands."""

    id: int
    induction: int
    area: int
    technician: int
    starts_at: datetime
    ends_at: datetime
    day: date  # at the site
    places: int
    taken: int = 0
    waiting: int = 0

    @property
    def free(self) -> int:
        return max(0, self.places - self.taken)

    def meets(self, other: Offered) -> bool:
        return self.starts_at < other.ends_at and other.starts_at < self.ends_at


@dataclass(frozen=True, kw_only=True, slots=True)
class Learner:
    """Somebody who would come, and what decides whether they can."""

    who: Identity
    held: Mapping[int, date | None]  # what they are current in, and its last day
    words: Mapping[int, PlaceWord] = field(default_factory=dict)  # by session
    places: tuple[Offered, ...] = ()  # the sessions in which they have a seat
    gives: tuple[Offered, ...] = ()  # those that they give themself
    suspended_in: frozenset[int] = frozenset()  # areas

    def holds(self, induction: int, day: date) -> bool:
        """Say whether they are current in it now, and still will be on that day."""
        if induction not in self.held:
            return False
        until = self.held[induction]
        return until is None or until >= day

    def seat_before(self, induction: int, at: datetime) -> Offered | None:
        """Return where they have had it by then, if they come."""
        return next(
            (it for it in self.places if it.induction == induction and it.ends_at <= at), None
        )


class How(StrEnum):
    """How somebody stands to one step of a path, on the day of a session."""

    HELD = "held"
    BOOKED = "booked"
    MISSING = "missing"


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """What comes before an induction, in the order in which it is learnt."""

    induction: int
    title: str
    how: How
    runs_out_on: date | None = None  # held now, and no more on the day
    booked_on: date | None = None


def path(taught: Catalogue, who: Learner, it: Offered) -> list[Step]:
    """Return all that comes before a session's induction, to any depth, what is first first."""
    return [
        _step(taught, who, it, induction)
        for induction in _in_order(taught, it.induction)
        if induction != it.induction
    ]


def _in_order(taught: Catalogue, induction: int) -> list[int]:
    """Return an induction after all that it builds on, each once; a loop ends by itself."""
    found: dict[int, None] = {}
    seen: set[int] = set()

    def add(each: int) -> None:
        if each in seen or each not in taught:
            return
        seen.add(each)
        for first in taught[each].publications[-1].requires:
            add(first)
        found[each] = None

    add(induction)
    return list(found)


def _step(taught: Catalogue, who: Learner, it: Offered, induction: int) -> Step:
    title = taught[induction].title
    if who.holds(induction, it.day):
        return Step(induction=induction, title=title, how=How.HELD)
    runs_out_on = who.held.get(induction)
    before = who.seat_before(induction, it.starts_at)
    if before is not None:
        return Step(
            induction=induction,
            title=title,
            how=How.BOOKED,
            runs_out_on=runs_out_on,
            booked_on=before.day,
        )
    return Step(induction=induction, title=title, how=How.MISSING, runs_out_on=runs_out_on)


# --- what stands in the way -----------------------------------------------------------------


class Code(StrEnum):
    """What stands in the way."""

    BEGUN = "begun"
    NOT_HERE = "not-here"
    SUSPENDED = "suspended"
    GIVES_IT = "gives-it"
    HELD = "held"
    ELSEWHERE = "elsewhere"
    AT_ONCE = "at-once"
    COMES_FIRST = "comes-first"


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """One thing that stands in the way, in words about the person or to them."""

    code: Code
    sentence: str


def bars(taught: Catalogue, who: Learner, it: Offered, *, own: bool = False) -> Iterator[Bar]:
    """Yield why somebody cannot come, whoever gives them the place."""
    name, has, was = ("You", "have", "are") if own else (who.who.name, "has", "is")
    if not who.who.belongs_on(it.day):
        does = "do" if own else "does"
        yield _bar(Code.NOT_HERE, f"{name} {does} not belong here on {_short(it.day)}.")
        return
    if who.who.id == it.technician:
        yield _bar(Code.GIVES_IT, f"{name} cannot give it and learn it.")
    for other in who.places:
        if other.id == it.id:
            continue
        title = taught[other.induction].title
        if other.induction == it.induction and who.words.get(other.id) is PlaceWord.BOOKED:
            yield _bar(
                Code.ELSEWHERE,
                f"{name} {has} a place in another “{title}”, on {_short(other.day)}: that is "
                "given up first.",
            )
        elif other.meets(it):
            yield _bar(Code.AT_ONCE, f"{name} {was} in “{title}” at the same time.")
    title = taught[it.induction].title
    for step in path(taught, who, it):
        if step.how is How.MISSING:
            yield _bar(
                Code.COMES_FIRST,
                f"{name} {has} not had “{step.title}” by then; it comes before “{title}”.",
            )


def suspended(who: Learner, it: Offered) -> bool:
    """Say whether they may not use anything where the session is."""
    return who.who.suspended or it.area in who.suspended_in


def own_bars(taught: Catalogue, who: Learner, it: Offered, *, now: datetime) -> Iterator[Bar]:
    """Yield why somebody cannot take a place for themself."""
    if it.starts_at <= now:
        yield _bar(Code.BEGUN, "It has begun: the technician there adds you, if there is room.")
    if suspended(who, it):
        yield _bar(Code.SUSPENDED, "You are suspended: speak to a technician.")
    if who.holds(it.induction, it.day + RENEWED_WITHIN):
        until = who.held[it.induction]
        yield _bar(
            Code.HELD,
            "You hold it already"
            + (f", through {_long(until)}." if until else ", and it does not run out."),
        )
    for other in who.gives:
        if other.id != it.id and other.meets(it):
            yield _bar(
                Code.AT_ONCE, f"You give “{taught[other.induction].title}” at the same time."
            )
    yield from bars(taught, who, it, own=True)


def _bar(code: Code, sentence: str) -> Bar:
    return Bar(code=code, sentence=sentence)


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"


def _long(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
