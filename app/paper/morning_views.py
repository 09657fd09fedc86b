"""The morning list of an area: as a page, and as a PDF by the worker."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response

from app.documents.blueprint import pdf_answer
from app.errors import NotFound
from app.jobs import outbox
from app.jobs.daily import MORNING_JOB
from app.machines.areas import area_or_404
from app.machines.models import Area
from app.matrix.kept import site_now
from app.paper.morning import made_today, morning_list
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act

bp = Blueprint("morning", __name__)


@bp.get("/morning")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """Choose the area."""
    areas = reading().execute(select(Area).order_by(Area.name)).scalars().all()
    return render_template("paper/mornings.html", areas=areas, at=this_site().morning_list_at)


@bp.get("/areas/<int:area_id>/morning")
@access(Act.SEE_PEOPLE)
def page(area_id: int) -> str:
    """Show who is cleared for what today, as it would be printed now."""
    session = reading()
    today = site_now(session, now=now(), zone=this_site().tz)
    return render_template(
        "paper/morning.html",
        area_id=area_id,
        c=morning_list(session, area_id, now=today.now, today=today),
        made=made_today(session, area_id, now=now(), zone=this_site().tz),
    )


@bp.get("/areas/<int:area_id>/morning/<code>")
@access(Act.SEE_PEOPLE)
def checked(area_id: int, code: str) -> Response:
    """Lead from the code on a printed list to what is so now."""
    return redirect(url_for("morning.page", area_id=area_id), 303)


@bp.post("/areas/<int:area_id>/morning")
@access(Act.SEE_PEOPLE)
def make(area_id: int) -> Response:
    """Ask the worker for the list of now."""
    with writing() as session:
        area = area_or_404(session, area_id)
        job = outbox.ask(
            session,
            MORNING_JOB,
            key=f"{MORNING_JOB}:{area_id}:{now().isoformat()}",
            payload={"area": area_id},
            now=now(),
            title=f"Morning list: {area.name}",
            asked_by_id=actor().id,
            page=url_for("morning.file", area_id=area_id),
        )
    return redirect(url_for("work.job", work_id=job.id, waiting=1), 303)


@bp.get("/areas/<int:area_id>/morning.pdf")
@access(Act.SEE_PEOPLE)
def file(area_id: int) -> Response:
    """Hand out the newest list that was made today. Yesterday's is void and gone."""
    job = made_today(reading(), area_id, now=now(), zone=this_site().tz)
    if job is None or job.file_digest is None:
        raise NotFound("No list of this area was made today. One of another day is void.")
    return pdf_answer(job.file_digest, f"morning-list-{area_id}.pdf")
