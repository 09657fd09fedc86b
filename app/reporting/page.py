"""A report as its page shows it: private words for those who may read them, names looked up now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.actions import closing
from app.actions.models import Action
from app.audit import log
from app.faults.models import Progress, Report, ReportStep
from app.faults.steps import about, steps_of
from app.hazards.models import Check
from app.machines.models import Machine
from app.people.models import Person


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of the look into a report."""

    progress: Progress
    by: str
    at: datetime
    potential: str
    causes: str | None  # None: nothing new was said, or it was erased
    statutory: str


@dataclass(frozen=True, kw_only=True)
class Done:
    """One action that came of a report; closed or not."""

    action: Action
    closed: Action | None


@dataclass(frozen=True, kw_only=True)
class Somebody:
    """One person of that moment, and how they stood at the machine."""

    name: str
    being: tuple[str, ...]
    verdict: str
    codes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Checked:
    """Where a check stood."""

    title: str
    outcome: str
    done_at: datetime | None
    good_through: date | None


@dataclass(frozen=True, kw_only=True)
class Moment:
    """The snapshot of a report, with names."""

    hours: str
    verdict: str
    codes: tuple[str, ...]
    revisions: tuple[Mapping[str, Any], ...]
    checks: tuple[Checked, ...]
    people: tuple[Somebody, ...]


def words_of(session: Session, report: Report) -> str | None:
    """Return what happened, in the reporter's words; None once they were erased."""
    return log.note(session, report.words_digest) if report.words_digest else None


def steps(session: Session, report: Report) -> list[Step]:
    """Return the steps, each with its causes where it said something new about them."""
    found, before = [], None
    for row in steps_of(session, report.id):
        found.append(_step(session, row, new=row.causes_digest != before))
        before = row.causes_digest
    return found


def _step(session: Session, row: ReportStep, *, new: bool) -> Step:
    return Step(
        progress=row.progress,
        by=session.get_one(Person, row.recorded_by_id).name,
        at=row.occurred_at,
        potential=row.potential,
        causes=log.note(session, row.causes_digest) if row.causes_digest and new else None,
        statutory=row.statutory,
    )


def actions(session: Session, report: Report) -> list[Done]:
    """Return what is to be done because of it, or was."""
    rows = session.execute(
        select(Action)
        .where(Action.about == about(report.id), Action.ends_id.is_(None))
        .order_by(Action.id)
    ).scalars()
    return [Done(action=row, closed=closing(session, row)) for row in rows]


def moment(session: Session, kept: Mapping[str, Any]) -> Moment:
    """Return the snapshot with the names of today: it keeps numbers alone."""
    names = _names(session, Person.id, Person.name, {c["person"] for c in kept["clearances"]})
    titles = _names(session, Check.id, Check.title, {c["check"] for c in kept["checks"]})
    machines = {p["machine"] for p in kept["present"] if p["machine"] is not None}
    places = _names(session, Machine.id, Machine.name, machines)
    return Moment(
        hours=kept["hours"],
        verdict=kept["machine"]["verdict"],
        codes=_codes(kept["machine"]),
        revisions=tuple(kept["revisions"]),
        checks=tuple(_checked(each, titles) for each in kept["checks"]),
        people=tuple(_somebody(each, kept, names, places) for each in kept["clearances"]),
    )


def _names(session: Session, key: Any, name: Any, wanted: set[int]) -> dict[int, str]:
    return dict(session.execute(select(key, name).where(key.in_(wanted))).all())


def _codes(answer: Mapping[str, Any]) -> tuple[str, ...]:
    # Three checks that were not done are three reasons of one code.
    return tuple(code.replace("-", " ") for code in dict.fromkeys(answer["codes"]))


def _checked(each: Mapping[str, Any], titles: Mapping[int, str]) -> Checked:
    done_at, through = each["done_at"], each["good_through"]
    return Checked(
        title=titles[each["check"]],
        outcome=each["outcome"],
        done_at=datetime.fromisoformat(done_at) if done_at else None,
        good_through=date.fromisoformat(through) if through else None,
    )


def _somebody(
    each: Mapping[str, Any],
    kept: Mapping[str, Any],
    names: Mapping[int, str],
    places: Mapping[int, str],
) -> Somebody:
    being = [
        f"{p['being']} {places[p['machine']]}" if p["machine"] is not None else p["being"]
        for p in kept["present"]
        if p["person"] == each["person"]
    ]
    reported = ["reported it"] if kept.get("reporter") == each["person"] else []
    return Somebody(
        name=names.get(each["person"], "somebody who was erased"),
        being=(*reported, *being),
        verdict=each["verdict"],
        codes=_codes(each),
    )
