"""An induction to be read on a phone or on paper, in the reader's language, and its questions."""

from __future__ import annotations

from flask import Blueprint, Response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.errors import BadInput, Forbidden, Refused
from app.forms import row_number, text, whole, whole_or_none
from app.inductions.languages import language
from app.inductions.pictures import picture_or_404
from app.inductions.published import published
from app.inductions.questions import keep_try, latest_try, marked
from app.inductions.read_page import (
    items_of,
    original_text,
    questions_of,
    translated_text,
)
from app.inductions.reads_in import language_of
from app.inductions.wording import parts_of
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor
from app.people.models import Person
from app.people.register import person_or_404
from app.people.rights import Act

bp = Blueprint("reader", __name__)


@bp.get("/inductions/<int:induction_id>/read")
@access(SIGNED_IN)
def read(induction_id: int) -> str:
    """Show what is told and what will be seen done, in the reader's language and the original."""
    taught = published(reading(), induction_id)
    chosen, offered = language_of(taught)
    original = original_text(taught, parts_of(taught), this_site().language)
    told = chosen.told if chosen else {}
    return render_template(
        "inductions/read.html",
        taught=taught,
        original=original,
        translation=chosen,
        translated=translated_text(original, chosen) if chosen else None,
        items=items_of(taught, told),
        first=[published(reading(), each) for each in taught.requires],
        offered=[language(tag) for tag in offered],
    )


@bp.get("/inductions/pictures/<int:picture_id>.jpg")
@access(SIGNED_IN)
def picture(picture_id: int) -> Response:
    """Serve a picture of a published wording."""
    found = picture_or_404(reading(), picture_id)
    return Response(parts().files.read(found.file_digest), mimetype="image/jpeg")


# --- the questions -----------------------------------------------------------------------


@bp.get("/inductions/<int:induction_id>/questions")
@access(SIGNED_IN)
def questions(induction_id: int) -> str:
    """Ask the questions, on one's own phone or, of somebody else, on a technician's."""
    return _questions(induction_id, _person(reading(), row_number("for")))


def _person(look: Session, person_id: int | None) -> Person:
    """Return who answers: whoever is signed in, or whom a technician asks."""
    me = actor()
    if person_id is None or person_id == me.id:
        return person_or_404(look, me.id)
    if not me.may(Act.SIGN_OFF):
        raise Forbidden("You may answer for yourself only.")
    return person_or_404(look, person_id)


def _questions(induction_id: int, person: Person, problem: str = "") -> str:
    look = reading()
    taught = published(look, induction_id)
    if not taught.teaching.questions:
        raise Refused("This induction has no questions.", code="no-questions", status=404)
    chosen, _offered = language_of(taught)
    return render_template(
        "inductions/questions.html",
        taught=taught,
        person=person,
        own=person.id == actor().id,
        translation=chosen,
        lang=language(chosen.language) if chosen else None,
        original_lang=language(taught.teaching.language or this_site().language),
        asked=list(questions_of(taught, chosen.told if chosen else {})),
        last=latest_try(look, taught, person.id),
        problem=problem,
    )


@bp.post("/inductions/<int:induction_id>/questions")
@access(SIGNED_IN)
def answer(induction_id: int) -> Answer:
    """Keep what was answered. It clears nobody; a wrong answer leads back to the text."""
    key = text("key", most=64)
    if len(key) < 16:
        raise BadInput("This form has no key. Open the page again.")
    with writing() as held:
        person = _person(held, whole("person_id") if "person_id" in request.form else None)
        taught = published(held, induction_id)
        if whole("revision_id") != taught.revision_id:
            raise Refused(
                "The wording was published anew since you opened this page. Open it again.",
                code="changed-meanwhile",
            )
        asked = taught.teaching.questions
        places = [whole_or_none(f"question-{i}") for i in range(len(asked))]
        keep_try(
            held,
            taught,
            key=key,
            person_id=person.id,
            answers=marked(asked, places),
            actor_id=actor().id,
            now=now(),
        )
    other = None if person.id == actor().id else person.id
    page = url_for("reader.questions", induction_id=induction_id, **{"for": other})  # type: ignore[arg-type]
    return redirect(page, 303)
