"""Term plans: the list, what is asked for, what was proposed, and publishing it."""

from __future__ import annotations

from flask import flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import Refused
from app.forms import day, text, whole
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.sessions.asked import USUAL_GROUP, USUAL_MINUTES, Asked, read_asked
from app.sessions.asking import Shown, as_kept, as_sent, empty, offered, sent
from app.sessions.blueprint import bp
from app.sessions.models import TermPlan
from app.sessions.proposal import read_proposal
from app.sessions.shown import page_of
from app.sessions.term_plan import (
    ask_again,
    begin,
    ground_of,
    job_of,
    plan_or_404,
    plans,
    publish,
)

SHOWN_AGAIN = (409, 422)  # what a person can put right on the same page


@bp.get("/plans")
@access(Act.PLAN_SESSIONS)
def index() -> str:
    found = plans(reading())
    return render_template(
        "sessions/plans.html",
        plans=[
            (plan, read_proposal(plan.proposed) if plan.proposed is not None else None)
            for plan in found
        ],
    )


# --- what is asked for -------------------------------------------------------------------


@bp.get("/plans/new")
@access(Act.PLAN_SESSIONS)
def new_plan() -> str:
    offer = offered(reading(), actor())
    return _form(empty(offer, local_date(now(), this_site().tz)))


def _form(shown: Shown, plan: TermPlan | None = None, problem: str = "") -> str:
    return render_template(
        "sessions/plan_form.html",
        offered=offered(reading(), actor()),
        shown=shown,
        usual_minutes=USUAL_MINUTES,
        usual_group=USUAL_GROUP,
        plan=plan,
        problem=problem,
    )


@bp.post("/plans/new")
@access(Act.PLAN_SESSIONS)
def begin_plan() -> str | tuple[str, int] | Response:
    """Begin a plan; the worker proposes its sessions."""
    try:
        with writing() as session:
            asked = _insist_on_rooms(sent(offered(session, actor())))
            plan = begin(
                session,
                name=text("name", most=200),
                first_on=day("first_on"),
                last_on=day("last_on"),
                asked=asked,
                actor_id=actor().id,
                now=now(),
            )
    except Refused as refusal:
        if refusal.status not in SHOWN_AGAIN:
            raise
        return _form(as_sent(), problem=refusal.sentence), refusal.status
    return redirect(url_for("sessions.plan", plan_id=plan.id), 303)


def _insist_on_rooms(asked: Asked) -> Asked:
    """Ask for the right in every area whose room the plan takes."""
    for area_id in asked.rooms:
        insist(Act.PLAN_SESSIONS, area_id=area_id)
    return asked


def plan_to_change(session: Session, plan_id: int) -> TermPlan:
    """Return a plan, for somebody who may plan in all of its rooms."""
    plan = plan_or_404(session, plan_id)
    _insist_on_rooms(read_asked(plan.asked))
    return plan


@bp.get("/plans/<int:plan_id>/asked")
@access(Act.PLAN_SESSIONS)
def asked_of(plan_id: int) -> str:
    plan = plan_or_404(reading(), plan_id)
    return _form(as_kept(plan), plan)


@bp.post("/plans/<int:plan_id>/asked")
@access(Act.PLAN_SESSIONS)
def ask_plan_again(plan_id: int) -> str | tuple[str, int] | Response:
    """Ask for other things, or for the same with the hours there are now."""
    try:
        with writing() as session:
            plan = plan_to_change(session, plan_id)
            ask_again(
                session,
                plan,
                name=text("name", most=200),
                first_on=day("first_on"),
                last_on=day("last_on"),
                asked=_insist_on_rooms(sent(offered(session, actor()))),
                seen=whole("version"),
                actor_id=actor().id,
                now=now(),
            )
    except Refused as refusal:
        if refusal.status not in SHOWN_AGAIN:
            raise
        plan = plan_or_404(reading(), plan_id)
        return _form(as_sent(), plan, refusal.sentence), refusal.status
    return redirect(url_for("sessions.plan", plan_id=plan_id), 303)


# --- what was proposed -------------------------------------------------------------------


@bp.get("/plans/<int:plan_id>")
@access(Act.PLAN_SESSIONS)
def plan(plan_id: int) -> str:
    return plan_page(plan_id)


def plan_page(plan_id: int, problem: str = "") -> str:
    """Show a plan; while it is being proposed, wait for it."""
    session = reading()
    found = plan_or_404(session, plan_id)
    if found.proposed is None:
        return render_template("sessions/waiting.html", plan=found, job=job_of(session, found))
    proposal = read_proposal(found.proposed)
    on = ground_of(session, found, proposal.people(), now=now(), zone=this_site().tz)
    return render_template(
        "sessions/plan.html",
        plan=found,
        page=page_of(on, proposal, published=found.published_at is not None),
        problem=problem,
    )


@bp.post("/plans/<int:plan_id>/publish")
@access(Act.PLAN_SESSIONS)
def publish_plan(plan_id: int) -> str | tuple[str, int] | Response:
    """Publish the plan: its sessions are held, and its people have their places."""
    try:
        with writing() as session:
            plan = plan_to_change(session, plan_id)
            if plan.published_at is not None:
                flash("It was published already; nothing was published twice.")
                return redirect(url_for("sessions.plan", plan_id=plan_id), 303)
            count = publish(
                session,
                plan,
                seen=whole("version"),
                actor_id=actor().id,
                now=now(),
                zone=this_site().tz,
            )
    except Refused as refusal:
        if refusal.status not in SHOWN_AGAIN:
            raise
        return plan_page(plan_id, refusal.sentence), refusal.status
    flash(f"Published: {count} {'session' if count == 1 else 'sessions'}.")
    return redirect(url_for("sessions.to_come"), 303)
