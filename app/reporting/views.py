"""Report what went wrong from the code on the label, and look into what was reported."""

from __future__ import annotations

from datetime import datetime, timedelta

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.actions.actions import action_or_404, close_action, open_action
from app.clearance.done import instant
from app.dates import local_date
from app.errors import BadInput, Forbidden, NotFound, Refused
from app.faults import listed as lists
from app.faults import steps
from app.faults.models import Report, ReportKind
from app.faults.report import Told, by_key, keep_report, report_or_404
from app.forms import choice, day, day_or_none, row_number, text, upload
from app.machines.holds import open_holds
from app.machines.models import Area, Machine, Tag
from app.machines.photos import MOST_BYTES, clean_picture
from app.machines.tags import read_code
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.models import Person
from app.people.rights import Act
from app.reporting import page
from app.reporting.snapshot import snapshot
from app.risk_assessments.models import Review, RiskAssessment
from app.web import takes_files

bp = Blueprint("reporting", __name__)

MOST_CODE = 40  # characters; a longer one is no code of ours
MOST_DAYS_AGO = 30  # of what is reported later the moment is no longer told apart
LEAST_KEY = 16  # characters of a form's key: nobody finds a report by guessing


# --- to report -----------------------------------------------------------------------------


@bp.get("/m/<code>/report")
@access(SIGNED_IN)
def form(code: str) -> str:
    """Ask what happened; whoever is hurt comes first."""
    return render_template(
        "faults/form.html",
        code=read_code(code)[:MOST_CODE],
        machine=_machine(reading(), code),
        kinds=list(ReportKind),
        chosen=request.args.get("kind", ""),
        emergency=this_site().emergency,
    )


def _machine(session: Session, code: str) -> Machine:
    found = session.execute(
        select(Machine)
        .join(Tag, Tag.machine_id == Machine.id)
        .where(Tag.code == read_code(code)[:MOST_CODE], Tag.retired_at.is_(None))
    ).scalar_one_or_none()
    if found is None:
        raise NotFound("This code belongs to no machine here.")
    return found


@bp.post("/m/<code>/report")
@access(SIGNED_IN)
@takes_files(MOST_BYTES + 1024 * 1024)
def send(code: str) -> Answer:
    """Keep the report, with the state of that moment, and stop the machine where that is said."""
    _machine(reading(), code)
    key, data = text("key", most=64), upload("photo")
    if len(key) < LEAST_KEY:
        raise BadInput("This form has no key. Open the page again.")
    told = Told(
        key=key,
        kind=choice("kind", ReportKind),
        what=text("what"),
        stopped=bool(text("stopped")),
        photo_digest=parts().files.keep(clean_picture(data)) if data else None,
        occurred_at=_when(),
    )
    with writing() as session:
        machine = _machine(session, code)
        reporter_id = None if text("unnamed") else actor().id
        keep_report(
            session,
            machine,
            told,
            reporter_id=reporter_id,
            snapshot=snapshot(
                session,
                machine.id,
                reporter_id=reporter_id,
                at=told.occurred_at,
                site=this_site(),
            ),
            site=this_site(),
            now=now(),
        )
    return redirect(url_for("reporting.follow", followed=key), 303)


def _when() -> datetime:
    """Return when it happened: just now, or at the time that was given."""
    words, on = text("time", most=5), day_or_none("on")
    if not words:
        if on is not None:
            raise Refused("Say at about what time it was.", code="time-missing", status=422)
        return now()
    moment = instant(on or local_date(now(), this_site().tz), words, this_site().tz)
    if moment > now():
        raise Refused("That is still to come.", code="future", status=422)
    if now() - moment > timedelta(days=MOST_DAYS_AGO):
        raise Refused(
            f"That is more than {MOST_DAYS_AGO} days ago: tell a technician.",
            code="long-ago",
            status=422,
        )
    return moment


@bp.get("/reports/by/<followed>")
@access(SIGNED_IN)
def follow(followed: str) -> str:
    """Show how far a report is, to whoever has its address: also without their name on it."""
    session = reading()
    report = by_key(session, followed)
    if report is None:
        raise NotFound("There is no such report.")
    return _progress(session, report)


def _progress(session: Session, report: Report) -> str:
    return render_template(
        "faults/progress.html",
        report=report,
        machine=session.get(Machine, report.machine_id),
        steps=page.steps(session, report),
        actions=page.actions(session, report),
        held=bool(report.machine_id and open_holds(session, report.machine_id)),
    )


# --- to look into it -----------------------------------------------------------------------


def _looks_into(area_id: int) -> bool:
    return actor().may(Act.LOOK_INTO, area_id=area_id)


def _reads(area_id: int) -> bool:
    return _looks_into(area_id) or actor().may(Act.READ_ALL, area_id=area_id)


@bp.get("/reports")
@access(SIGNED_IN)
def index() -> str:
    """List reports: of one's areas for those who look into them, else one's own."""
    session, me = reading(), actor()
    areas = [
        (row.id, row.name)
        for row in session.execute(select(Area.id, Area.name).order_by(Area.name))
        if _reads(row.id)
    ]
    state = request.args.get("state", "open" if areas else "all")
    kind = request.args.get("kind", "")
    if kind and kind not in set(ReportKind):
        raise BadInput("That is no kind of report.", status=422)
    asked = lists.Asked(
        kind=ReportKind(kind) if kind else None,
        area_id=row_number("area"),
        open={"open": True, "closed": False}.get(state),
    )
    return render_template(
        "faults/list.html",
        found=lists.listed(
            session,
            asked,
            areas=[area_id for area_id, _name in areas] if areas else None,
            reporter_id=None if areas else me.id,
        ),
        areas=areas,
        kinds=list(ReportKind),
        asked=asked,
        state=state,
    )


@bp.get("/reports/<int:fault_id>")
@access(SIGNED_IN)
def report(fault_id: int) -> str:
    """Show a report: everything to those who look into it, to its reporter how far it is."""
    session, me = reading(), actor()
    found = report_or_404(session, fault_id)
    if not _reads(found.area_id):
        if found.reporter_id != me.id:
            raise Forbidden("That report is not yours.")
        return _progress(session, found)
    done = page.actions(session, found)
    looked = page.steps(session, found)
    may_approve = me.may(Act.APPROVE, area_id=found.area_id)
    return render_template(
        "faults/report.html",
        report=found,
        machine=session.get(Machine, found.machine_id),
        area=session.get_one(Area, found.area_id),
        reporter=_name(session, found.reporter_id),
        words=page.words_of(session, found),
        moment=page.moment(session, found.snapshot),
        steps=looked,
        last=looked[-1] if looked else None,
        actions=done,
        holds=open_holds(session, found.machine_id) if found.machine_id else [],
        reviews=_reviews(session, found.id),
        looks_into=_looks_into(found.area_id),
        why_not_closed=steps.why_not_closed(session, found, may_approve=may_approve),
        may_approve=may_approve,
        potentials=list(steps.Potential),
        statutories=list(steps.Statutory),
        today=local_date(now(), this_site().tz),
    )


def _name(session: Session, person_id: int | None) -> str | None:
    return session.get_one(Person, person_id).name if person_id is not None else None


def _reviews(session: Session, fault_id: int) -> list[tuple[Review, str]]:
    rows = session.execute(
        select(Review, RiskAssessment.reference)
        .join(RiskAssessment, RiskAssessment.id == Review.assessment_id)
        .where(Review.key.like(f"report:{fault_id}:%"))
        .order_by(Review.id)
    )
    return [(review, reference) for review, reference in rows]


@bp.get("/reports/<int:fault_id>/photo.jpg")
@access(SIGNED_IN)
def photo(fault_id: int) -> Response:
    """Serve the picture of a report to those who may read its words."""
    found = report_or_404(reading(), fault_id)
    if not _reads(found.area_id) and found.reporter_id != actor().id:
        raise Forbidden("That report is not yours.")
    if found.photo_digest is None:
        abort(404)
    return Response(parts().files.read(found.photo_digest), mimetype="image/jpeg")


def _asked(session: Session, fault_id: int) -> Report:
    found = report_or_404(session, fault_id)
    insist(Act.LOOK_INTO, area_id=found.area_id)
    return found


def _back(fault_id: int) -> Answer:
    return redirect(url_for("reporting.report", fault_id=fault_id), 303)


@bp.post("/reports/<int:fault_id>/seen")
@access(Act.LOOK_INTO)
def seen(fault_id: int) -> Answer:
    with writing() as session:
        steps.see(session, _asked(session, fault_id), actor_id=actor().id, now=now())
    flash("The reporter sees that you have taken it up.")
    return _back(fault_id)


@bp.post("/reports/<int:fault_id>/investigated")
@access(Act.LOOK_INTO)
def investigated(fault_id: int) -> Answer:
    """Keep what a look into it found."""
    looked = steps.Looked(
        potential=choice("potential", steps.Potential),
        causes=text("causes", most=4000),
        statutory=choice("statutory", steps.Statutory),
        number=text("number", most=300),
    )
    with writing() as session:
        found = _asked(session, fault_id)
        steps.investigate(
            session,
            found,
            looked,
            may_approve=actor().may(Act.APPROVE, area_id=found.area_id),
            actor_id=actor().id,
            now=now(),
        )
    flash("Kept.")
    return _back(fault_id)


@bp.post("/reports/<int:fault_id>/actions")
@access(Act.LOOK_INTO)
def add_action(fault_id: int) -> Answer:
    with writing() as session:
        found = _asked(session, fault_id)
        open_action(
            session,
            about=steps.about(found.id),
            what=text("what"),
            owner=text("owner", most=200),
            due_on=day("due_on"),
            urgent=bool(text("urgent")),
            actor_id=actor().id,
            now=now(),
        )
    flash("The action is open until somebody says how it was verified.")
    return _back(fault_id)


@bp.post("/reports/<int:fault_id>/actions/<int:action_id>/close")
@access(Act.LOOK_INTO)
def end_action(fault_id: int, action_id: int) -> Answer:
    with writing() as session:
        found = _asked(session, fault_id)
        action = action_or_404(session, action_id)
        if action.about != steps.about(found.id):
            raise NotFound("This report has no such action.")
        close_action(session, action, verified=text("verified"), actor_id=actor().id, now=now())
    flash("Closed. It stays on record with how it was verified.")
    return _back(fault_id)


@bp.post("/reports/<int:fault_id>/closed")
@access(Act.LOOK_INTO)
def closed(fault_id: int) -> Answer:
    """End the look into a report."""
    with writing() as session:
        found = _asked(session, fault_id)
        steps.close(
            session,
            found,
            may_approve=actor().may(Act.APPROVE, area_id=found.area_id),
            actor_id=actor().id,
            now=now(),
        )
    flash("Closed. The reporter sees that.")
    return _back(fault_id)
