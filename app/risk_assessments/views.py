"""Assessments as a list, one revision as a page, and the approver's decision on it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import case, select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.errors import NotFound
from app.forms import text
from app.parts import now, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.models import Person
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from app.risk_assessments import approval
from app.risk_assessments.in_force import has_fate, in_force
from app.risk_assessments.models import Fate, Revision, RiskAssessment
from assessments.document.frozen import thaw

bp = Blueprint("risk_assessments", __name__)


@bp.get("/assessments")
@access(SIGNED_IN)
def index() -> str:
    """List what is in force and what waits; superseded revisions hang on their successors."""
    at = now()
    rows = reading().execute(
        select(
            RiskAssessment.reference,
            RiskAssessment.title,
            Revision.number,
            Revision.review_due_on,
            case(
                (in_force(at), "in force"),
                (has_fate(Revision.id, Fate.WITHDRAWN, at), "withdrawn"),
                (has_fate(Revision.id, Fate.RETURNED, at), "returned to its author"),
                (has_fate(Revision.id, Fate.APPROVED, at), "superseded"),
                else_="submitted, not in force",
            ).label("words"),
        )
        .join(Revision, Revision.assessment_id == RiskAssessment.id)
        .order_by(RiskAssessment.reference, Revision.number.desc())
    )
    shown = [row for row in rows if row.words != "superseded"]
    return render_template("risk_assessments/index.html", rows=shown)


def revision_or_404(session: Session, reference: str, number: int) -> Revision:
    row = session.execute(
        select(Revision)
        .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
        .where(RiskAssessment.reference == reference, Revision.number == number)
    ).scalar_one_or_none()
    if row is None:
        raise NotFound("There is no such assessment revision.")
    return row


@bp.get("/assessments/<reference>/<int:number>")
@access(SIGNED_IN)
def revision(reference: str, number: int) -> str:
    session, me = reading(), actor()
    row = revision_or_404(session, reference, number)
    happened = [
        (fate, session.get_one(Person, fate.recorded_by_id).name)
        for fate in approval.fates(session, row.id)
    ]
    own = row.prepared_by_id == me.id and not this_site().one_person_may_approve
    areas = approval.areas_covered(session, row.id)
    mine = me.may(Act.APPROVE) and all(me.may(Act.APPROVE, area_id=each) for each in areas)
    return render_template(
        "risk_assessments/revision.html",
        revision=row,
        content=thaw(row.content),
        happened=happened,
        may_decide=mine and not own and not happened,
        may_withdraw=mine and [f.fate.value for f, _ in happened] == ["approved"],
        ask_password=not is_fresh(me),
    )


@bp.post("/assessments/<reference>/<int:number>/decide")
@access(Act.APPROVE)
def decide(reference: str, number: int) -> Response:
    """Approve, return or withdraw, with the password as the signature."""
    me, act = actor(), request.form.get("act", "")
    insist_on_signature()
    with writing() as session:
        row = revision_or_404(session, reference, number)
        for area_id in approval.areas_covered(session, row.id):
            insist(Act.APPROVE, area_id=area_id)
        note = text("note")
        if act == "approve":
            site = this_site()
            approval.approve(session, row, actor_id=me.id, site=site, note=note, now=now())
        elif act == "return":
            approval.give_back(session, row, actor_id=me.id, note=note, now=now())
        elif act == "withdraw":
            approval.withdraw(session, row, actor_id=me.id, note=note, now=now())
        else:
            raise NotFound("That cannot be decided here.")
    flash("Recorded. It holds at the machines from now on.")
    return redirect(url_for("risk_assessments.revision", reference=reference, number=number), 303)
