"""The log of one system on paper: what was looked at day by day, and when it had lapsed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.models import Action
from app.dates import local_date
from app.db import by_then
from app.documents.asked import Asked, head_of, site_then
from app.documents.checks_then import (
    names_of,
    relied_on_then,
    reports_of,
    results_then,
    terms_then,
    through,
)
from app.documents.standing_then import Moment
from app.errors import NotFound
from app.hazards.checks import range_in
from app.hazards.due import IntervalUnit, interval_words
from app.hazards.models import Check, CheckResult, CheckTerms, Control, Outcome
from app.hazards.readings import number_or_none
from app.hazards.status import Unit
from app.machines.models import Area, Machine
from app.people.models import Person
from assessments.document.check_log import CheckLog, CheckPart, Entry, Gap, Reading
from assessments.document.wording import unbroken
from assessments.hierarchy import Level


@dataclass(frozen=True, kw_only=True)
class _Period:
    first_on: date
    last_on: date

    def holds(self, day: date) -> bool:
        return self.first_on <= day <= self.last_on


def check_log(session: Session, asked: Asked) -> CheckLog:
    """Return one system with what was looked at from one day to another."""
    control = session.get(Control, asked.subject)
    if control is None:
        raise NotFound("There is no such control.")
    place = site_then(session, asked)
    now = Moment(at=asked.at, known=asked.known, zone=place.tz)
    last_on = asked.last_on or local_date(now.at, now.zone)
    period = _Period(first_on=asked.first_on or last_on, last_on=last_on)
    checks = list(
        session.execute(
            select(Check).where(Check.control_id == control.id).order_by(Check.id)
        ).scalars()
    )
    relied = relied_on_then(session, now)
    ids = [check.id for check in checks]
    results = results_then(session, ids, now)
    serves = {
        machine.name
        for (check_id, _machine), those in relied.items()
        if check_id in ids
        for machine in those
    }
    area = session.get(Area, control.area_id) if control.area_id else None
    terms = terms_then(session, ids, now)
    about = _About(session, now, period, relied, results)
    return CheckLog(
        head=head_of(place, asked, reference=f"Control {control.id}", title=control.title),
        system=control.title,
        number=control.id,
        level=Level(control.level).words,
        details=control.details,
        area=area.name if area else "",
        machines=tuple(sorted(serves)),
        first_on=period.first_on,
        last_on=period.last_on,
        checks=tuple(about.part(check, terms[check.id]) for check in checks if check.id in terms),
        actions=tuple(_actions(session, results, now, period)),
    )


class _About:
    """What the parts of a log share."""

    def __init__(
        self,
        session: Session,
        now: Moment,
        period: _Period,
        relied: dict[Unit, list[Machine]],
        results: dict[Unit, list[CheckResult]],
    ) -> None:
        self.now, self.period, self.relied, self.results = now, period, relied, results
        self.people, self.machines = names_of(session, Person), names_of(session, Machine)
        self.reports = reports_of(
            session, (row.id for rows in results.values() for row in rows), now
        )

    def part(self, check: Check, terms: CheckTerms) -> CheckPart:
        own = {each: rows for each, rows in self.results.items() if each[0] == check.id}
        rows = sorted(
            (row for some in own.values() for row in some),
            key=lambda row: (self._day(row), row.recorded_by_id, row.occurred_at, row.id),
        )
        inside = [row for row in rows if self.period.holds(self._day(row))]
        asked = range_in(terms)
        units = sorted({*own, *(each for each in self.relied if each[0] == check.id)}, key=str)
        return CheckPart(
            title=check.title,
            interval=interval_words(terms.every, terms.unit),
            basis=": ".join(filter(None, (terms.basis.value, terms.basis_source))),
            done_by=terms.done_by,
            passes_when=terms.passes_when,
            range=asked.words if asked else "",
            unit=terms.measure,
            low=_bound(asked.low if asked else None),
            high=_bound(asked.high if asked else None),
            entries=_joined(self._entry(row, terms) for row in inside),
            readings=tuple(self._readings(inside, terms)),
            gaps=tuple(gap for each in units for gap in self._gaps(each, own.get(each, []), terms)),
            last=self._last(rows),
        )

    def _day(self, row: CheckResult) -> date:
        return local_date(row.occurred_at, self.now.zone)

    def _entry(self, row: CheckResult, terms: CheckTerms) -> Entry:
        late = local_date(row.recorded_at, self.now.zone)
        unit_words = f" {terms.measure}" if row.reading and terms.measure else ""
        typed = row.reading.removesuffix(terms.measure).rstrip() if terms.measure else row.reading
        return Entry(
            on=self._day(row),
            machine=self.machines[row.machine_id] if row.machine_id is not None else "",
            outcome=row.outcome.value,
            reading=f"{typed}{unit_words}",
            note=row.note,
            by=self.people[row.recorded_by_id],
            next_due=row.next_due_on,
            late=f"written down {unbroken(late)}" if late != self._day(row) else "",
            report=self.reports.get(row.id, ""),
        )

    def _readings(self, rows: Sequence[CheckResult], terms: CheckTerms) -> Iterator[Reading]:
        for row in rows:
            value = number_or_none(row.reading, unit=terms.measure)
            if value is not None and range_in(terms) is not None:
                yield Reading(
                    on=self._day(row), value=float(value), passed=row.outcome is Outcome.PASSED
                )

    def _gaps(self, each: Unit, rows: Sequence[CheckResult], terms: CheckTerms) -> Iterator[Gap]:
        """Give the days of the period on which the check had lapsed, by the terms of then.

        A check of each day is asked for on days of use only, and one before each use never
        lapses by date: of those no gaps are told.
        """
        if terms.unit in (IntervalUnit.USE, IntervalUnit.DAY) or not rows:
            return
        name = self.machines[each[1]] if each[1] is not None else ""
        for row, following in zip(rows, [*rows[1:], None], strict=True):
            lapsed = through(row, terms, self.now) + timedelta(days=1)
            ended = self._day(following) - timedelta(days=1) if following else self.period.last_on
            first, last = max(lapsed, self.period.first_on), min(ended, self.period.last_on)
            if first <= last:
                yield Gap(machine=name, first_on=first, last_on=last, still=following is None)

    def _last(self, rows: Sequence[CheckResult]) -> str:
        if not rows:
            return "never done"
        return f"{unbroken(self._day(rows[-1]))}: {rows[-1].outcome.value}"


def _bound(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _joined(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Tell as one line what somebody passed on one day at several machines without more words."""
    found: list[Entry] = []
    for entry in entries:
        before = found[-1] if found else None
        plain = not (entry.reading or entry.note or entry.report) and entry.machine
        if before and plain and replace(before, machine="") == replace(entry, machine=""):
            names = sorted({*before.machine.split(", "), entry.machine})
            found[-1] = replace(before, machine=", ".join(names))
        else:
            found.append(entry)
    return tuple(found)


def _actions(
    session: Session, results: dict[Unit, list[CheckResult]], now: Moment, period: _Period
) -> Iterator[str]:
    """Give what failures and reports wanted put right, and what came of it."""
    subjects = [f"check_result:{row.id}" for rows in results.values() for row in rows]
    rows = session.execute(
        select(Action)
        .where(Action.about.in_(subjects), *by_then(Action, now.at, now.known))
        .order_by(Action.id)
    ).scalars()
    every = list(rows)
    ended = {row.ends_id: row for row in every if row.ends_id is not None}
    for row in every:
        if row.ends_id is None and local_date(row.occurred_at, now.zone) <= period.last_on:
            end = ended.get(row.id)
            came = f"done {now.day_words(end.occurred_at)}" if end else "open"
            yield f"{row.what}: {row.owner}, by {unbroken(row.due_on)}; {came}"
