"""The page on which a pack is chosen and asked for, and found again when it is made."""

from __future__ import annotations

from flask import Blueprint, Response, render_template, request, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response as Answer

from app.dates import local_date
from app.errors import BadInput, NotFound
from app.forms import day, redirect_to, text, whole_or_none
from app.issued.models import IssuedDocument
from app.jobs.models import Job
from app.machines.models import Area
from app.pack.ask import PACK_JOB, ask, new_seed
from app.pack.asked import Asked, usual_period
from app.pack.make import PACK_KIND
from app.parts import now, parts, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act

bp = Blueprint("pack", __name__)

NEWEST = 20


@bp.get("/packs")
@access(Act.MAKE_PACK)
def index() -> str:
    """Offer the choice, and list the packs under way and those made."""
    session = reading()
    first_on, last_on = usual_period(local_date(now(), this_site().tz))
    ended = (Job.done_at, Job.failed_at, Job.stopped_at)
    under_way = session.execute(
        select(Job)
        .where(Job.kind == PACK_JOB, *(column.is_(None) for column in ended))
        .order_by(Job.id.desc())
    ).scalars()
    made = session.execute(
        select(IssuedDocument)
        .where(IssuedDocument.kind == PACK_KIND)
        .order_by(IssuedDocument.id.desc())
        .limit(NEWEST)
    ).scalars()
    return render_template(
        "pack/index.html",
        first_on=first_on,
        last_on=last_on,
        areas=session.execute(select(Area).order_by(Area.name)).scalars().all(),
        seed=new_seed(),
        under_way=under_way.all(),
        made=made.all(),
    )


@bp.post("/packs")
@access(Act.MAKE_PACK)
def make() -> Answer:
    """Ask the worker for a pack, and lead to the page that tells how far it is."""
    samples = whole_or_none("samples")
    asked = Asked(
        first_on=day("first_on"),
        last_on=day("last_on"),
        areas=_areas(),
        samples=samples if samples is not None else 3,
        seed=text("seed", most=40) or new_seed(),
        as_known_then="as_known_then" in request.form,
        asked_at=now(),
    )
    with writing() as session:
        job = ask(
            session,
            asked,
            signatory=actor().name,
            page=url_for("pack.index"),
            actor_id=actor().id,
            now=now(),
            today=local_date(now(), this_site().tz),
        )
    return redirect_to(url_for("work.job", work_id=job.id, waiting=1))


def _areas() -> tuple[int, ...]:
    """Return the areas that were ticked; all of them are none in particular."""
    known = set(reading().execute(select(Area.id)).scalars())
    ticked = request.form.getlist("areas")
    if not all(each.isascii() and each.isdigit() and len(each) < 19 for each in ticked):
        raise BadInput("An area is not a number. Open the page again.")
    areas = {int(each) for each in ticked}
    if areas - known:
        raise BadInput("One of these areas is not on the register.", status=422)
    return () if areas == known else tuple(sorted(areas))


@bp.get("/packs/<int:document_id>.pdf")
@access(Act.MAKE_PACK)
def file(document_id: int) -> Response:
    """Hand out a pack, as it was made and signed."""
    row = reading().get(IssuedDocument, document_id)
    if row is None or row.kind != PACK_KIND:
        raise NotFound("There is no such pack.")
    answer = Response(parts().files.read(row.file_digest), mimetype="application/pdf")
    name = row.subject.replace(":", "-")
    answer.headers["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer
