"""Statutory examinations: passed by their examiner's report, which is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.dates import local_date
from app.errors import Forbidden, NotFound, Refused
from app.hazards.checks import record_check, terms_of, unit_of
from app.hazards.due import next_due
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, ExaminationReport, Outcome

MOST_BYTES = 10 * 1024 * 1024  # of a report's file

# What the bytes of a file begin with, and what it is then served as.
_KINDS = (
    (b"%PDF-", "application/pdf", "pdf"),
    (b"\xff\xd8\xff", "image/jpeg", "jpg"),
    (b"\x89PNG\r\n\x1a\n", "image/png", "png"),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Report:
    """What a report says of itself, and its file where one was handed in."""

    examiner: str
    employer: str
    reference: str
    file_digest: str | None = None
    file_name: str = ""


def kind_of(data: bytes) -> tuple[str, str]:
    """Return the media type and the ending of a report's file, by its content.

    Refused where it is neither a PDF nor a picture, whatever its name says.
    """
    if len(data) > MOST_BYTES:
        raise Refused("A report has at most 10 MB.", code="too-large", status=413)
    for start, media_type, ending in _KINDS:
        # A PDF that was cut off on its way has no end.
        if data.startswith(start) and (ending != "pdf" or b"%%EOF" in data[-2048:]):
            return media_type, ending
    raise Refused(
        "That file is no whole PDF, JPEG or PNG. Nothing was recorded.",
        code="no-report",
        status=422,
    )


def insist_on_report(terms: CheckTerms, outcome: Outcome | None) -> None:
    """Refuse to pass a statutory examination by the way a routine check is recorded.

    That it failed is taken from everybody who may check: stopping must be quick.
    """
    if terms.basis is Basis.STATUTORY and outcome is not Outcome.FAILED:
        raise Forbidden(
            "A statutory examination passes only by its examiner's report, which an approver "
            "records. Nothing was recorded."
        )


def record_examination(
    session: Session,
    check: Check,
    *,
    machine_id: int,
    outcome: Outcome,
    done_on: date,
    report: Report,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
    note: str = "",
    reading: str = "",
    may_return: bool = False,
) -> CheckResult:
    """Record a statutory examination by its report; the next is due counted from its own day.

    The examiner and the reference stand in the note of the result as well, so that whoever
    reads the result knows on whose word it rests.
    """
    terms = terms_of(session, check.id)
    if terms.basis is not Basis.STATUTORY:
        raise Refused("This is not a statutory examination: record it as a check.", code="routine")
    if not report.examiner or not report.reference:
        raise Refused(
            "Name the examiner and the reference of the report.", code="report-missing", status=422
        )
    if outcome is Outcome.FAILED and not note.strip():
        raise Refused("Say what failed.", code="note-missing", status=422)
    examiner = ", ".join(part for part in (report.examiner, report.employer) if part)
    result = record_check(
        session,
        check,
        machine_id=machine_id,
        outcome=outcome,
        actor_id=actor_id,
        now=now,
        zone=zone,
        done_at=_done_at(done_on, terms, now=now, zone=zone),
        reading=reading,
        note=f"Examined by {examiner}; report {report.reference}. {note.strip()}",
        may_return=may_return,
    )
    session.add(
        ExaminationReport(
            result_id=result.id,
            examiner=report.examiner,
            employer=report.employer,
            reference=report.reference,
            file_digest=report.file_digest,
            file_name=report.file_name,
            recorded_by_id=actor_id,
            recorded_at=now,
        )
    )
    return result


def _done_at(done_on: date, terms: CheckTerms, *, now: datetime, zone: ZoneInfo) -> datetime:
    """Return the instant that stands for the day of an examination: its noon, or now if today."""
    today = local_date(now, zone)
    if done_on > today:
        raise Refused(
            "An examination cannot have been done in the future.", code="future", status=422
        )
    if next_due(done_on, every=terms.every, unit=terms.unit) < today:
        raise Refused(
            "An examination of that day has run out already. Look at the date on the report again.",
            code="run-out",
            status=422,
        )
    if done_on == today:
        return now
    return datetime.combine(done_on, time(12), zone).astimezone(UTC)


def reports_of(
    session: Session, check: Check, machine_id: int, *, most: int
) -> list[ExaminationReport]:
    """Return the last reports that speak for this machine, the newest first."""
    unit = unit_of(check, machine_id)
    return list(
        session.execute(
            select(ExaminationReport)
            .join(CheckResult, CheckResult.id == ExaminationReport.result_id)
            .where(
                CheckResult.check_id == check.id,
                CheckResult.machine_id.is_(None)
                if unit is None
                else CheckResult.machine_id == unit,
            )
            .order_by(CheckResult.occurred_at.desc(), ExaminationReport.id.desc())
            .limit(most)
        ).scalars()
    )


def report_or_404(session: Session, report_id: int) -> tuple[ExaminationReport, CheckResult]:
    """Return a report whose file is kept, with the result that rests on it."""
    report = session.get(ExaminationReport, report_id)
    if report is None or report.file_digest is None:
        raise NotFound("There is no such report in the store.")
    return report, session.get_one(CheckResult, report.result_id)
