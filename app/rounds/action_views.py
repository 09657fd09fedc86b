"""What is still to be put right, and reviews: each open until somebody says what came of it."""

from __future__ import annotations

from flask import flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.actions.actions import action_or_404, close_action, closing, open_actions
from app.actions.actions import hand_over as hand_over_action
from app.actions.models import Action
from app.actions.owners import whose_owner_left
from app.dates import local_date
from app.errors import Forbidden
from app.forms import choice, row_number, text
from app.hazards.models import Check, CheckResult
from app.hazards.remedial import results_behind
from app.machines.areas import area_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.models import Person
from app.people.rights import Act
from app.risk_assessments.came_of import CameOf, answering, outcome
from app.risk_assessments.models import Review, RiskAssessment
from app.risk_assessments.reviews import close_review, open_reviews, review_or_404
from app.rounds.blueprint import bp
from app.rounds.due import areas_by_name, areas_of_action, areas_of_assessments, due_list


@bp.get("/due")
@access(Act.SEE_PEOPLE)
def due() -> str:
    """Show what is due, in one area or everywhere: what stops people first."""
    session = reading()
    area_id = row_number("area")
    area = area_or_404(session, area_id) if area_id is not None else None
    return render_template(
        "rounds/due.html",
        area=area,
        areas=areas_by_name(session),
        due=due_list(session, area_id=area_id, at=now(), site=this_site()),
        may_round=area is not None and actor().may(Act.CHECK, area_id=area_id),
    )


# --- actions -------------------------------------------------------------------------------


@bp.get("/actions")
@access(Act.SEE_PEOPLE)
def actions() -> str:
    """List what is still to be put right, urgent and oldest first."""
    session = reading()
    found = open_actions(session)
    return render_template(
        "rounds/actions.html",
        actions=found,
        left=whose_owner_left(session, found, local_date(now(), this_site().tz)),
        behind=_behind(session, found),
        today=local_date(now(), this_site().tz),
    )


def _behind(session: Session, found: list[Action]) -> dict[int, tuple[CheckResult, Check]]:
    results = results_behind(session, found)
    return {
        action_id: (result, session.get_one(Check, result.check_id))
        for action_id, result in results.items()
    }


@bp.get("/actions/<int:action_id>")
@access(Act.SEE_PEOPLE)
def action(action_id: int) -> str:
    """Show one action, where it came from and how it ended."""
    session = reading()
    found = action_or_404(session, action_id)
    return render_template(
        "rounds/action.html",
        action=found,
        ended=_ended(session, found),
        left=found.id in whose_owner_left(session, [found], local_date(now(), this_site().tz)),
        behind=_behind(session, [found]).get(found.id),
        by=session.get_one(Person, found.recorded_by_id),
        may_close=_may_close(session, found),
        today=local_date(now(), this_site().tz),
    )


def _ended(session: Session, found: Action) -> tuple[Action, Person] | None:
    row = closing(session, found)
    return (row, session.get_one(Person, row.recorded_by_id)) if row is not None else None


def _may_close(session: Session, found: Action) -> bool:
    areas = areas_of_action(session, found, at=now(), site=this_site()) or {None}
    return any(actor().may(Act.RETURN_TO_USE, area_id=area_id) for area_id in areas)


@bp.post("/actions/<int:action_id>/close")
@access(Act.RETURN_TO_USE)
def close(action_id: int) -> Response:
    """Close an action by what was verified."""
    with writing() as session:
        found = action_or_404(session, action_id)
        if not _may_close(session, found):
            raise Forbidden("You may not return machines to use where this belongs.")
        close_action(session, found, verified=text("verified"), actor_id=actor().id, now=now())
    flash("Closed. It stays on record with how it was verified.")
    return redirect(url_for("rounds.action", action_id=action_id), 303)


@bp.post("/actions/<int:action_id>/owner")
@access(Act.RETURN_TO_USE)
def hand_over(action_id: int) -> Response:
    """Give an open action to somebody else."""
    with writing() as session:
        found = action_or_404(session, action_id)
        if not _may_close(session, found):
            raise Forbidden("You may not return machines to use where this belongs.")
        theirs = hand_over_action(
            session, found, owner=text("owner", most=200), actor_id=actor().id, now=now()
        )
    flash(f"Handed over to {theirs.owner}.")
    return redirect(url_for("rounds.action", action_id=theirs.id), 303)


# --- reviews -------------------------------------------------------------------------------


@bp.get("/reviews/<int:review_id>")
@access(Act.SEE_PEOPLE)
def review(review_id: int) -> str:
    """Show why an assessment is to be looked at again."""
    session = reading()
    found = review_or_404(session, review_id)
    return render_template(
        "rounds/review.html",
        review=found,
        assessment=session.get_one(RiskAssessment, found.assessment_id),
        open=found.id in {each.id for each in open_reviews(session, found.assessment_id)},
        may_close=_may_review(session, found),
        numbers=answering(session, found),
    )


def _may_review(session: Session, found: Review) -> bool:
    areas = areas_of_assessments(session, now()).get(found.assessment_id) or {None}
    return any(
        actor().may(act, area_id=area_id) for act in (Act.WRITE, Act.APPROVE) for area_id in areas
    )


@bp.post("/reviews/<int:review_id>/close")
@access(Act.SEE_PEOPLE)
def finish_review(review_id: int) -> Response:
    """Close a review by what came of it."""
    with writing() as session:
        found = review_or_404(session, review_id)
        if not _may_review(session, found):
            raise Forbidden("You may not write assessments where this belongs.")
        came_of = choice("came_of", CameOf)
        words = outcome(session, found, came_of, text("outcome"))
        close_review(session, found, outcome=words, actor_id=actor().id, now=now())
    flash("The review is closed.")
    return redirect(url_for("rounds.review", review_id=review_id), 303)
