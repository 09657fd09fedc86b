"""The kinds as pages: the catalogue's and the site's own, read, written, sent and fetched."""

from __future__ import annotations

from flask import Blueprint, flash, make_response, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.authoring.answering import Answer
from app.authoring.kinds import (
    kind_or_404,
    known_kinds,
    matching,
    save_kind,
    text_of,
    version_of,
)
from app.errors import BadInput, Refused
from app.forms import upload, whole
from app.parts import now, reading, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.web import takes_files
from assessments.catalogue.kind import Group
from assessments.catalogue.reading import LARGEST, Defective
from assessments.catalogue.writing import write_kind
from assessments.document.signs import words as sign_words
from assessments.methods import catalogue

bp = Blueprint("kinds", __name__)


@bp.get("/kinds")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """List the kinds, searched and by group."""
    asked, group = request.args.get("q", "").strip()[:100], request.args.get("group", "")
    known = known_kinds(reading())
    return render_template(
        "authoring/kinds.html",
        found=matching(known, asked=asked, group=group),
        asked=asked,
        group=group,
        groups=list(Group),
        counted=len(known),
        may_write=actor().may(Act.WRITE),
    )


@bp.get("/kinds/new")
@access(Act.WRITE)
def new() -> str:
    """Show the form of a kind of one's own, empty or from another to change."""
    session, like = reading(), request.args.get("like", "")
    text = write_kind(kind_or_404(session, like).kind) if like else ""
    return _form(text, key=None)


@bp.post("/kinds/new")
@access(Act.WRITE)
@takes_files(2 * LARGEST)
def add() -> Answer:
    """Keep a kind from what was typed, or from a file that was sent."""
    return _save(None)


@bp.get("/kinds/<kind_key>")
@access(Act.SEE_PEOPLE)
def kind(kind_key: str) -> str:
    """Show everything that a kind says, with its sources."""
    session = reading()
    known = kind_or_404(session, kind_key)
    return render_template(
        "authoring/kind.html",
        kind=known.kind,
        own=known.own,
        version=version_of(session, kind_key) if known.own else 0,
        methods={each.id: each.title for each in catalogue().values()},
        sign_words=sign_words,
        may_write=actor().may(Act.WRITE),
        may_register=actor().may(Act.REGISTER_MACHINES),
    )


@bp.get("/kinds/<kind_key>.toml")
@access(Act.SEE_PEOPLE)
def file(kind_key: str) -> Response:
    """Give a kind as a file of the catalogue's form."""
    session = reading()
    known = kind_or_404(session, kind_key)
    text = text_of(session, kind_key) if known.own else write_kind(known.kind)
    answer = make_response(text)
    answer.headers["Content-Type"] = "application/toml; charset=utf-8"
    answer.headers["Content-Disposition"] = f'attachment; filename="{known.kind.key}.toml"'
    return answer


@bp.get("/kinds/<kind_key>/edit")
@access(Act.WRITE)
def edit(kind_key: str) -> str:
    """Show the text of a kind of the site's own."""
    return _form(text_of(reading(), kind_key), key=kind_key)


@bp.post("/kinds/<kind_key>/edit")
@access(Act.WRITE)
@takes_files(2 * LARGEST)
def change(kind_key: str) -> Answer:
    text_of(reading(), kind_key)
    return _save(kind_key)


def _save(key: str | None) -> Answer:
    text = _sent()
    try:
        with writing() as session:
            _insist_on_newest(session, key)
            found = save_kind(session, text, key=key, actor_id=actor().id, now=now())
    except Defective as defective:
        return _form(text, key=key, sentences=defective.sentences), 422
    except Refused as refused:
        return _form(text, key=key, sentences=(refused.sentence,)), refused.status
    flash(f"“{found.name}” is kept. Machines can begin from it.")
    return redirect(url_for("authoring.kinds.kind", kind_key=found.key), 303)


def _insist_on_newest(session: Session, key: str | None) -> None:
    """Refuse to put a wording over one that its author has not seen; theirs stands beside."""
    if key is not None and whole("version") != version_of(session, key):
        raise Refused(
            "Somebody else has changed this kind since you opened it. Yours is below and was not "
            "kept; open the kind in another window, put the two together, and save again from "
            "there.",
            code="overtaken",
        )


def _sent() -> str:
    data = upload("file")
    if not data:
        return request.form.get("text", "").replace("\r\n", "\n")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput("The file is not a text in UTF-8.", status=422) from None


def _form(text: str, *, key: str | None, sentences: tuple[str, ...] = ()) -> str:
    return render_template(
        "authoring/kind_form.html",
        text=text,
        key=key,
        sentences=sentences,
        version=version_of(reading(), key) if key else 0,
    )
