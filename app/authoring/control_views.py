"""How is it proved here? A page for each suggested control, and for those that a line relies on."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy.orm import Session

from app.authoring import controls
from app.authoring.answering import Answer, others_at_it
from app.authoring.controls import Decision, Proved
from app.authoring.draft_views import onwards
from app.authoring.line import line_or_404
from app.authoring.overview import draft_or_404, insist_on_author
from app.authoring.reading import words
from app.dates import local_date
from app.hazards.due import IntervalUnit
from app.hazards.models import Basis, Hazard, SuggestedControl
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.models import Person
from app.people.rights import Act
from app.risk_assessments.confirmed import progress_of
from app.risk_assessments.drafts import machines_of
from app.risk_assessments.models import RiskAssessment
from app.risk_assessments.proved import Proof, proofs_of
from assessments.hierarchy import Level

bp = Blueprint("controls", __name__)


def _line(draft_id: int, hazard_id: int) -> str:
    return url_for(
        "authoring.drafts.line", draft_id=draft_id, hazard_id=hazard_id, _anchor="controls"
    )


def _choices(session: Session, draft: RiskAssessment) -> dict[str, Any]:
    """Return what the form of a decision offers to choose from."""
    known = controls.controls_of_the_site(session)
    machines = [each.id for each in machines_of(session, draft.id)]
    today = local_date(now(), this_site().tz)
    proofs = proofs_of(session, [c.id for c, proved in known if proved], machines, today=today)
    return {
        "proved": Proved,
        "levels": list(Level),
        "units": list(IntervalUnit),
        "bases": list(Basis),
        "site_controls": [(control, _standing(proofs.get(control.id, []))) for control, _ in known],
    }


def _standing(proofs: list[Proof]) -> str:
    """Say in a few words how a control of the site is proved."""
    if not proofs:
        return "no check"
    dead = [each for each in proofs if not each.alive]
    return f"{dead[0].check.title}: {dead[0].words}" if dead else "its checks are alive today"


@bp.get("/drafts/<int:draft_id>/suggestions/<int:suggestion_id>")
@access(Act.WRITE)
def suggestion(draft_id: int, suggestion_id: int) -> str:
    """Ask how a suggested control is proved here."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    row = controls.suggestion_or_404(session, draft_id, suggestion_id)
    return render_template(
        "authoring/suggestion.html",
        draft=draft,
        suggested=row,
        level=Level(row.level),
        lines=[session.get_one(Hazard, each) for each in row.hazards],
        checks=controls.proposed(row.checks),
        decided_by=session.get_one(Person, row.decided_by_id).name if row.decided_by_id else "",
        others=others_at_it(session, [draft]),
        **_choices(session, draft),
    )


@bp.post("/drafts/<int:draft_id>/suggestions/<int:suggestion_id>")
@access(Act.WRITE)
def decide(draft_id: int, suggestion_id: int) -> Answer:
    """Take the control in one of three ways, or leave it out with a reason."""
    decision = controls.read()
    with writing() as session:
        draft, row = _suggested(session, draft_id, suggestion_id)
        controls.decide(session, draft, row, decision, actor_id=actor().id, now=now())
    flash(f"“{row.title}”: {decision.proved.value}.")
    return redirect(_next_of_the_line(draft_id, row), 303)


@bp.post("/drafts/<int:draft_id>/suggestions/<int:suggestion_id>/reopen")
@access(Act.WRITE)
def reopen(draft_id: int, suggestion_id: int) -> Answer:
    """Look again at what was left out."""
    with writing() as session:
        draft, row = _suggested(session, draft_id, suggestion_id)
        controls.reopen(session, draft, row, actor_id=actor().id, now=now())
    there = url_for("authoring.controls.suggestion", draft_id=draft_id, suggestion_id=suggestion_id)
    return redirect(there, 303)


def _suggested(
    session: Session, draft_id: int, suggestion_id: int
) -> tuple[RiskAssessment, SuggestedControl]:
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    return draft, controls.suggestion_or_404(session, draft_id, suggestion_id)


def _next_of_the_line(draft_id: int, decided: SuggestedControl) -> str:
    """Return the next suggestion for the same line, or whatever is open next."""
    session = reading()
    progress = progress_of(session, draft_or_404(session, draft_id))
    for each in progress.open_suggestions:
        if set(each.hazards) & set(decided.hazards):
            return url_for(
                "authoring.controls.suggestion", draft_id=draft_id, suggestion_id=each.id
            )
    return onwards(draft_id)


@bp.get("/drafts/<int:draft_id>/lines/<int:hazard_id>/controls/new")
@access(Act.WRITE)
def new(draft_id: int, hazard_id: int) -> str:
    """Show the form of a control that nobody suggested."""
    session = reading()
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    return render_template(
        "authoring/new_control.html",
        draft=draft,
        line=line_or_404(session, draft_id, hazard_id),
        checks=[dict.fromkeys(controls.PROPOSED, "")],
        **_choices(session, draft),
    )


@bp.post("/drafts/<int:draft_id>/lines/<int:hazard_id>/controls/new")
@access(Act.WRITE)
def add(draft_id: int, hazard_id: int) -> Answer:
    decision: Decision = controls.read()
    with writing() as session:
        draft, line = _line_of(session, draft_id, hazard_id)
        controls.add(session, draft, line, decision, actor_id=actor().id, now=now())
    flash("The line relies on it now.")
    return redirect(_line(draft_id, hazard_id), 303)


@bp.post("/drafts/<int:draft_id>/lines/<int:hazard_id>/controls/<int:control_id>")
@access(Act.WRITE)
def prove(draft_id: int, hazard_id: int, control_id: int) -> Answer:
    """Say how a control that the line relies on is proved here."""
    with writing() as session:
        draft, line = _line_of(session, draft_id, hazard_id)
        controls.say_proof(
            session, draft, line, control_id, words=words("words"), actor_id=actor().id, now=now()
        )
    flash("Confirmed.")
    return redirect(_line(draft_id, hazard_id), 303)


@bp.post("/drafts/<int:draft_id>/lines/<int:hazard_id>/controls/<int:control_id>/take-away")
@access(Act.WRITE)
def take_away(draft_id: int, hazard_id: int, control_id: int) -> Answer:
    """Let the line rely on it no more."""
    with writing() as session:
        draft, line = _line_of(session, draft_id, hazard_id)
        controls.take_away(session, draft, line, control_id, actor_id=actor().id, now=now())
    flash("The line does not rely on it any more. The control stays on the register.")
    return redirect(_line(draft_id, hazard_id), 303)


def _line_of(session: Session, draft_id: int, hazard_id: int) -> tuple[RiskAssessment, Hazard]:
    draft = draft_or_404(session, draft_id)
    insist_on_author(session, draft)
    return draft, line_or_404(session, draft_id, hazard_id)
