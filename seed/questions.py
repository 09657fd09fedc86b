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


# Readings are the invented workshop's. What a rule of the trade is put in for: capture velocities
# (ACGIH, Industrial Ventilation, from memory), a mixing factor of 3 and a time constant where none
# was read (common practice), 4 dB off a muff for real wear (HSE, from memory), butane's 1.4 % and
# 58.1 g/mol (from memory).
QUESTIONS = (
    # The beam with the covers off, as the plate and the handbook give it, for ten seconds.
    Question(
        "OT-01",
        "Laser beam",
        "laser.hazard_distance",
        {
            "power": 90,
            "wavelength": 10600,
            "divergence": 4,
            "beam_diameter": 5,
            "duration": 10,
        },
    ),
    # The cabinet's own air, at the flow of the commissioning report, to a twentieth.
    Question(
        "OT-01",
        "Fume and vapour",
        "air.purge_time",
        {
            "unit": "%",
            "volume": 0.4,
            "ventilation": 0.15,
            "mixing_factor": 3,
            "start": 100,
            "target": 5,
        },
    ),
    Question(
        "OT-02",
        "Laser beam",
        "laser.focused_distance",
        {
            "power": 50,
            "wavelength": 1064,
            "focal_length": 160,
            "beam_diameter": 7,
            "duration": 10,
        },
    ),
    # The grate under one zone of the bed.
    Question(
        "OT-02",
        "Metal fume and fine dust",
        "air.hood_flow",
        {"hood": "downdraught", "area": 0.3, "capture_velocity": 1, "release": "active"},
    ),
    # One cylinder into the air of the Light Room with the extraction off.
    Question(
        "OT-02",
        "Assist gas",
        "gas.oxygen",
        {"gas": "nitrogen", "room_volume": 110, "cylinder_litres": 50, "pressure": 200},
    ),
    # What lay on ledges after a week, brushed together and spread on a square metre.
    Question(
        "OT-05",
        "Combustible dust",
        "dust.layer",
        {"layer_depth": 0.1, "bulk_density": 450, "floor_area": 24, "covered_area": 1},
    ),
    # Two readings of the probe gave the time constant.
    Question(
        "OT-05",
        "Hot cake",
        "contact.cooling",
        {"start": 170, "room": 20, "target": 43, "time_constant": 10800},
    ),
    # A pump worn while two builds were broken out, two hours in all.
    Question(
        "OT-06",
        "Dust",
        "air.twa",
        {"unit": "mg/m3", "agent": "dust of any kind, inhalable", "samples": [[1.9, 2]]},
    ),
    # The fullest roll, from the trolley to the cradle.
    Question(
        "OT-07",
        "Lifting rolls",
        "lifting.niosh",
        {
            "load": 12,
            "horizontal": 35,
            "vertical": 75,
            "travel": 25,
            "angle": 0,
            "frequency": 0.2,
            "duration": "short",
            "coupling": "poor",
        },
    ),
    # The hood at the length of the arm at which it is really used.
    Question(
        "OT-10",
        "Welding fume",
        "air.hood_flow",
        {
            "hood": "flanged",
            "distance": 0.3,
            "area": 0.0707,
            "capture_velocity": 0.5,
            "release": "slow",
        },
    ),
    Question("OT-10", "Arc light", "welding.shade", {"process": "mag", "current": 150}),
    # The whole cylinder into the bay over a weekend.
    Question(
        "OT-10",
        "Gas cylinder",
        "gas.oxygen",
        {
            "gas": "argon_carbon_dioxide",
            "room_volume": 380,
            "cylinder_litres": 20,
            "pressure": 200,
        },
    ),
    # Ten minutes of jet, then marking out with the fan on; and the muffs that hang there.
    Question("OT-11", "Noise", "noise.daily", {"tasks": [[98, 0.2], [76, 6]]}),
    Question(
        "OT-11",
        "Noise",
        "noise.protector",
        {"method": "snr", "lceq": 98, "snr": 25, "allowance": 4},
    ),
    Question(
        "OT-11",
        "Sparks and light",
        "welding.shade",
        {"process": "plasma_cutting", "current": 40, "table": "ansi"},
    ),
    Question(
        "OT-13",
        "Bursting wheel",
        "wheel.speed",
        {"diameter": 200, "rotation": 2850, "marked": 35},
    ),
    # Half an hour at the wheel in a long day.
    Question(
        "OT-13",
        "Dust",
        "air.twa",
        {"unit": "mg/m3", "agent": "dust of any kind, inhalable", "samples": [[2.4, 0.5]]},
    ),
    # The slot in the door of the lower wheel, and how far behind it the blade runs.
    Question(
        "OT-14", "Moving blade", "guard.opening", {"opening": 10, "shape": "slot", "distance": 110}
    ),
    Question("OT-15", "Saw blade", "wheel.speed", {"diameter": 315, "rotation": 4000}),
    # A pump worn at the saw for a morning, and by whoever stacks for the rest of the day.
    Question(
        "OT-15",
        "Wood dust",
        "air.twa",
        {"unit": "mg/m3", "agent": "hardwood dust", "samples": [[2.1, 1.5], [0.6, 5]]},
    ),
    # Half an hour of sawing board, an hour beside it, the rest of the day in the bay.
    Question("OT-15", "Noise", "noise.daily", {"tasks": [[95, 0.5], [86, 1], [70, 5]]}),
    # Three hours of sanding limewood with the hose on.
    Question(
        "OT-16",
        "Wood dust",
        "air.twa",
        {"unit": "mg/m3", "agent": "hardwood dust", "samples": [[1.2, 3]]},
    ),
    # The palm sander's measured value, for a head and two hands in a day.
    Question("OT-16", "Vibration", "vibration.daily", {"tools": [[3.5, 1.5]]}),
    # From the top of a glaze firing until the door may be thought of.
    Question(
        "OT-19",
        "Hot ware and live elements",
        "contact.cooling",
        {"start": 1240, "room": 20, "target": 60, "time_constant": 14400},
    ),
    # The meter in the cage over the six hours in which the clay burns out.
    Question(
        "OT-19",
        "Firing fume",
        "air.twa",
        {"unit": "ppm", "agent": "carbon monoxide", "samples": [[4, 6]]},
    ),
    # A pump with a cyclone, worn by whoever sprayed a term's ware in an afternoon.
    Question(
        "OT-20",
        "Silica and metal oxide mist",
        "air.twa",
        {"unit": "mg/m3", "agent": "respirable crystalline silica", "samples": [[0.08, 1.5]]},
    ),
    # The minutes that are posted: the booth alone clears the bay to a hundredth.
    Question(
        "OT-20",
        "Silica and metal oxide mist",
        "air.purge_time",
        {
            "unit": "%",
            "volume": 30,
            "ventilation": 1.2,
            "mixing_factor": 3,
            "start": 100,
            "target": 1,
        },
    ),
    # A can at a gramme a second, its propellant as butane.
    Question(
        "OT-21",
        "Flammable vapour",
        "air.flammable_fraction",
        {
            "generation": 1,
            "ventilation": 1,
            "lel": 1.4,
            "molar_mass": 58.1,
            "mixing_factor": 3,
        },
    ),
    # Tubes that change colour, ten minutes at the can and five at the door.
    Question(
        "OT-21",
        "Solvent breathed",
        "air.stel",
        {"agent": "acetone", "unit": "ppm", "samples": [[260, 10], [40, 5]]},
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
