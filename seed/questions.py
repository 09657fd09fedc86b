"""The numbers that the assessments stand on, asked of the program's own methods.

Inputs are the invented workshop's; no result is written here. What a method refuses or
does not yet know fails the planting, so that no number is ever put in by hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select

from app.calculations.attached import attach
from app.calculations.limits import limits_of_the_site
from app.calculations.taken import sheet_of, taken_from
from app.hazards.models import Hazard
from app.risk_assessments.models import RiskAssessment
from assessments.calculate import calculate
from assessments.describe import describe
from assessments.methods import catalogue
from seed.ground import Ground


@dataclass(frozen=True)
class Question:
    """A method asked for one hazard line of one assessment."""

    reference: str
    hazard: str
    method: str
    given: dict[str, Any]


QUESTIONS = (
    # Half an hour of sawing board, an hour beside it, the rest of the day in the bay.
    Question("OT-15", "Noise", "noise.daily", {"tasks": [[95, 0.5], [86, 1], [70, 5]]}),
    # Ten minutes of jet, then marking out with the fan on.
    Question("OT-11", "Noise", "noise.daily", {"tasks": [[98, 0.2], [76, 6]]}),
    # The palm sander's measured value, for a head and two hands in a day.
    Question("OT-16", "Vibration", "vibration.daily", {"tools": [[3.5, 1.5]]}),
    Question(
        "OT-13",
        "Bursting wheel",
        "wheel.speed",
        {"diameter": 200, "rotation": 2850, "marked": 35},
    ),
    # The slot in the door of the lower wheel, and how far behind it the blade runs.
    Question(
        "OT-14", "Moving blade", "guard.opening", {"opening": 10, "shape": "slot", "distance": 110}
    ),
    # One cylinder into the air of the Light Room with the extraction off.
    Question(
        "OT-02",
        "Assist gas",
        "gas.oxygen",
        {"gas": "nitrogen", "room_volume": 110, "cylinder_litres": 50, "pressure": 200},
    ),
)


def attach_findings(ground: Ground, at: datetime) -> None:
    """Calculate each question and freeze its finding beside the hazard line."""
    for question in QUESTIONS:
        _attach(ground, question, at)


def _attach(ground: Ground, question: Question, at: datetime) -> None:
    session = ground.session
    hazard_id = session.execute(
        select(Hazard.id)
        .join(RiskAssessment, RiskAssessment.id == Hazard.assessment_id)
        .where(RiskAssessment.reference == question.reference, Hazard.kind == question.hazard)
    ).scalar_one()
    hazard = session.get_one(Hazard, hazard_id)
    limits = limits_of_the_site(session)
    finding = calculate(
        question.method, question.given, regime=limits.regime, site_limits=limits.site
    )
    described = describe(catalogue()[question.method])
    attach(
        session,
        hazard,
        finding,
        actor_id=ground.people["maceo.thrune"],
        now=at,
        taken_from=taken_from(described, finding, sheet_of(session, hazard, None)),
    )
