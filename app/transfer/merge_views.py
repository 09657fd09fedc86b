"""The page on which two rows of one person are merged."""

from __future__ import annotations

from flask import flash, render_template, request, url_for
from werkzeug.wrappers import Response

from app.dates import local_date
from app.forms import redirect_to, row_number, text, whole
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.register import find, person_or_404
from app.people.rights import Act
from app.transfer import merge as merging
from app.transfer.blueprint import bp


@bp.get("/people/<int:person_id>/merge")
@access(Act.MANAGE_PEOPLE)
def merge(person_id: int) -> str:
    """Find the other row, see both beside each other, and what is in the way."""
    session = reading()
    kept, number = person_or_404(session, person_id), row_number("other")
    other = person_or_404(session, number) if number is not None else None
    words = request.args.get("q", kept.name)[:100]
    return render_template(
        "transfer/merge.html",
        kept=merging.side(session, kept),
        other=merging.side(session, other) if other else None,
        words=words,
        found=[] if other else [each for each in find(session, words) if each.id != kept.id],
        obstacles=merging.obstacles(session, kept, other, now=now()) if other else [],
        merged_into=merging.absorbed_by(session, kept.id),
    )


@bp.post("/people/<int:person_id>/merge")
@access(Act.MANAGE_PEOPLE)
def merge_now(person_id: int) -> Response:
    """Let this row stand for both."""
    other_id, why = whole("other_id"), text("why")
    today = local_date(now(), this_site().tz)
    with writing() as session:
        kept, absorbed = person_or_404(session, person_id), person_or_404(session, other_id)
        merging.merge(session, kept, absorbed, why=why, actor_id=actor().id, today=today, now=now())
    flash(f"{kept.name} now stands for both. What was recorded stays under its own number.")
    return redirect_to(url_for("training.person", person_id=person_id))
