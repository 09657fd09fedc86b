"""The site's own scale of ratings: shown with its departures, set with history."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.audit import log
from app.authoring.reading import lines, rows
from app.errors import BadInput
from app.forms import text
from app.hazards.models import Hazard
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.models import Person
from app.people.rights import Act
from app.risk_assessments.models import RiskAssessment
from app.risk_assessments.scale import scale_of
from app.site import SiteSetting
from assessments.document.wording import matrix, step_scores
from assessments.rating import FIVE_BY_FIVE, Scale, departures, scale_from, scale_written

bp = Blueprint("scale", __name__)


@bp.get("/site/scale")
@access(Act.SEE_PEOPLE)
def scale() -> str:
    """Show the scale that holds, where it departs from the axioms, and what held before."""
    session, site = reading(), this_site()
    found = scale_of(site)
    return render_template(
        "authoring/scale.html",
        scale=found,
        own=site.scale is not None,
        matrix=matrix(found, ()),
        step_scores=step_scores,
        departs=departures(found),
        threshold=site.threshold,
        outside=_outside(session, found),
        history=_history(session),
        may_set=actor().may(Act.SET_RULES),
    )


def _outside(session: Session, scale: Scale) -> list[tuple[RiskAssessment, Hazard]]:
    """Return the lines of drafts that are rated outside a scale: each has to be rated anew."""
    severities, likelihoods = len(scale.severity), len(scale.likelihood)
    found = session.execute(
        select(RiskAssessment, Hazard)
        .join(Hazard, Hazard.assessment_id == RiskAssessment.id)
        .where(
            (Hazard.severity_before > severities)
            | (Hazard.severity_after > severities)
            | (Hazard.likelihood_before > likelihoods)
            | (Hazard.likelihood_after > likelihoods)
        )
        .order_by(RiskAssessment.reference, Hazard.position)
    )
    return [(draft, line) for draft, line in found]


def _history(session: Session) -> list[tuple[SiteSetting, str, Scale]]:
    found = session.execute(
        select(SiteSetting).where(SiteSetting.name == "scale").order_by(SiteSetting.id.desc())
    ).scalars()
    return [
        (
            row,
            session.get_one(Person, row.recorded_by_id).name if row.recorded_by_id else "",
            FIVE_BY_FIVE if row.value is None else scale_from(row.value),
        )
        for row in found
    ]


@bp.post("/site/scale")
@access(Act.SET_RULES)
def set_scale() -> Response:
    """Set the site's own scale, or go back to five by five. What was frozen keeps its own."""
    value = None if text("act") == "five-by-five" else _sent()
    with writing() as session:
        row = SiteSetting(name="scale", value=value, recorded_by_id=actor().id, recorded_at=now())
        session.add(row)
        session.flush()
        log.record(
            session,
            action="house:rule:set",
            subject=f"site_setting:{row.id}",
            actor_id=actor().id,
            now=now(),
            detail={"name": "scale"},
        )
    flash("The scale holds for what is rated and submitted from now on.")
    return redirect("/site/scale", 303)


def _sent() -> dict[str, Any]:
    steps = [
        {"name": row["name"], "low": _low(row["low"]), "meaning": row["meaning"]}
        for row in rows("steps", ("name", "low", "meaning"))
    ]
    return scale_written(
        scale_from(
            {"severity": lines("severity"), "likelihood": lines("likelihood"), "steps": steps}
        )
    )


def _low(typed: str) -> int:
    if not (typed.isascii() and typed.isdigit() and len(typed) <= 3):
        raise BadInput("A step begins at a whole number.", status=422)
    return int(typed)
