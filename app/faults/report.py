"""Keep a report of a fault, near miss or incident, with all that follows from it at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.errors import NotFound, Refused
from app.faults.models import Report, ReportKind
from app.machines.holds import open_holds, take_out
from app.machines.models import Hold, Machine
from app.risk_assessments.in_force import revisions_for
from app.risk_assessments.models import Trigger
from app.risk_assessments.reviews import open_review
from app.site import Site

# Common practice: an assessment is looked at again within two weeks of a report, and within one
# of an incident.
DAYS_TO_REVIEW = {ReportKind.FAULT: 14, ReportKind.NEAR_MISS: 14, ReportKind.INCIDENT: 7}


@dataclass(frozen=True, kw_only=True)
class Told:
    """What somebody reports."""

    key: str  # of the form: sent twice, it is kept once
    kind: ReportKind
    what: str  # what happened, in their own words
    stopped: bool  # the machine must not be used
    photo_digest: str | None
    occurred_at: datetime


def keep_report(
    session: Session,
    machine: Machine,
    told: Told,
    *,
    reporter_id: int | None,
    snapshot: dict[str, Any],
    site: Site,
    now: datetime,
) -> Report:
    """Keep a report, stop the machine where that is asked, and open the reviews that follow.

    ``reporter_id`` None: they wish to be unnamed, and nothing that is kept here names them.
    ``snapshot`` holds numbers and codes of that moment, no words about people.
    """
    before = by_key(session, told.key)
    if before is not None:
        return _the_same(before, machine, told)
    if not told.what.strip():
        raise Refused("Say in a few words what happened.", code="words-missing", status=422)
    report = Report(
        key=told.key,
        kind=told.kind,
        machine_id=machine.id,
        area_id=machine.area_id,
        reporter_id=reporter_id,
        words_digest=log.keep_note(session, told.what, now=now),
        photo_digest=told.photo_digest,
        stopped=told.stopped,
        snapshot=snapshot,
        occurred_at=told.occurred_at,
        recorded_at=now,
    )
    session.add(report)
    session.flush()
    log.record(
        session,
        action="faults:report:keep",
        subject=f"report:{report.id}",
        actor_id=reporter_id,
        now=now,
        detail={"kind": told.kind.name, "machine": machine.id, "stopped": told.stopped},
    )
    if told.stopped:
        _stop(session, machine, report, now)
    _open_reviews(session, machine, report, site, now)
    return report


def by_key(session: Session, key: str) -> Report | None:
    """Return the report that was sent with this form."""
    return session.execute(select(Report).where(Report.key == key)).scalar_one_or_none()


def report_or_404(session: Session, report_id: int) -> Report:
    found = session.get(Report, report_id)
    if found is None:
        raise NotFound("There is no such report.")
    return found


def _the_same(before: Report, machine: Machine, told: Told) -> Report:
    """Return the report that this very form made before; another one's key makes none."""
    if (before.machine_id, before.kind) != (machine.id, told.kind):
        raise Refused(
            "That form was sent before, with something else in it. Nothing was recorded.",
            code="sent-before",
        )
    return before


def _stop(session: Session, machine: Machine, report: Report, now: datetime) -> None:
    """Take the machine from everybody; once is enough, whoever reports it after that."""
    hold = Hold.SCENE_PRESERVED if report.kind is ReportKind.INCIDENT else Hold.OUT_OF_USE
    if any(each.hold is hold for each in open_holds(session, machine.id)):
        return
    take_out(
        session,
        machine,
        hold=hold,
        why=f"Reported as not to be used: {report.kind.value}, report {report.id}.",
        actor_id=report.reporter_id,
        now=now,
    )


def _open_reviews(
    session: Session, machine: Machine, report: Report, site: Site, now: datetime
) -> None:
    due_on = local_date(now, site.tz) + timedelta(days=DAYS_TO_REVIEW[report.kind])
    for revision in revisions_for(session, [machine.id], at=now):
        open_review(
            session,
            revision.assessment_id,
            trigger=Trigger.REPORT,
            why=f"{report.kind.value.capitalize()} at {machine.name}, report {report.id}: "
            "is the assessment still right?",
            due_on=due_on,
            key=f"report:{report.id}:{revision.assessment_id}",
            actor_id=report.reporter_id,
            now=now,
        )
