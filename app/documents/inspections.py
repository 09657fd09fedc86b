"""The register of all examinations that a law asks for, on paper."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.documents.asked import Asked, head_of, site_then
from app.documents.checks_then import (
    relied_on_then,
    reports_of,
    results_then,
    terms_then,
    through,
)
from app.documents.standing_then import Moment
from app.errors import NotFound
from app.hazards.due import interval_words
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Control, Outcome
from app.hazards.status import Unit
from app.machines.models import Area, Machine
from assessments.document.inspection_register import Examination, InspectionRegister

SOON = timedelta(days=60)  # an examiner is not to be had next week


def inspection_register(session: Session, asked: Asked) -> InspectionRegister:
    """Return all statutory examinations of an area, or of the whole site under number 0."""
    area = session.get(Area, asked.subject) if asked.subject else None
    if asked.subject and area is None:
        raise NotFound("There is no such area.")
    place = site_then(session, asked)
    now = Moment(at=asked.at, known=asked.known, zone=place.tz)
    relied = {
        each: those
        for each, those in relied_on_then(session, now).items()
        if area is None or any(machine.area_id == area.id for machine in those)
    }
    terms = terms_then(session, {check_id for check_id, _ in relied}, now)
    statutory = {
        each: those for each, those in relied.items() if terms[each[0]].basis is Basis.STATUTORY
    }
    lines = sorted(
        _examinations(session, statutory, terms, now),
        key=lambda one: (
            _WORST_FIRST.index(one.state),
            one.due_on or date.min,
            one.title,
            one.machines,
        ),
    )
    where = area.name if area else "The whole site"
    covered = {machine.id for those in statutory.values() for machine in those}
    return InspectionRegister(
        head=head_of(
            place,
            asked,
            reference=f"Examinations {area.id}" if area else "Examinations",
            title="Examinations by law",
        ),
        where=where,
        soon_days=SOON.days,
        examinations=tuple(lines),
        without=_without(session, covered, area, now),
    )


_WORST_FIRST = ("failed", "never done", "overdue", "due soon", "in date")


def _examinations(
    session: Session,
    relied: dict[Unit, list[Machine]],
    terms: dict[int, CheckTerms],
    now: Moment,
) -> Iterator[Examination]:
    ids = {check_id for check_id, _ in relied}
    results = results_then(session, ids, now)
    latest = {each: rows[-1] for each, rows in results.items()}
    reports = reports_of(session, (row.id for row in latest.values()), now)
    areas = {row.id: row.name for row in session.execute(select(Area.id, Area.name))}
    checks = {
        check.id: (check, control)
        for check, control in session.execute(
            select(Check, Control)
            .join(Control, Control.id == Check.control_id)
            .where(Check.id.in_(ids))
        )
    }
    today = local_date(now.at, now.zone)
    for each, those in relied.items():
        check, control = checks[each[0]]
        asked, last = terms[check.id], latest.get(each)
        good = through(last, asked, now) if last else None
        yield Examination(
            title=check.title,
            system=control.title,
            number=control.id,
            machines=tuple(map(_machine_words, those)),
            area=", ".join(sorted({areas[machine.area_id] for machine in those})),
            interval=interval_words(asked.every, asked.unit),
            source=asked.basis_source,
            scope=asked.passes_when,
            last_on=local_date(last.occurred_at, now.zone) if last else None,
            outcome=last.outcome.value if last else "",
            reading=last.reading if last else "",
            examiner=reports.get(last.id, "") if last else "",
            due_on=good,
            state=_state(last, good, today),
        )


def _state(last: CheckResult | None, good: date | None, today: date) -> str:
    if last is None or good is None:
        return "never done"
    if last.outcome is Outcome.FAILED:
        return "failed"
    if good < today:
        return "overdue"
    return "due soon" if good - today <= SOON else "in date"


def _machine_words(machine: Machine) -> str:
    plate = ", ".join(
        words
        for words in (
            f"{machine.maker} {machine.model}".strip(),
            f"serial {machine.serial}" if machine.serial else "",
        )
        if words
    )
    return f"{machine.name} ({plate})" if plate else machine.name


def _without(
    session: Session, covered: set[int], area: Area | None, now: Moment
) -> tuple[str, ...]:
    day = local_date(now.at, now.zone)
    rows = session.execute(
        select(Machine)
        .where(or_(Machine.retired_on.is_(None), Machine.retired_on > day))
        .order_by(Machine.name)
    ).scalars()
    return tuple(
        machine.name
        for machine in rows
        if machine.id not in covered and (area is None or machine.area_id == area.id)
    )
