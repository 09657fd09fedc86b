"""Where checks stand, many at once: their terms, the last results, through which day they count."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.hazards.checks import range_in
from app.hazards.due import good_through, interval_words, is_due
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Control, Outcome, Scope
from app.hazards.readings import Range

LAST = 8  # results that are looked through
SHOWN = 4  # readings that are shown beside a field

Unit = tuple[int, int | None]  # a check, and the machine that its results speak for; None: all


@dataclass(frozen=True, kw_only=True, slots=True)
class Status:
    """One check of one unit."""

    check: Check
    control: Control
    terms: CheckTerms
    machine_id: int | None
    last: tuple[CheckResult, ...]  # the newest first
    good_through: date | None  # None: never done
    done_on: date | None

    @property
    def unit(self) -> Unit:
        return (self.check.id, self.machine_id)

    @property
    def latest(self) -> CheckResult | None:
        return self.last[0] if self.last else None

    @property
    def failed(self) -> bool:
        return self.latest is not None and self.latest.outcome is Outcome.FAILED

    @property
    def statutory(self) -> bool:
        return self.terms.basis is Basis.STATUTORY

    @property
    def range(self) -> Range | None:
        return range_in(self.terms)

    @property
    def interval(self) -> str:
        return interval_words(self.terms.every, self.terms.unit)

    @property
    def readings(self) -> list[str]:
        """Return the last readings as they were typed, the newest first."""
        return [result.reading for result in self.last if result.reading][:SHOWN]

    def due(self, today: date) -> bool:
        """Say whether it belongs to this day's round."""
        return is_due(good_through=self.good_through, done_on=self.done_on, today=today)


def unit(check: Check, machine_id: int) -> Unit:
    """Return whom a result of this check at this machine would speak for."""
    return (check.id, machine_id if check.scope is Scope.MACHINE else None)


def checks_by_id(session: Session, check_ids: Iterable[int]) -> dict[int, Check]:
    """Return checks by their number."""
    rows = session.execute(select(Check).where(Check.id.in_(set(check_ids)))).scalars()
    return {check.id: check for check in rows}


def statuses(
    session: Session, units: Iterable[Unit], *, at: datetime, zone: ZoneInfo, most: int = LAST
) -> dict[Unit, Status]:
    """Return where these checks stand, with the ``most`` last results of each. Three statements."""
    wanted = set(units)
    ids = {check_id for check_id, _ in wanted}
    checks = {
        check.id: (check, control)
        for check, control in session.execute(
            select(Check, Control).join(Control).where(Check.id.in_(ids))
        )
    }
    terms = _terms(session, ids)
    last = _last(session, ids, at, most)
    found = {}
    for check_id, machine_id in wanted:
        check, control = checks[check_id]
        results = last[check_id, machine_id]
        found[check_id, machine_id] = Status(
            check=check,
            control=control,
            terms=terms[check_id],
            machine_id=machine_id,
            last=tuple(results),
            good_through=_through(results, terms[check_id], zone),
            done_on=local_date(results[0].occurred_at, zone) if results else None,
        )
    return found


def _through(results: list[CheckResult], terms: CheckTerms, zone: ZoneInfo) -> date | None:
    if not results:
        return None
    return good_through(
        results[0].next_due_on,
        local_date(results[0].occurred_at, zone),
        every=terms.every,
        unit=terms.unit,
    )


def _terms(session: Session, ids: set[int]) -> dict[int, CheckTerms]:
    newest = (
        select(func.max(CheckTerms.id))
        .where(CheckTerms.check_id.in_(ids))
        .group_by(CheckTerms.check_id)
    )
    rows = session.execute(select(CheckTerms).where(CheckTerms.id.in_(newest))).scalars()
    return {row.check_id: row for row in rows}


def _last(
    session: Session, ids: set[int], at: datetime, most: int
) -> dict[Unit, list[CheckResult]]:
    numbered = (
        select(
            CheckResult.id,
            func.row_number()
            .over(
                partition_by=(CheckResult.check_id, CheckResult.machine_id),
                # Of two at the same instant a failure counts, as it does in the decision.
                order_by=(
                    CheckResult.occurred_at.desc(),
                    CheckResult.outcome,
                    CheckResult.id.desc(),
                ),
            )
            .label("place"),
        )
        .where(CheckResult.check_id.in_(ids), CheckResult.occurred_at <= at)
        .subquery()
    )
    found: dict[Unit, list[CheckResult]] = defaultdict(list)
    for result in session.execute(
        select(CheckResult)
        .join(numbered, numbered.c.id == CheckResult.id)
        .where(numbered.c.place <= most)
        .order_by(numbered.c.place)
    ).scalars():
        found[result.check_id, result.machine_id].append(result)
    return found
