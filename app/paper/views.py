"""Sheets on paper: asked for on a session's page, and typed in when there is power again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import func, select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.errors import BadInput, NotFound, Refused
from app.forms import day, text, whole
from app.inductions.catalogue import catalogue_now
from app.inductions.models import InductionRevision
from app.inductions.published import Published, published_then
from app.paper.age import only_approvers
from app.paper.entry import Written, enter, entered, may_have_seen, published_since
from app.paper.read_then import printed_to_read
from app.paper.sheet import ask_for, sheet_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.models import Person
from app.people.register import find
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import signed as signed_by_me
from app.sessions.given import session_or_404
from app.sessions.models import InductionSession, PaperSheet
from app.sessions.wall import read_clock
from app.training.models import SignOff, SignOffPaper
from app.training.signing import facts_of_group
from app.training.standing import Result

bp = Blueprint("paper", __name__)

Answer = str | tuple[str, int] | Response
LISTED_FOR = timedelta(days=60)
RESULTS = (Result.ALONE, Result.SUPERVISED, Result.NOT_YET)
MOST_PEOPLE = 100


# --- printing ----------------------------------------------------------------------------


@bp.post("/sessions/<int:session_id>/signing-sheet")
@access(Act.PLAN_SESSIONS)
def make_sheet(session_id: int) -> Response:
    """Ask the worker for a sheet to be filled in by hand."""
    with writing() as session:
        insist(Act.PLAN_SESSIONS, area_id=session_or_404(session, session_id).area_id)
        job = ask_for(session, session_id, actor_id=actor().id, now=now())
    return redirect(url_for("work.job", work_id=job.id, waiting=1), 303)


# --- typing in ---------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class SheetLine:
    """A sheet that was printed."""

    row: PaperSheet
    title: str
    entered: int


@bp.get("/paper")
@access(Act.TYPE_IN)
def index() -> str | Response:
    """Ask for the reference on the sheet; list those printed lately."""
    asked = request.args.get("reference", "")[:80].strip()
    session = reading()
    problem = ""
    if asked:
        try:
            row = sheet_or_404(session, asked)
            return redirect(url_for("paper.sheet", sheet_code=row.reference), 303)
        except NotFound as unknown:
            problem = unknown.sentence
    return render_template(
        "paper/index.html", lines=_printed(session), asked=asked, problem=problem
    )


def _printed(session: Session) -> list[SheetLine]:
    """Return the sheets of late, the newest first. Two statements."""
    typed_in = (
        select(func.count(SignOffPaper.id))
        .where(SignOffPaper.sheet == PaperSheet.reference)
        .correlate(PaperSheet)
        .scalar_subquery()
    )
    rows = session.execute(
        select(PaperSheet, InductionRevision.induction_id, typed_in.label("entered"))
        .join(InductionRevision, InductionRevision.id == PaperSheet.induction_revision_id)
        .where(PaperSheet.recorded_at > now() - LISTED_FOR)
        .order_by(PaperSheet.id.desc())
        .limit(100)
    )
    taught = catalogue_now(session)
    return [
        SheetLine(row=row.PaperSheet, title=taught[row.induction_id].title, entered=row.entered)
        for row in rows
    ]


@dataclass(frozen=True, kw_only=True)
class PersonLine:
    """Somebody on the sheet, with what was sent about them."""

    id: int
    name: str
    card: str
    seen_record_id: int
    typed_in: SignOff | None
    result: str = ""
    all: bool = False
    read: bool = False
    items: frozenset[str] = frozenset()


@bp.get("/paper/<sheet_code>")
@access(Act.TYPE_IN)
def sheet(sheet_code: str) -> str:
    return _sheet(sheet_code)


def _sheet(sheet_code: str, problem: str = "") -> str:
    """Show the sheet as it was printed, to be typed in; after a refusal, as it was sent."""
    session, zone = reading(), this_site().tz
    row = sheet_or_404(session, sheet_code)
    taught = published_then(session, row.induction_revision_id)
    given = session.get_one(InductionSession, row.session_id)
    ends = min(given.ends_at, now()).astimezone(zone)
    words = request.args.get("q", "")[:100]
    return render_template(
        "paper/sheet.html",
        row=row,
        taught=taught,
        given=given,
        since=published_since(session, row, now=now()),
        to_read=printed_to_read(session, row),
        only_approvers=only_approvers(this_site()),
        people=_people(session, row, taught),
        also=_also(),
        saw=may_have_seen(session, taught.id),
        fields={
            "saw": request.form.get("saw", str(given.technician_id)),
            "seen_on": request.form.get("seen_on", ends.date().isoformat()),
            "seen_at": request.form.get("seen_at", f"{ends:%H:%M}"),
        },
        results=RESULTS,
        key=request.form.get("key"),
        problem=problem,
        words=words,
        found=find(session, words) if words else [],
        ask_password=not is_fresh(actor()),
    )


def _also() -> list[int]:
    """Return who walked in, as the address or the form names them."""
    named = request.form.getlist("also") or request.args.getlist("also")
    if len(named) > MOST_PEOPLE or not all(
        each.isascii() and each.isdigit() and len(each) < 19 for each in named
    ):
        raise BadInput("Who walked in cannot be read. Open the page again.")
    return list(dict.fromkeys(map(int, named)))


def _people(session: Session, row: PaperSheet, taught: Published) -> list[PersonLine]:
    done = entered(session, row)
    asked = list(dict.fromkeys([*map(int, row.people), *done, *_also()]))
    rows = {
        person.id: person
        for person in session.execute(
            select(Person).where(Person.id.in_(asked), Person.erased_at.is_(None))
        ).scalars()
    }
    facts = facts_of_group(session, actor(), asked, [taught.id], now=now(), zone=this_site().tz)
    return [
        PersonLine(
            id=each,
            name=rows[each].name,
            card=rows[each].card or "",
            typed_in=done.get(each),
            seen_record_id=facts[each].latest_id(taught.id),
            result=request.form.get(f"result_{each}", ""),
            all=f"all_{each}" in request.form,
            read=f"read_{each}" in request.form,
            items=frozenset(request.form.getlist(f"item_{each}")),
        )
        for each in asked
        if each in rows
    ]


@bp.post("/paper/<sheet_code>")
@access(Act.TYPE_IN)
def type_in(sheet_code: str) -> Answer:
    """Type in what stands on the sheet: all of it or nothing."""
    key = text("key", most=32)
    if len(key) < 16:
        raise BadInput("This form has no key. Open the page again.")
    try:
        if not signed_by_me():
            raise Refused(
                "That is not your password. Nothing was recorded; what you typed is kept.",
                code="password",
                status=403,
            )
        with writing() as session:
            row = sheet_or_404(session, sheet_code)
            taught = published_then(session, row.induction_revision_id)
            done = enter(
                session,
                row,
                _lines(row, taught),
                typist=actor(),
                saw_id=whole("saw"),
                seen_at=_seen_at(),
                key=key,
                now=now(),
                site=this_site(),
            )
            since = published_since(session, row, now=now())
    except Refused as refusal:
        if refusal.status in (409, 422, 429) or refusal.code == "password":
            return _sheet(sheet_code, refusal.sentence), refusal.status
        raise
    flash(f"{len(done)} typed in from {row.reference}." + (f" {since.sentence}" if since else ""))
    return redirect(url_for("paper.sheet", sheet_code=row.reference), 303)


def _lines(row: PaperSheet, taught: Published) -> list[Written]:
    """Read the lines for which a result was chosen."""
    found = []
    for person in dict.fromkeys([*map(int, row.people), *_also()]):
        result = request.form.get(f"result_{person}", "")
        if not result:
            continue
        if result not in {each.value for each in RESULTS}:
            raise BadInput("Choose a result that is on the sheet.", status=422)
        ticked = request.form.getlist(f"item_{person}")
        if not all(each.isascii() and each.isdigit() and len(each) < 19 for each in ticked):
            raise BadInput("The ticked items cannot be read. Open the page again.")
        every = f"all_{person}" in request.form
        found.append(
            Written(
                person_id=person,
                result=Result(result),
                observed=frozenset(item.id for item in taught.items)
                if every
                else frozenset(map(int, ticked)),
                seen_record_id=whole(f"seen_{person}"),
                read=f"read_{person}" in request.form,
            )
        )
    return found


def _seen_at() -> datetime:
    """Return the moment that was written on the sheet, by the clock on the wall."""
    minute = read_clock(text("seen_at", most=5))
    wall = datetime.combine(day("seen_on"), time()) + timedelta(minutes=minute)
    return wall.replace(tzinfo=this_site().tz).astimezone(UTC)
