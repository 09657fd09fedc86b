"""A first plan by plain rules: what a careful planner would write down, hour after hour.

The solver starts from it, and what is proposed is never worse.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import groupby, islice

from app.planning.cohorts import Cohort, Places, fits
from app.planning.offers import Alike, Offer
from app.planning.plan import Ask, Span

Groups = list[tuple[Offer, tuple[int, ...]]]


class Draft:
    """Sessions with their people, as they are added."""

    def __init__(self, ask: Ask, groups: Sequence[Cohort]) -> None:
        self.courses = {course.induction: course for course in ask.courses}
        self.cohort = {person: group for group in groups for person in group.people}
        self.places: Places = {person: {} for person in self.cohort}
        self.busy: dict[Alike, list[Span]] = defaultdict(list)
        self.sessions: Groups = []
        self.waiting: dict[int, list[int]] = {
            course: sorted(
                (person for person, group in self.cohort.items() if course in group.by),
                key=lambda person, course=course: self._haste(person, course),  # type: ignore[misc]
            )
            for course in self.courses
        }

    def _haste(self, person: int, course: int) -> tuple[bool, int, int]:
        """Whoever has a date comes first, the earliest before the others."""
        by = self.cohort[person].by[course]
        return by is None, by or 0, person

    def take(self, sessions: Groups) -> None:
        """Begin with these sessions."""
        for offer, people in sessions:
            self._book(offer, people)

    def top_up(self) -> None:
        """Give the places that are left in sessions to those who could come."""
        for number, (offer, people) in enumerate(self.sessions):
            if len(people) < offer.places:
                more = tuple(self._could_come(offer, offer.places - len(people)))
                self._seat(offer, more)
                self.sessions[number] = (offer, (*people, *more))

    def fill(self, choices: Sequence[Offer], *, only_full: bool) -> None:
        """Go through the offers in order of time and give the most useful ones."""
        in_time = sorted(choices, key=lambda offer: (offer.span, offer.course))
        for _, starting in groupby(in_time, key=lambda offer: offer.span.start):
            left = list(starting)
            while left:
                ranked = [(self._use(offer, only_full=only_full), offer) for offer in left]
                use, best = max(ranked, key=lambda pair: pair[0])
                if not use:
                    break
                self._book(best, tuple(self._could_come(best, best.places)))
                left = [offer for value, offer in ranked if value]

    def _use(self, offer: Offer, *, only_full: bool) -> float:
        """Return needs met per minute; a prerequisite counts for what waits behind it too."""
        course = self.courses[offer.course]
        if any(
            sum(span.meets(offer.span) for span in self.busy[alike]) >= len(alike.members)
            for alike in (offer.team, offer.kind)
        ):
            return 0.0
        many = len(list(self._could_come(offer, offer.places)))
        wanted = min(offer.places, len(self.waiting[offer.course]))
        if many < (wanted if only_full else course.group_least) or many < course.group_least:
            return 0.0
        behind = sum(offer.course in other.requires for other in self.courses.values())
        return many * (1 + behind) / course.minutes

    def _could_come(self, offer: Offer, places: int) -> Iterator[int]:
        """Yield those who could come, no more than there are places, in order of haste."""
        could = (person for person in self.waiting[offer.course] if self._fits(person, offer))
        return islice(could, places)

    def _fits(self, person: int, offer: Offer) -> bool:
        group = self.cohort[person]
        by = group.by[offer.course]
        in_time = by is None or offer.span.end <= by
        return in_time and fits(self.places[person], offer.span, group.after[offer.course])

    def _book(self, offer: Offer, people: tuple[int, ...]) -> None:
        self._seat(offer, people)
        self.busy[offer.team].append(offer.span)
        self.busy[offer.kind].append(offer.span)
        self.sessions.append((offer, people))

    def _seat(self, offer: Offer, people: tuple[int, ...]) -> None:
        for person in people:
            self.places[person][offer.course] = offer.span
            self.waiting[offer.course].remove(person)


def draft(ask: Ask, choices: Sequence[Offer], groups: Sequence[Cohort]) -> Draft:
    """Return a plan that keeps every rule: full groups first, then what the gaps still take."""
    plan = Draft(ask, groups)
    plan.fill(choices, only_full=True)
    plan.fill(choices, only_full=False)
    return plan


def topped_up(
    ask: Ask, choices: Sequence[Offer], groups: Sequence[Cohort], sessions: Groups
) -> Groups:
    """Return the sessions with whoever else fits into them, or into the hours left."""
    plan = Draft(ask, groups)
    plan.take(sessions)
    plan.top_up()
    plan.fill(choices, only_full=False)
    return plan.sessions
