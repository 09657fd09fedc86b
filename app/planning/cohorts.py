"""People who need the same, and how a number of them is shared out to sessions by name."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, permutations

from app.planning.offers import Offer
from app.planning.plan import Ask, Span

ORDERS = 24  # orders of the inductions that are tried before sharing out is given up

Sittings = Mapping[tuple[int, Span], int]  # how many of a cohort sit in a course at a time
Shape = tuple[tuple[int, int | None, tuple[int, ...]], ...]  # course, by, what comes first
Places = dict[int, dict[int, Span]]  # person: course: when


@dataclass(frozen=True, slots=True)
class Cohort:
    """People with the same needs, the same dates, and the same prerequisites still to meet."""

    people: tuple[int, ...]
    by: Mapping[int, int | None]  # course: when it must be over
    after: Mapping[int, tuple[int, ...]]  # course: those of the same cohort that come first

    def alone(self) -> list[Cohort]:
        return [Cohort((person,), self.by, self.after) for person in self.people]


def cohorts(ask: Ask, offers: Sequence[Offer]) -> list[Cohort]:
    """Gather the needs for which there is an offer, and whose prerequisites are held or asked."""
    courses = {course.induction: course for course in ask.courses}
    offered = {offer.course for offer in offers}
    needs: dict[int, dict[int, int | None]] = defaultdict(dict)
    for need in ask.needs:
        needs[need.person][need.induction] = need.by
    alike: dict[Shape, list[int]] = defaultdict(list)
    for person in sorted(needs):
        own = {course: by for course, by in needs[person].items() if course in offered}
        after: dict[int, tuple[int, ...]] = {}
        for course in _in_order(courses.keys() & own, ask):
            first = [it for it in courses[course].requires if (person, it) not in ask.held]
            if all(it in after for it in first):
                after[course] = tuple(sorted(first))
        alike[tuple((course, own[course], after[course]) for course in sorted(after))].append(
            person
        )
    return [
        Cohort(
            tuple(people),
            {course: by for course, by, _ in shape},
            {course: firsts for course, _, firsts in shape},
        )
        for shape, people in alike.items()
        if shape
    ]


def _in_order(inductions: set[int], ask: Ask) -> list[int]:
    """Return the inductions with every prerequisite before what requires it."""
    requires = {course.induction: course.requires for course in ask.courses}

    def depth(induction: int) -> int:
        return 1 + max((depth(it) for it in requires.get(induction, ())), default=0)

    return sorted(inductions, key=lambda induction: (depth(induction), induction))


def shared_out(cohort: Cohort, sittings: Sittings) -> Places:
    """Give the sittings of a cohort to its people, as many as can be.

    Induction after induction is shared out as well as it can be on its own (a maximum
    matching). Together that need not be the best, so several orders are tried until one of
    them leaves nothing over.
    """
    best: Places = {}
    for order in islice(_orders(cohort), ORDERS):
        places: Places = {person: {} for person in cohort.people}
        for course in order:
            _share_one(cohort, course, sittings, places)
        if not best or _count(places) > _count(best):
            best = places
        if _count(best) == sum(sittings.values()):
            break
    return best


def _count(places: Places) -> int:
    return sum(len(own) for own in places.values())


def _orders(cohort: Cohort) -> Iterator[tuple[int, ...]]:
    for order in permutations(sorted(cohort.by)):
        seen: set[int] = set()
        for course in order:
            if not seen.issuperset(cohort.after[course]):
                break
            seen.add(course)
        else:
            yield order


def _share_one(cohort: Cohort, course: int, sittings: Sittings, places: Places) -> None:
    left = {span: many for (of, span), many in sorted(sittings.items()) if of == course and many}
    may = {
        person: [span for span in left if fits(own, span, cohort.after[course])]
        for person, own in places.items()
    }
    taken: dict[int, Span] = {}
    sitting: dict[Span, list[int]] = {span: [] for span in left}
    # Who has the fewest times left chooses first, and so does not end up with none.
    for person in sorted(cohort.people, key=lambda person: (len(may[person]), person)):
        _augment(person, may, left, sitting, taken)
    for person, span in taken.items():
        places[person][course] = span


def fits(own: Mapping[int, Span], span: Span, first: Sequence[int]) -> bool:
    """Can somebody with these sessions take one more, after those that must come first?"""
    return all(it in own and own[it].end <= span.start for it in first) and not any(
        span.meets(other) for other in own.values()
    )


def _augment(
    person: int,
    may: Mapping[int, Sequence[Span]],
    most: Mapping[Span, int],
    sitting: dict[Span, list[int]],
    taken: dict[int, Span],
) -> None:
    """Seat one more person, moving others where that makes room: a shortest augmenting path."""
    came: dict[Span, int] = {}
    queue = deque([person])
    while queue:
        who = queue.popleft()
        for span in may[who]:
            if span in came:
                continue
            came[span] = who
            if len(sitting[span]) < most[span]:
                _move(span, person, came, sitting, taken)
                return
            queue.extend(sitting[span])


def _move(
    span: Span,
    person: int,
    came: Mapping[Span, int],
    sitting: dict[Span, list[int]],
    taken: dict[int, Span],
) -> None:
    while True:
        who = came[span]
        before = taken.get(who)
        taken[who] = span
        sitting[span].append(who)
        if who == person or before is None:
            return
        sitting[before].remove(who)
        span = before
