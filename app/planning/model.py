"""The model of the solver: how many sessions of each offer, how many of each cohort when.

It counts people, it does not name them. For a cohort of one that is exact; for a larger one
it is a relaxation, so its best is a bound on every plan.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import TYPE_CHECKING

from app.planning.cohorts import Cohort
from app.planning.draft import Draft
from app.planning.offers import Alike, Offer
from app.planning.plan import Ask, Span

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

SEED = 1

# The solver counts its own work, in units of 0.8 to 3 seconds of two workers here. Counted
# work cuts the search at the same place every time; seconds would not, and are only the end
# of patience on a slow machine.
SECONDS_PER_WORK = 5.0

# Cohorts times offers up to which a proof is tried. Beyond, it was never reached in time.
PROVABLE = 10_000


@dataclass
class Counts:
    """Sessions by offer; people by cohort, course and time; and whether it is proved best."""

    sessions: list[tuple[Offer, int]] = field(default_factory=list)
    sittings: list[dict[tuple[int, Span], int]] = field(default_factory=list)
    proved: bool = False


def at_once(spans: Sequence[Span]) -> Iterator[list[int]]:
    """Yield, for each start, the places in the list of all that are going on then."""
    order = sorted(range(len(spans)), key=lambda place: spans[place])
    going: list[int] = []
    for number, place in enumerate(order):
        start = spans[place].start
        going = [other for other in going if spans[other].end > start] + [place]
        last = number + 1 == len(order) or spans[order[number + 1]].start > start
        if last and len(going) > 1:
            yield going


class Model:
    def __init__(self, ask: Ask, choices: Sequence[Offer], groups: Sequence[Cohort]) -> None:
        # Loaded here, because the package is an optional extra and slow to load.
        from ortools.sat.python import cp_model

        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.ask, self.choices, self.groups = ask, choices, groups
        self.given = [
            self._count(min(len(offer.team.members), len(offer.kind.members))) for offer in choices
        ]
        self.times: dict[int, list[Span]] = {
            course.induction: sorted(
                {offer.span for offer in choices if offer.course == course.induction}
            )
            for course in ask.courses
        }
        self.sitting = [self._sittings(group) for group in groups]
        self.totals: list[tuple[list[cp_model.IntVar], list[cp_model.IntVar]]] = []
        self._one_session_at_a_time()
        self._groups_fit()
        for group, sitting in zip(groups, self.sitting, strict=True):
            self._one_place_at_a_time(group, sitting)
            self._first_things_first(group, sitting)

    def _count(self, most: int) -> cp_model.IntVar:
        return self.model.new_int_var(0, most, "")

    def _sum(self, variables: Sequence[cp_model.IntVar]) -> cp_model.LinearExprT:
        return self.cp.LinearExpr.sum(variables)

    def _sittings(self, group: Cohort) -> dict[tuple[int, Span], cp_model.IntVar]:
        return {
            (course, span): self._count(len(group.people))
            for course, by in group.by.items()
            for span in self.times[course]
            if by is None or span.end <= by
        }

    def _one_session_at_a_time(self) -> None:
        """No more sessions at once than a team has members, or a kind has rooms."""
        users: dict[Alike, list[int]] = defaultdict(list)
        for number, offer in enumerate(self.choices):
            users[offer.team].append(number)
            users[offer.kind].append(number)
        for alike, numbers in users.items():
            for together in at_once([self.choices[number].span for number in numbers]):
                sessions = [self.given[numbers[place]] for place in together]
                self.model.add(self._sum(sessions) <= len(alike.members))

    def _groups_fit(self) -> None:
        """People within the places of the sessions at a time, and enough for each of them."""
        given: dict[tuple[int, Span], list[int]] = defaultdict(list)
        for number, offer in enumerate(self.choices):
            given[offer.course, offer.span].append(number)
        sitting: dict[tuple[int, Span], list[cp_model.IntVar]] = defaultdict(list)
        for of_group in self.sitting:
            for key, variable in of_group.items():
                sitting[key].append(variable)
        for key, numbers in given.items():
            people = self._sum(sitting[key])
            sessions = [self.given[number] for number in numbers]
            places = [self.choices[number].places for number in numbers]
            self.model.add(people <= self.cp.LinearExpr.weighted_sum(sessions, places))
            self.model.add(people >= self.ask.course(key[0]).group_least * self._sum(sessions))

    def _one_place_at_a_time(
        self, group: Cohort, sitting: dict[tuple[int, Span], cp_model.IntVar]
    ) -> None:
        keys = list(sitting)
        for course in group.by:
            own = [variable for (of, _), variable in sitting.items() if of == course]
            self.model.add(self._sum(own) <= len(group.people))
        for together in at_once([span for _, span in keys]):
            own = [sitting[keys[place]] for place in together]
            self.model.add(self._sum(own) <= len(group.people))

    def _first_things_first(
        self, group: Cohort, sitting: dict[tuple[int, Span], cp_model.IntVar]
    ) -> None:
        """By any start, no more have begun a course than have ended what comes before it."""
        running = {
            course: self._running(group, sitting, course)
            for course, firsts in group.after.items()
            if firsts or any(course in others for others in group.after.values())
        }
        for course, firsts in group.after.items():
            for first in firsts:
                for span, begun in running[course]:
                    ended = [done for other, done in running[first] if other.end <= span.start]
                    self.model.add(begun <= (ended[-1] if ended else 0))

    def _running(
        self, group: Cohort, sitting: dict[tuple[int, Span], cp_model.IntVar], course: int
    ) -> list[tuple[Span, cp_model.IntVar]]:
        """Return, for each time, how many have sat in the course up to and with it."""
        result: list[tuple[Span, cp_model.IntVar]] = []
        parts: list[cp_model.IntVar] = []
        for (of, span), variable in sitting.items():
            if of == course:
                total = self._count(len(group.people))
                before = result[-1][1] if result else 0
                self.model.add(total == variable + before)
                result.append((span, total))
                parts.append(variable)
        self.totals.append((parts, [total for _, total in result]))
        return result

    # --- the questions -------------------------------------------------------------------

    def counts(self, work: float, workers: int) -> Counts:
        """Ask one question after the other, each with its share of the work left."""
        found = Counts(sittings=[{} for _ in self.groups], proved=True)
        for goal, share, promised in self._goals():
            self.model.minimize(goal)
            best, reached = False, None
            # First the search that can prove; where it did not, the one that only improves.
            # After one question is left open nothing more can be proved.
            open_still = found.proved and len(self.groups) * len(self.choices) <= PROVABLE
            parts = ((False, share / 2), (True, share)) if open_still else ((True, share),)
            for improving, part in parts:
                solver = self._solver(workers, work * part, improving=improving)
                status = solver.solve(self.model)
                work = max(work - solver.response_proto.deterministic_time, 0.0)
                best = status == self.cp.OPTIMAL and not improving
                if status in (self.cp.OPTIMAL, self.cp.FEASIBLE):
                    found = self._read(solver, proved=found.proved)
                    self._hint(map(solver.value, self._variables()))
                    reached = solver.value(goal)
                if best:
                    break
            found.proved = found.proved and (best or not promised)
            if reached is None:
                break
            self.model.add(goal <= reached)
        return found

    def _goals(self) -> list[tuple[cp_model.LinearExprT, float, bool]]:
        """Return what is to be made least, its share of the time left, and whether it is a promise.

        The last one is none: among equally good counts, those with prerequisites early can
        nearly always be shared out to people by name.
        """
        people = [item for sitting in self.sitting for item in sitting.items()]
        origin = min((span.start for (_, span), _ in people), default=0)
        variables = [variable for _, variable in people]
        lateness = [span.end - origin for (_, span), _ in people]
        behind = [
            (span.end - origin) * sum(course in firsts for firsts in group.after.values())
            for group, sitting in zip(self.groups, self.sitting, strict=True)
            for course, span in sitting
        ]
        weighted = self.cp.LinearExpr.weighted_sum
        goals = [
            (weighted(variables, [-1] * len(variables)), 0.4, True),
            (weighted(variables, lateness), 0.7, True),
            (self._sum(self.given), 0.6, True),
        ]
        return [*goals, (weighted(variables, behind), 0.9, False)] if any(behind) else goals

    def _solver(self, workers: int, work: float, *, improving: bool) -> cp_model.CpSolver:
        solver = self.cp.CpSolver()
        parameters = solver.parameters
        parameters.random_seed = SEED
        parameters.num_workers = workers
        parameters.interleave_search = True
        parameters.max_deterministic_time = work
        parameters.max_time_in_seconds = work * SECONDS_PER_WORK
        # Simplifying a model of this kind further costs more than it saves.
        parameters.cp_model_probing_level = 0
        parameters.max_presolve_iterations = 1
        parameters.symmetry_level = 0
        if improving:
            parameters.subsolvers.append("no_lp")
            parameters.use_lns_only = True
        return solver

    def _read(self, solver: cp_model.CpSolver, *, proved: bool) -> Counts:
        sessions = zip(self.choices, map(solver.value, self.given), strict=True)
        return Counts(
            sessions=[(offer, many) for offer, many in sessions if many],
            sittings=[
                {key: many for key, variable in sitting.items() if (many := solver.value(variable))}
                for sitting in self.sitting
            ],
            proved=proved,
        )

    def _variables(self) -> list[cp_model.IntVar]:
        sitting = [variable for sitting in self.sitting for variable in sitting.values()]
        return self.given + sitting

    def start_from(self, draft: Draft) -> None:
        """Give the solver a plan to improve on."""
        given = Counter(offer for offer, _ in draft.sessions)
        values = [given[offer] for offer in self.choices]
        for group, sitting in zip(self.groups, self.sitting, strict=True):
            sat = Counter(item for person in group.people for item in draft.places[person].items())
            values += [sat[key] for key in sitting]
        self._hint(values)

    def _hint(self, values: Iterable[int]) -> None:
        self.model.proto.clear_solution_hint()
        hints = dict(zip((it.index for it in self._variables()), values, strict=True))
        for parts, totals in self.totals:
            running = accumulate(hints[part.index] for part in parts)
            hints |= zip((total.index for total in totals), running, strict=True)
        for index, value in hints.items():
            self.model.add_hint(self.model.get_int_var_from_proto_index(index), value)
