"""What was due, done and missed of every check that is relied on, counted by month.

A check with a day of its own is due through that day: done again by then it is in time, else it is
missed in the month of that day. One of each day of use is due on every day on which it was done or
a machine that relies on it was started; a day of a start without a result is missed. One before
each use is ticked at the start itself and is not counted here.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import NamedTuple

from sqlalchemy import func, select

from app.db import by_then
from app.hazards.due import IntervalUnit, good_through, interval_words
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Control, Outcome
from app.hazards.status import Unit, unit
from app.pack.ground import AT_ONCE, Ground
from app.presence.models import Start


class Result(NamedTuple):
    """What a pack asks of a result. Of tens of thousands whole rows would cost most of the time."""

    id: int
    outcome: Outcome
    reading: str
    next_due_on: date
    by_id: int
    at: datetime
    on: date  # at the site


@dataclass(kw_only=True)
class Relied:
    """One check of one unit, with its results up to the moment, oldest first."""

    unit: Unit
    title: str
    control_id: int
    control: str
    terms: CheckTerms
    machine_ids: tuple[int, ...]
    machines: tuple[str, ...]
    results: list[Result]
    through: date | None
    today: date
    due: Counter[str] = field(default_factory=Counter)  # by month, "2026-03"
    done: Counter[str] = field(default_factory=Counter)
    failed: Counter[str] = field(default_factory=Counter)

    @property
    def interval(self) -> str:
        return interval_words(self.terms.every, self.terms.unit)

    @property
    def each(self) -> IntervalUnit:
        return self.terms.unit

    @property
    def statutory(self) -> bool:
        return self.terms.basis is Basis.STATUTORY

    @property
    def latest(self) -> Result | None:
        return self.results[-1] if self.results else None

    @property
    def in_date(self) -> bool:
        latest = self.latest
        passed = latest is not None and latest.outcome is Outcome.PASSED
        return passed and self.through is not None and self.through >= self.today

    @property
    def missed(self) -> int:
        return self.due.total() - self.done.total()


@dataclass(kw_only=True)
class Upkeep:
    """Every check that the machines of the choice rely on."""

    ground: Ground

    @cached_property
    def relied(self) -> list[Relied]:
        """All of them, by check and machine, counted."""
        ground = self.ground
        relying: dict[Unit, list[int]] = defaultdict(list)
        ids = {check.id for file in ground.files.values() for check in file.facts.checks}
        checks = self._checks(ids)
        for machine_id, file in ground.files.items():
            for check_id in dict.fromkeys(check.id for check in file.facts.checks):
                relying[unit(checks[check_id][0], machine_id)].append(machine_id)
        results, terms = self._results(ids), self._terms(ids)
        found = [
            self._relied(each, checks[each[0]], terms[each[0]], those, results.get(each, []))
            for each, those in relying.items()
            if each[0] in terms
        ]
        self._count(found)
        return sorted(found, key=lambda r: (r.title, r.machines))

    @cached_property
    def daily(self) -> frozenset[int]:
        """The checks of each day of use."""
        return frozenset(r.unit[0] for r in self.relied if r.each is IntervalUnit.DAY)

    @cached_property
    def dated(self) -> list[Relied]:
        """The checks with a day of their own, which are in date or not at any moment."""
        return [r for r in self.relied if r.each not in (IntervalUnit.DAY, IntervalUnit.USE)]

    def months(self) -> list[str]:
        """Return the months of the period up to the moment."""
        day, last = self.ground.asked.first_on.replace(day=1), self.ground.today
        found = []
        while day <= last:
            found.append(f"{day:%Y-%m}")
            day = (
                day.replace(year=day.year + 1, month=1)
                if day.month == 12
                else day.replace(month=day.month + 1)
            )
        return found

    def _checks(self, ids: Iterable[int]) -> dict[int, tuple[Check, str]]:
        rows = self.ground.session.execute(
            select(Check, Control.title).join(Control, Control.id == Check.control_id)
        )
        wanted = set(ids)
        return {check.id: (check, title) for check, title in rows if check.id in wanted}

    def _terms(self, ids: set[int]) -> dict[int, CheckTerms]:
        newest = (
            select(func.max(CheckTerms.id))
            .where(*by_then(CheckTerms, self.ground.at, self.ground.known))
            .group_by(CheckTerms.check_id)
        )
        rows = self.ground.session.execute(
            select(CheckTerms).where(CheckTerms.id.in_(newest))
        ).scalars()
        return {row.check_id: row for row in rows if row.check_id in ids}

    def _results(self, ids: set[int]) -> dict[Unit, list[Result]]:
        found: dict[Unit, list[Result]] = defaultdict(list)
        wanted, day = sorted(ids), self.ground.day
        for start in range(0, len(wanted), AT_ONCE):
            rows = self.ground.session.execute(
                select(
                    CheckResult.check_id,
                    CheckResult.machine_id,
                    CheckResult.id,
                    CheckResult.outcome,
                    CheckResult.reading,
                    CheckResult.next_due_on,
                    CheckResult.recorded_by_id,
                    CheckResult.occurred_at,
                )
                .where(
                    CheckResult.check_id.in_(wanted[start : start + AT_ONCE]),
                    *by_then(CheckResult, self.ground.at, self.ground.known),
                )
                # Of two at the same instant a failure counts, as it does in the decision.
                .order_by(CheckResult.occurred_at, CheckResult.outcome.desc(), CheckResult.id)
            )
            for check_id, machine_id, id_, outcome, reading, due, by_id, at in rows:
                found[check_id, machine_id].append(
                    Result(id_, outcome, reading, due, by_id, at, day(at))
                )
        return found

    def _relied(
        self,
        each: Unit,
        check: tuple[Check, str],
        terms: CheckTerms,
        machines: list[int],
        results: list[Result],
    ) -> Relied:
        ground = self.ground
        through = None
        if results:
            latest = results[-1]
            through = good_through(
                latest.next_due_on,
                latest.on,
                every=terms.every,
                unit=terms.unit,
            )
        return Relied(
            unit=each,
            title=check[0].title,
            control_id=check[0].control_id,
            control=check[1],
            terms=terms,
            machine_ids=tuple(machines),
            machines=tuple(ground.files[m].facts.name for m in machines),
            results=results,
            through=through,
            today=ground.today,
        )

    # --- counting ---------------------------------------------------------------------------

    def _count(self, found: list[Relied]) -> None:
        days_used = self._days_used()
        for relied in found:
            for result in relied.results:
                if result.outcome is Outcome.FAILED and self._within(result.on):
                    relied.failed[f"{result.on:%Y-%m}"] += 1
            if relied.each is IntervalUnit.DAY:
                self._by_day(relied, days_used)
            elif relied.each is not IntervalUnit.USE:
                self._by_interval(relied)

    def _within(self, day: date) -> bool:
        return self.ground.asked.first_on <= day <= self.ground.today

    def _by_day(self, relied: Relied, days_used: dict[int, set[date]]) -> None:
        done = {result.on for result in relied.results}
        used = {day for machine in relied.machine_ids for day in days_used.get(machine, ())}
        for day in filter(self._within, done | used):
            relied.due[f"{day:%Y-%m}"] += 1
            relied.done[f"{day:%Y-%m}"] += day in done

    def _by_interval(self, relied: Relied) -> None:
        days = [result.on for result in relied.results]
        for place, result in enumerate(relied.results):
            due = result.next_due_on
            after = days[place + 1] if place + 1 < len(days) else None
            if after is not None and after <= due:
                # Done again before its day: it was due no later than when it was done.
                if self._within(after):
                    relied.due[f"{after:%Y-%m}"] += 1
                    relied.done[f"{after:%Y-%m}"] += 1
            elif due < self.ground.today and self._within(due):
                relied.due[f"{due:%Y-%m}"] += 1

    def _days_used(self) -> dict[int, set[date]]:
        ground = self.ground
        found: dict[int, set[date]] = defaultdict(set)
        rows = ground.session.execute(
            select(Start.machine_id, Start.occurred_at).where(
                Start.occurred_at >= ground.begins, *by_then(Start, ground.at, ground.known)
            )
        )
        for machine_id, at in rows:
            found[machine_id].add(at.astimezone(ground.zone).date())
        return found
