"""Pictures of an induction while it is written: sent, looked at, taken out."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, url_for
from werkzeug.wrappers import Response as Answer

from app.authoring.locking import mark
from app.errors import Refused
from app.forms import text, upload
from app.inductions import drafts
from app.inductions.pictures import picture_of_draft, put_in, take_out
from app.inductions.teaching import MOST_NAME, MOST_WORDS
from app.machines.photos import MOST_BYTES, clean_picture
from app.parts import now, parts, reading, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.web import takes_files

bp = Blueprint("induction_pictures", __name__)


@bp.get("/inductions/drafts/<int:induction_draft_id>/pictures/<picture>")
@access(Act.SEE_PEOPLE)
def picture(induction_draft_id: int, picture: str) -> Response:
    """Serve a picture of a draft."""
    draft = drafts.draft_or_404(reading(), induction_draft_id)
    digest = picture_of_draft(draft, picture)
    return Response(parts().files.read(digest), mimetype="image/jpeg")


@bp.post("/inductions/drafts/<int:induction_draft_id>/pictures")
@access(Act.WRITE)
@takes_files(MOST_BYTES + 1024 * 1024)
def add(induction_draft_id: int) -> Answer:
    """Put a picture in: cleaned, kept under its digest, with words for who does not see it."""
    data, name = upload("picture"), text("name", most=MOST_NAME)
    if not data:
        raise Refused("Choose a picture first.", code="no-picture", status=422)
    digest = parts().files.keep(clean_picture(data))
    with writing() as session:
        draft = drafts.draft_or_404(session, induction_draft_id)
        put_in(draft, name=name, words=text("words", most=MOST_WORDS), file_digest=digest)
        mark(draft, actor_id=actor().id, now=now())
        drafts.log_draft(session, draft, "save", actor_id=actor().id, now=now())
    flash(f"The picture is here. Where it belongs, write a line: [picture: {name}]")
    return _back(induction_draft_id)


@bp.post("/inductions/drafts/<int:induction_draft_id>/pictures/<picture>/out")
@access(Act.WRITE)
def remove(induction_draft_id: int, picture: str) -> Answer:
    """Take a picture out again."""
    with writing() as session:
        draft = drafts.draft_or_404(session, induction_draft_id)
        take_out(draft, picture)
        mark(draft, actor_id=actor().id, now=now())
        drafts.log_draft(session, draft, "save", actor_id=actor().id, now=now())
    flash("The picture is out.")
    return _back(induction_draft_id)


def _back(induction_draft_id: int) -> Answer:
    page = url_for(
        "authoring.inductions.edit", induction_draft_id=induction_draft_id, _anchor="pictures"
    )
    return redirect(page, 303)
