"""Translations of an induction: written beside the original, and checked by somebody else."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.authoring import reading as read
from app.errors import NotFound, Refused
from app.forms import text, whole
from app.inductions.languages import LANGUAGES, Language, language
from app.inductions.models import InductionRevision
from app.inductions.published import Published, published
from app.inductions.translations import MOST_PART, check, translate, translations_of
from app.inductions.wording import CONTENT, REFRESHER, parts_of
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act

bp = Blueprint("translations", __name__)

TALL = frozenset({CONTENT, REFRESHER})
NAMES = {
    "title": "Title",
    CONTENT: "What is told",
    REFRESHER: "What is told on the shorter path",
    "item": "Seen done",
    "question": "Question",
    "answer": "Answer",
    "picture": "What the picture shows:",
}


@bp.get("/inductions/<int:induction_id>/in")
@access(Act.WRITE)
def choose(induction_id: int) -> Response:
    """Go to the page of the language that was chosen."""
    tag = request.args.get("language", "")
    return redirect(
        url_for("authoring.translations.write", induction_id=induction_id, tag=tag), 303
    )


@bp.get("/inductions/<int:induction_id>/in/<tag>")
@access(Act.WRITE)
def write(induction_id: int, tag: str) -> str:
    """Show every part of the wording taught now, and what is said of it in a language."""
    session = reading()
    taught = published(session, induction_id)
    known = _language(taught, tag)
    before = translations_of(session, taught).get(tag)
    return render_template(
        "authoring/translation.html",
        taught=taught,
        lang=known,
        original=language(taught.teaching.language or this_site().language),
        parts=[(name, _name(name), words) for name, words in parts_of(taught).items()],
        before=before,
        told=before.told if before else {},
        tall=TALL,
        most=MOST_PART,
        own=before is not None and before.by_id == actor().id,
    )


def _language(taught: Published, tag: str) -> Language:
    if tag not in LANGUAGES:
        raise NotFound("That is no language that is known here.")
    if tag == (taught.teaching.language or this_site().language):
        raise Refused("The original is in that language.", code="original", status=409)
    return LANGUAGES[tag]


def _name(part: str) -> str:
    kind, _, rest = part.partition(" ")
    return f"{NAMES[kind]} {rest}".strip()


@bp.post("/inductions/<int:induction_id>/in/<tag>")
@access(Act.WRITE)
def save(induction_id: int, tag: str) -> Response:
    """Add a translation. It is a new row: what was shown before stays on record."""
    with writing() as session:
        taught = published(session, induction_id)
        if whole("revision_id") != taught.revision_id:
            raise Refused(
                "The wording was published anew since you opened this page. Your words were not "
                "kept: go back, copy them, and open the page again.",
                code="changed-meanwhile",
            )
        known = _language(taught, tag)
        translate(
            session,
            taught,
            language=tag,
            words={
                name: read.words(f"part-{i}", most=MOST_PART)
                for i, name in enumerate(parts_of(taught))
            },
            translator=text("translator", most=200),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"Kept in {known.english}. Somebody else who reads both checks it.")
    return redirect(url_for("authoring.inductions.induction", induction_id=induction_id), 303)


@bp.post("/inductions/translations/<int:translation_id>/check")
@access(Act.WRITE)
def confirm(translation_id: int) -> Response:
    """Record that somebody else held a translation against the original."""
    with writing() as session:
        row = check(session, translation_id, actor_id=actor().id, now=now())
        induction_id = session.get_one(InductionRevision, row.revision_id).induction_id
    flash("Checked, with your name.")
    return redirect(url_for("authoring.inductions.induction", induction_id=induction_id), 303)
