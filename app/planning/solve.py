"""Propose sessions that clear everybody earliest, with the constraint solver of OR-Tools.

The model counts people and its best is a bound (`model`). Where the people can be shared
out to the counts by name (`cohorts.shared_out`) the bound is reached, and the plan is proved
best; the cohorts for which they cannot are modelled again, person by person.

Three questions are asked, one after the other, each holding what the one before reached:
most needs placed by their dates; the lowest sum, over placed needs, of the minutes at which
they end; the fewest sessions.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from app.errors import Refused
from app.planning.cohorts import Cohort, Places, cohorts, shared_out
from app.planning.draft import Draft, Groups, draft, topped_up
from app.planning.explain import explain
from app.planning.model import Counts, Model
from app.planning.offers import Alike, Offer, offers
from app.planning.plan import Ask, Plan, Session, Span, insist_on_sense

WORKERS = 2
WORK = 12.0
NAMED_AT_MOST = 400  # needs of people who are modelled one by one

HOW_TO_INSTALL = (
    "Proposing a plan needs OR-Tools, which is not installed here. Install the extra "
    "“planning” in the checkout with: pip install -e '.[planning]'. Without it, sessions "
    "are entered by hand."
)


def propose(ask: Ask, *, work: float = WORK, workers: int = WORKERS) -> Plan:
    """Return a plan of sessions that keeps every rule, and what could not be placed.

    Args:
        ask: who needs what, and what there is to give it with.
        work: how much the solver may search, in its own units, each of 0.8 to 3 seconds where
            this was measured (two workers, two cores). The default is over in half a minute.
        workers: threads of the solver.

    The same ask gives the same plan for the same work and number of workers: the seed is
    fixed, the workers take turns, and the search is cut by the solver's own count of its
    work. Only on a machine so slow that patience ends first (`model.SECONDS_PER_WORK`) can
    it differ.

    Raises:
        BadInput: the ask contradicts itself.
        Refused: OR-Tools is not installed; `code` is `planning-not-installed`.
    """
    insist_on_sense(ask)
    _insist_on_solver()
    choices = offers(ask)
    groups = cohorts(ask, choices)
    first = draft(ask, choices, groups)
    counts, places, whole = _counted(ask, choices, groups, first, work * 2 / 3, workers)
    # Where the counts are not proved either, a second search would only take time.
    named = _by_name(groups, places, counts) if counts.proved and not whole else None
    if named is not None:
        counts, places, whole = _counted(ask, choices, named, first, work / 3, workers)
    proved = counts.proved and whole
    given = _given(ask, counts, places)
    if not proved:
        given = max(topped_up(ask, choices, groups, given), first.sessions, key=_worth)
    return explain(ask, choices, _staffed(given), proved=proved)


def _worth(groups: Groups) -> tuple[int, int, int]:
    """Return what the three questions ask for, so that the greater is the better."""
    return (
        sum(len(people) for _, people in groups),
        -sum(len(people) * offer.span.end for offer, people in groups),
        -len(groups),
    )


def _insist_on_solver() -> None:
    try:
        from ortools.sat.python import cp_model  # noqa: F401
    except ImportError as error:
        raise Refused(HOW_TO_INSTALL, code="planning-not-installed", status=503) from error


def _counted(
    ask: Ask,
    choices: Sequence[Offer],
    groups: Sequence[Cohort],
    first: Draft,
    work: float,
    workers: int,
) -> tuple[Counts, Places, bool]:
    """Return the counts, the places by name, and whether every counted place has a name."""
    if not groups:
        return Counts(proved=True), {}, True
    model = Model(ask, choices, groups)
    model.start_from(first)
    counts = model.counts(work, workers)
    places: Places = {}
    for group, sittings in zip(groups, counts.sittings, strict=True):
        places |= shared_out(group, sittings)
    counted = sum(sum(sittings.values()) for sittings in counts.sittings)
    return counts, places, counted == sum(len(own) for own in places.values())


def _by_name(groups: Sequence[Cohort], places: Places, counts: Counts) -> list[Cohort] | None:
    """Take apart the cohorts that could not be shared out; None where that is too many."""
    result: list[Cohort] = []
    named = 0
    for group, sittings in zip(groups, counts.sittings, strict=True):
        seated = sum(len(places[person]) for person in group.people)
        if seated == sum(sittings.values()):
            result.append(group)
        else:
            result += group.alone()
            named += len(group.people) * len(group.by)
    return result if named <= NAMED_AT_MOST else None


# --- from counts to sessions -------------------------------------------------------------


def _given(ask: Ask, counts: Counts, places: Places) -> Groups:
    given: dict[tuple[int, Span], list[Offer]] = defaultdict(list)
    for offer, many in counts.sessions:
        given[offer.course, offer.span] += [offer] * many
    for offered in given.values():
        offered.sort(key=lambda offer: -offer.places)
    _drop_what_does_not_fit(ask, given, places)
    return [
        (offer, people)
        for key, offered in given.items()
        for offer, people in _dealt(offered, sorted(_sitting(places, *key)))
    ]


def _sitting(places: Places, course: int, span: Span) -> list[int]:
    return [person for person, own in places.items() if own.get(course) == span]


def _drop_what_does_not_fit(
    ask: Ask, given: Mapping[tuple[int, Span], list[Offer]], places: Places
) -> None:
    """Call off sessions that lost people because a cohort could not be shared out whole.

    Nothing is dropped where it could. Else a group may fall below its least; those who are
    sent away lose also what comes after, which may empty another group.
    """
    changed = True
    while changed:
        changed = False
        for (course, span), offered in given.items():
            people = sorted(_sitting(places, course, span))
            del offered[len(people) // ask.course(course).group_least :]
            for person in people[sum(offer.places for offer in offered) :]:
                _drop(ask, places[person], person, course)
                changed = True


def _drop(ask: Ask, own: dict[int, Span], person: int, induction: int) -> None:
    own.pop(induction, None)
    if (person, induction) in ask.held:
        return
    for course in ask.courses:
        if induction in course.requires and course.induction in own:
            _drop(ask, own, person, course.induction)


def _dealt(offered: Sequence[Offer], people: Sequence[int]) -> Groups:
    """Deal people to the sessions of one time in turn, so that groups are of about a size."""
    groups: list[list[int]] = [[] for _ in offered]
    turn = 0
    for person in people:
        while len(groups[turn % len(offered)]) >= offered[turn % len(offered)].places:
            turn += 1
        groups[turn % len(offered)].append(person)
        turn += 1
    return [
        (offer, tuple(sorted(group))) for offer, group in zip(offered, groups, strict=True) if group
    ]


def _staffed(groups: Groups) -> tuple[Session, ...]:
    """Give each session, in order of time, the first of its team and of its rooms who is free.

    Somebody always is: the model lets no more sessions run at once than there are members.
    """
    until: dict[tuple[Alike, int], int] = {}

    def free(alike: Alike, span: Span) -> int:
        member = next(
            member
            for member in alike.members
            if until.get((alike, member), span.start) <= span.start
        )
        until[alike, member] = span.end
        return member

    return tuple(
        Session(
            course=offer.course,
            start=offer.span.start,
            end=offer.span.end,
            room=free(offer.kind, offer.span),
            technician=free(offer.team, offer.span),
            people=people,
        )
        for offer, people in sorted(groups, key=lambda group: (group[0].span, group[0].course))
    )
