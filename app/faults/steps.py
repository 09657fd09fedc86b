"""The look into a report, step by step: seen, investigated, closed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.actions.actions import open_actions
from app.audit import log
from app.errors import Forbidden, Refused
from app.faults.models import Progress, Report, ReportKind, ReportStep


class Potential(StrEnum):
    """How deep to look: by the worst that it could have come to, not by what it came to.

    The four levels of investigation of the Health and Safety Executive, HSG245,
    *Investigating accidents and incidents*, 2004.
    """

    MINIMAL = "minimal"
    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"

    @property
    def words(self) -> str:
        return _LEVELS[self]


_LEVELS = {
    Potential.MINIMAL: "whoever is in charge of the area looks what can be learnt",
    Potential.LOW: "a short look for immediate, underlying and root causes",
    Potential.MEDIUM: "a closer look, with the safety adviser and those who work there",
    Potential.HIGH: "a team, with the adviser and those who work there, under whoever heads the "
    "site",
}


class Statutory(StrEnum):
    """Whether the law wants it reported to an authority."""

    NOT_DECIDED = "not decided yet"
    NOT_REPORTABLE = "not reportable"
    REPORTED = "reported"


@dataclass(frozen=True, kw_only=True)
class Looked:
    """What a look into a report found."""

    potential: Potential
    causes: str  # immediate, underlying, root; in private words; empty: as before
    statutory: Statutory
    number: str = ""  # of the report to the authority, or why none is needed

    @property
    def decision(self) -> str:
        """The statutory decision as it is kept."""
        return ": ".join(part for part in (self.statutory.value, self.number.strip()) if part)


def steps_of(session: Session, report_id: int) -> list[ReportStep]:
    """Return the steps in order. The last one says how it stands."""
    return list(
        session.execute(
            select(ReportStep).where(ReportStep.report_id == report_id).order_by(ReportStep.id)
        ).scalars()
    )


def about(report_id: int) -> str:
    """Return how actions name the report they came from."""
    return f"report:{report_id}"


def see(session: Session, report: Report, *, actor_id: int, now: datetime) -> None:
    """Say that somebody has taken it up. The reporter sees that."""
    if steps_of(session, report.id):
        raise Refused("Somebody has seen this report already.", code="seen-already")
    _add(session, report, Progress.SEEN, None, actor_id=actor_id, now=now)


def investigate(
    session: Session,
    report: Report,
    looked: Looked,
    *,
    may_approve: bool,
    actor_id: int,
    now: datetime,
) -> None:
    """Keep what a look found; it may be looked at again, and after its end by an approver only."""
    last = _last(session, report)
    if last is not None and last.progress is Progress.CLOSED and not may_approve:
        raise Forbidden("This report was closed: an approver opens it again.")
    if not looked.causes.strip() and (last is None or last.causes_digest is None):
        raise Refused("Say what the causes are.", code="causes-missing", status=422)
    if looked.statutory is not Statutory.NOT_DECIDED and not looked.number.strip():
        raise Refused(
            "Give the number of the report to the authority, or say why none is needed.",
            code="statutory-missing",
            status=422,
        )
    _add(session, report, Progress.INVESTIGATED, looked, actor_id=actor_id, now=now)


def close(
    session: Session, report: Report, *, may_approve: bool, actor_id: int, now: datetime
) -> None:
    """End the look into a report. An incident is closed by an approver, and decided on by law."""
    why = why_not_closed(session, report, may_approve=may_approve)
    if why is not None:
        raise Refused(why, code="not-closed", status=403 if not may_approve else 409)
    _add(session, report, Progress.CLOSED, None, actor_id=actor_id, now=now)


def why_not_closed(session: Session, report: Report, *, may_approve: bool) -> str | None:
    """Say in one sentence why it cannot be closed, or None."""
    last = _last(session, report)
    incident = report.kind is ReportKind.INCIDENT
    if last is None or last.progress is Progress.SEEN:
        return "It is closed once somebody has looked into it."
    if last.progress is Progress.CLOSED:
        return "It is closed already."
    if open_actions(session, [about(report.id)]):
        return "It is closed once each of its actions is closed."
    if incident and last.statutory == Statutory.NOT_DECIDED.value:
        return "It is closed once it is decided whether the law wants it reported."
    if incident and not may_approve:
        return "An incident is closed by an approver."
    return None


def _last(session: Session, report: Report) -> ReportStep | None:
    steps = steps_of(session, report.id)
    return steps[-1] if steps else None


def _add(
    session: Session,
    report: Report,
    progress: Progress,
    looked: Looked | None,
    *,
    actor_id: int,
    now: datetime,
) -> None:
    """Add a step. What it says nothing about stays as the step before it said."""
    last = _last(session, report)
    causes = log.keep_note(session, looked.causes, now=now) if looked is not None else None
    before = (last.potential, last.statutory) if last is not None else ("", "")
    row = ReportStep(
        report_id=report.id,
        progress=progress,
        potential=looked.potential.value if looked is not None else before[0],
        causes_digest=causes or (last.causes_digest if last is not None else None),
        statutory=looked.decision if looked is not None else before[1],
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action=f"faults:report:{progress.value}",
        subject=f"report:{report.id}",
        actor_id=actor_id,
        now=now,
        detail={"step": row.id, "potential": row.potential},
    )
