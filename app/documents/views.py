"""Documents to look at and to print. The worker makes them; a page waits for them."""

from __future__ import annotations

from flask import render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response as Answer

from app.documents import check_views, paper_views
from app.documents.blueprint import bp, pdf_answer
from app.documents.issue import kept_print, print_key
from app.errors import NotFound
from app.forms import redirect_to
from app.jobs import outbox
from app.parts import now, parts, reading, writing
from app.people.access import SIGNED_IN, access, actor
from app.risk_assessments.approval import PRINT_JOB
from app.risk_assessments.models import Revision, RiskAssessment

__all__ = ["bp", "check_views", "paper_views"]


def _revision(reference: str, number: int) -> Revision:
    found = (
        reading()
        .execute(
            select(Revision)
            .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
            .where(RiskAssessment.reference == reference, Revision.number == number)
        )
        .scalar_one_or_none()
    )
    if found is None:
        raise NotFound("There is no such assessment revision.")
    return found


@bp.get("/assessments/<reference>/<int:number>.pdf")
@access(SIGNED_IN)
def print_of(reference: str, number: int) -> Answer | str:
    """Hand out the kept print of a revision, or offer to make it."""
    digest = kept_print(reading(), _revision(reference, number), parts().settings)
    if digest is None:
        return render_template("documents/not_made.html", reference=reference, number=number)
    return pdf_answer(digest, f"{reference}-{number}.pdf")


@bp.post("/assessments/<reference>/<int:number>.pdf")
@access(SIGNED_IN)
def make_print(reference: str, number: int) -> Answer:
    """Ask the worker for the print."""
    revision = _revision(reference, number)
    # One job for one print, however often it is asked for.
    key = f"{PRINT_JOB}:{revision.id}:{print_key(reading(), revision, parts().settings)[:16]}"
    with writing() as session:
        job = outbox.ask(
            session,
            PRINT_JOB,
            key=key,
            payload={"revision": revision.id},
            now=now(),
            title=f"Print of {reference}, revision {number}",
            asked_by_id=actor().id,
            page=url_for("documents.print_of", reference=reference, number=number),
        )
    return redirect_to(url_for("work.job", work_id=job.id, waiting=1))
