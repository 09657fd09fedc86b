"""Ask for a document, wait for it, see it. Who may is asked each time, with the row it is about."""

from __future__ import annotations

from datetime import timedelta

from flask import render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response as Answer

from app.dates import day_begins, local_date
from app.documents.asked import Asked
from app.documents.assessment_papers import papers_of
from app.documents.blueprint import bp, pdf_answer
from app.documents.kinds import KINDS, Kind, kind_or_404
from app.documents.papers import PAPER_JOB, job_key, readable, stamp_of
from app.errors import BadInput, NotFound
from app.forms import day_or_none, redirect_to
from app.jobs import outbox
from app.jobs.models import Job
from app.parts import now, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor
from assessments.document.content import RiskAssessment

PERIOD = timedelta(days=90)  # what a log tells of unless somebody says otherwise


def _kind(key: str, subject: int) -> Kind:
    kind = kind_or_404(key)
    kind.insist(reading(), actor(), subject)
    return kind


@bp.app_template_global("papers_of")
def named_papers_of(content: RiskAssessment) -> list[tuple[str, str]]:
    """Return what can be drawn from an assessment: its address and its name."""
    return [(key, KINDS[key].name) for key in papers_of(content)]


@bp.get("/papers/<kind>/<int:subject>")
@access(SIGNED_IN)
def paper(kind: str, subject: int) -> str:
    """Say what the document is, and let somebody ask for it as of a day or of a time."""
    found = _kind(kind, subject)
    today = local_date(now(), this_site().tz)
    asked = Asked(subject=subject, at=now(), known=now(), first_on=today - PERIOD, last_on=today)
    return render_template(
        "documents/paper.html",
        kind=found,
        title=readable(reading(), found, asked),
        today=today,
        first_on=asked.first_on,
    )


@bp.post("/papers/<kind>/<int:subject>")
@access(SIGNED_IN)
def make_paper(kind: str, subject: int) -> Answer:
    """Ask the worker for it. What no page can show is refused here, in a sentence."""
    found = _kind(kind, subject)
    asked = _asked(subject)
    title = readable(reading(), found, asked)
    stamp = stamp_of(asked)
    with writing() as session:
        job = outbox.ask(
            session,
            PAPER_JOB,
            key=job_key(found, subject, stamp),
            payload={"kind": found.key, **asked.payload()},
            now=now(),
            title=f"{found.name}: {title}",
            asked_by_id=actor().id,
            page=url_for("documents.made_paper", kind=kind, subject=subject, stamp=stamp),
        )
    return redirect_to(url_for("work.job", work_id=job.id, waiting=1))


def _asked(subject: int) -> Asked:
    """Return what was asked for: now, or the end of a day; and the period, to that day."""
    moment, zone = now(), this_site().tz
    today = local_date(moment, zone)
    last_on, first_on = day_or_none("as_of") or today, day_or_none("first_on")
    if last_on > today:
        raise BadInput("Nobody knows yet what that day will bring.", status=422)
    if first_on is not None and first_on > last_on:
        raise BadInput("The first day comes after the last.", status=422)
    at = moment if last_on == today else day_begins(last_on + timedelta(days=1), zone)
    return Asked(
        subject=subject,
        at=at,
        known=moment,
        first_on=first_on or last_on - PERIOD,
        last_on=last_on,
    )


@bp.get("/papers/<kind>/<int:subject>/<stamp>")
@access(SIGNED_IN)
def made_paper(kind: str, subject: int, stamp: str) -> Answer:
    """Hand the document out, or wait for it."""
    found = _kind(kind, subject)
    key = job_key(found, subject, stamp)
    job = reading().execute(select(Job).where(Job.key == key)).scalar_one_or_none()
    if job is None:
        raise NotFound("Nobody asked for that document.")
    if job.done_at is None or job.file_digest is None:
        return redirect_to(url_for("work.job", work_id=job.id, waiting=1))
    return pdf_answer(job.file_digest, f"{found.key}-{subject}.pdf")
