"""Pages of a list: send it, say what its columns are, look through the rehearsal, apply it."""

from __future__ import annotations

from flask import flash, render_template, request, url_for
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import BadInput
from app.forms import redirect_to, row_number, text, upload, whole
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.transfer import lists
from app.transfer.blueprint import bp
from app.transfer.choices import Choices, choices_from
from app.transfer.column_form import asked_choices, form_of
from app.transfer.columns import HEADINGS_AMONG
from app.transfer.matching import NEW
from app.transfer.models import PeopleList
from app.transfer.reading import read, sheets_of
from app.transfer.sheet import MOST_BYTES
from app.transfer.shown import names_of, shown
from app.transfer.words import Phase, Word
from app.web import takes_files

_FORM_BYTES = 64 * 1024  # of what is sent beside the file


def _to(list_id: int) -> Response:
    return redirect_to(url_for("transfer.people_list", list_id=list_id))


@bp.get("/imports")
@access(Act.MANAGE_PEOPLE)
def people_lists() -> str:
    return render_template("transfer/lists.html", lists=lists.newest(reading()), most=MOST_BYTES)


@bp.post("/imports")
@access(Act.MANAGE_PEOPLE)
@takes_files(MOST_BYTES + _FORM_BYTES)
def send_list() -> Response:
    """Keep a file of people, and go on to its columns."""
    data, sent = upload("file"), request.files.get("file")
    if sent is None or not sent.filename:
        raise BadInput("Choose a file.", status=422)
    found = sheets_of(data)
    choices = Choices(sheet=found[0] if len(found) == 1 else None)
    if len(found) < 2:
        read(data, choices.sheet, most=HEADINGS_AMONG)  # refused before anything is kept
    with writing() as session:
        row = lists.send(
            session,
            data,
            file_name=sent.filename,
            choices=choices,
            actor_id=actor().id,
            now=now(),
        )
        row_id = row.id
    return redirect_to(url_for("transfer.columns", list_id=row_id))


@bp.get("/imports/<int:list_id>/columns")
@access(Act.MANAGE_PEOPLE)
def columns(list_id: int) -> str:
    """Ask which column is what: as suggested, or as chosen when these headings came before."""
    row = lists.list_or_404(reading(), list_id)
    form = form_of(reading(), row, sheet=request.args.get("sheet"), headings=row_number("headings"))
    today = local_date(now(), this_site().tz)
    return render_template("transfer/columns.html", list=row, form=form, today=today)


@bp.post("/imports/<int:list_id>/columns")
@access(Act.MANAGE_PEOPLE)
def rehearse(list_id: int) -> Response:
    """Ask the worker for a rehearsal by these columns."""
    row = lists.list_or_404(reading(), list_id)
    choices, headings = asked_choices(reading(), row)
    with writing() as session:
        row = lists.list_or_404(session, list_id)
        lists.rehearse(session, row, choices, headings, actor_id=actor().id, now=now())
    return _to(list_id)


@bp.get("/imports/<int:list_id>")
@access(Act.MANAGE_PEOPLE)
def people_list(list_id: int) -> str:
    """Show how far a list has come: its progress, its rehearsal line by line, or what it did."""
    session = reading()
    row = lists.list_or_404(session, list_id)
    if row.phase in (Phase.REHEARSING, Phase.APPLYING):
        stuck = lists.given_up(session, row)
        progress = lists.progress_of(session, row)
        return render_template("transfer/wait.html", list=row, progress=progress, stuck=stuck)
    word = _word()
    found = lists.lines_of(session, row, word, after=row_number("after") or 0)
    page = found[: lists.LINES_AT_ONCE]
    return render_template(
        "transfer/list.html",
        list=row,
        choices=choices_from(row.choices),
        word=word,
        words=list(Word),
        lines=[shown(line) for line in page],
        names=names_of(session, page),
        following=found[-1]["position"] if len(found) > lists.LINES_AT_ONCE else None,
        nothing=_changes_nothing(row),
    )


def _changes_nothing(row: PeopleList) -> bool:
    return not any(row.counts.get(word) for word in (Word.ADDED, Word.CHANGED, Word.ENDED))


def _word() -> Word | None:
    asked = request.args.get("word", "")
    return Word(asked) if asked in set(Word) else None


@bp.post("/imports/<int:list_id>/again")
@access(Act.MANAGE_PEOPLE)
def rehearse_again(list_id: int) -> Response:
    with writing() as session:
        row = lists.list_or_404(session, list_id)
        lists.rehearse_again(session, row, decided={}, actor_id=actor().id, now=now())
    return _to(list_id)


@bp.post("/imports/<int:list_id>/lines/<int:number>")
@access(Act.MANAGE_PEOPLE)
def decide(list_id: int, number: int) -> Response:
    """Say whom a doubtful line means: one of those of that name, or somebody new."""
    person_id = whole("person_id")
    with writing() as session:
        row = lists.list_or_404(session, list_id)
        line = lists.line_or_404(session, row, number)
        allowed = set(line["candidates"]) if line["may_be_decided"] else set()
        if person_id not in (allowed | {NEW} if line["may_be_new"] else allowed):
            raise BadInput("That line cannot be decided so. Open the page again.", status=422)
        decided = {number: person_id}
        lists.rehearse_again(session, row, decided=decided, actor_id=actor().id, now=now())
    flash(f"Line {number} is decided; the list is rehearsed again.")
    return _to(list_id)


@bp.post("/imports/<int:list_id>/apply")
@access(Act.MANAGE_PEOPLE)
def apply(list_id: int) -> Response:
    """Ask for what was rehearsed to be written, once."""
    insist(Act.MANAGE_PEOPLE)
    digest = text("plan", most=64)
    with writing() as session:
        row = lists.list_or_404(session, list_id)
        lists.apply(session, row, plan_digest=digest, actor_id=actor().id, now=now())
    return _to(list_id)
