"""What audits found, in pages: each finding with who does what by which day, and its end."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response

from app.dates import local_date
from app.forms import choice, day, text, whole_or_none
from app.machines.areas import area_or_404
from app.machines.models import Area
from app.oversight.findings import (
    Found,
    ToDo,
    add_action,
    end_finding,
    finding_or_404,
    followed,
    record_finding,
)
from app.oversight.models import Weight
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act

bp = Blueprint("audits", __name__)


@bp.get("/audits")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """List what audits found, open findings in front."""
    session = reading()
    found = followed(session)
    return render_template(
        "oversight/findings.html",
        groups=[
            ("Open", [each for each in found if each.ended is None]),
            ("Ended", [each for each in found if each.ended is not None]),
        ],
        areas=_areas(),
        may_keep=actor().may(Act.KEEP_FINDINGS),
        today=local_date(now(), this_site().tz),
    )


def _areas() -> dict[int, str]:
    return {area.id: area.name for area in reading().execute(select(Area)).scalars()}


@bp.get("/audits/new")
@access(Act.KEEP_FINDINGS)
def new() -> str:
    """Ask for a finding, and for the first thing that is to be done about it."""
    areas = sorted(_areas().items(), key=lambda each: each[1])
    return render_template("oversight/finding_form.html", areas=areas, weights=list(Weight))


@bp.post("/audits/new")
@access(Act.KEEP_FINDINGS)
def record() -> Response:
    """Write a finding down."""
    with writing() as session:
        area_id = whole_or_none("area")
        row = record_finding(
            session,
            Found(
                audit=text("audit", most=200),
                reference=text("reference", most=40),
                weight=choice("weight", Weight),
                words=text("words"),
                area_id=area_or_404(session, area_id).id if area_id is not None else None,
                found_on=day("found_on"),
            ),
            _todo(),
            actor_id=actor().id,
            now=now(),
            today=local_date(now(), this_site().tz),
        )
    flash("Written down. It stays open until somebody says how its end was verified.")
    return _finding(row.id)


def _todo() -> ToDo:
    return ToDo(what=text("what"), owner=text("owner", most=200), due_on=day("due_on"))


def _finding(finding_id: int) -> Response:
    return redirect(url_for("audits.finding", audit_finding_id=finding_id), 303)


@bp.get("/audits/<int:audit_finding_id>")
@access(Act.SEE_PEOPLE)
def finding(audit_finding_id: int) -> str:
    """Show one finding, what is done about it, and how its end was verified."""
    session = reading()
    row = finding_or_404(session, audit_finding_id)
    found = next(each for each in followed(session) if each.finding.id == row.id)
    return render_template(
        "oversight/finding.html",
        found=found,
        area=_areas().get(row.area_id) if row.area_id is not None else None,
        may_keep=actor().may(Act.KEEP_FINDINGS),
        today=local_date(now(), this_site().tz),
    )


@bp.post("/audits/<int:audit_finding_id>/actions")
@access(Act.KEEP_FINDINGS)
def act(audit_finding_id: int) -> Response:
    """Add something that is to be done about a finding."""
    with writing() as session:
        row = finding_or_404(session, audit_finding_id)
        add_action(session, row, _todo(), actor_id=actor().id, now=now())
    flash("It is on the list of actions.")
    return _finding(audit_finding_id)


@bp.post("/audits/<int:audit_finding_id>/end")
@access(Act.KEEP_FINDINGS)
def end(audit_finding_id: int) -> Response:
    """End a finding by how it was verified."""
    with writing() as session:
        row = finding_or_404(session, audit_finding_id)
        end_finding(session, row, verified=text("verified"), actor_id=actor().id, now=now())
    flash("Ended. It stays on record with how that was verified.")
    return _finding(audit_finding_id)
