"""Plant what an answer depends on just now: hours, duty, ages, loans, a guest, an override.

Rows are put down as the pages would put them, each with its entry in the log.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from app.audit import log
from app.clearance.models import Override
from app.dates import add_months
from app.inductions.models import Induction
from app.inductions.published import publish, published
from app.machines.models import (
    AreaTerms,
    During,
    Isolation,
    OpeningHours,
    Staffing,
    TestRun,
)
from app.people import register
from app.people.models import Person, Visit, VisitKind
from app.presence.models import Booking, Duty, Loan, UnattendedJob
from app.risk_assessments.in_force import revisions_for
from app.site import SiteSetting
from app.training.acknowledgement import acknowledge
from app.training.models import EquipmentIssue, PersonMark
from seed.ground import Ground
from seed.register import login

SETTLED = 40  # days ago: since when the house has these rules

# The rules of the house: names and values of settings.
HOUSE_RULES: dict[str, int | bool] = {
    "grace_days": 14,
    "review_grace_days": 30,
    "action_value_stops": True,
}
UNSTAFFED_AREA, CLOSED_AREA = "Cloth Loft", "Paint Corner"
# Months from today to the 18th birthday; None: not on record. Everybody else is long of age.
AGES: dict[str, int | None] = {
    "cosmo.wetherlam": 30,
    "hanna.vesterholt": 7,
    "gideon.larkmoor": None,
}
GROWN_UP = 40  # months since everybody else turned 18, at least
MASKED = ("junia.corvane",)  # who has a fitted mask
ON_DUTY = {
    "Light Room": ("idris.pellamy", "junia.corvane"),
    "Print Room": ("idris.pellamy",),
    "Metal Bay": ("maceo.thrune",),
    "Wood Bay": ("bartholin.esk",),
    "Paint Corner": ("bartholin.esk",),
}


GUEST, GUEST_LOGIN = "Perpetua Windle", "perpetua.windle"  # here today, and no member


def plant_moments(ground: Ground) -> None:
    """Put on the timeline what has stood for weeks."""
    ground.then(ground.at(SETTLED, 10), partial(_rules, ground))
    ground.then(ground.at(SETTLED, 11), partial(_hours, ground))
    ground.then(ground.at(SETTLED, 12), partial(_people, ground))
    ground.then(ground.at(1, 18), partial(_watched_uses, ground))


def _keep(ground: Ground, row: Any, subject: str, by: str, at: datetime) -> Any:
    """Add a row as of a moment, with its entry in the log."""
    row.recorded_by_id, row.recorded_at = ground.people[by], at
    if hasattr(type(row), "occurred_at"):
        row.occurred_at = at
    ground.session.add(row)
    ground.session.flush()
    log.record(
        ground.session,
        action=f"planted:{row.__tablename__}:add",
        subject=subject,
        actor_id=row.recorded_by_id,
        now=at,
    )
    return row


def _rules(ground: Ground, at: datetime) -> None:
    for name, value in HOUSE_RULES.items():
        row = SiteSetting(name=name, value=value)
        _keep(ground, row, f"site_setting:{name}", "hesper.lindqvale", at)
    red_list = SiteSetting(name="red_list", value=[ground.machines["Paint Box"]])
    _keep(ground, red_list, "site_setting:red_list", "hesper.lindqvale", at)


def _hours(ground: Ground, at: datetime) -> None:
    """One area is unstaffed all week, and one opens only on a day that is not today."""
    other_day = (ground.today.weekday() + 3) % 7
    stretches = [
        *((UNSTAFFED_AREA, day, "00:00", "24:00", Staffing.UNSTAFFED) for day in range(7)),
        (CLOSED_AREA, other_day, "09:00", "17:00", Staffing.STAFFED),
    ]
    for area, weekday, opens, closes, staffing in stretches:
        row = OpeningHours(
            area_id=ground.areas[area],
            weekday=weekday,
            opens=opens,
            closes=closes,
            staffing=staffing,
            during=During.ALWAYS,
        )
        _keep(ground, row, f"area:{row.area_id}", "ottilie.brask", at)
    for area, capacity, watched in ((UNSTAFFED_AREA, 1, None), ("Metal Bay", None, 1)):
        terms = AreaTerms(
            area_id=ground.areas[area], capacity=capacity, people_per_supervisor=watched
        )
        _keep(ground, terms, f"area:{terms.area_id}", "ottilie.brask", at)


def _people(ground: Ground, at: datetime) -> None:
    """Put ages on record, one mark, and who has a fitted mask."""
    for short, person_id in ground.people.items():
        months = AGES.get(short, -GROWN_UP)
        adult_on: date | None = None if months is None else add_months(ground.today, months)
        ground.session.get_one(Person, person_id).adult_on = adult_on
    mark = PersonMark(
        person_id=ground.people["linnea.foxcombe"], machine_id=ground.machines["Firefly"]
    )
    _keep(ground, mark, f"person:{mark.person_id}", "hesper.lindqvale", at)
    for short in MASKED:
        fit = EquipmentIssue(
            person_id=ground.people[short],
            equipment="Fitted mask, P3",
            expires_on=ground.day(-200),
        )
        _keep(ground, fit, f"person:{fit.person_id}", "junia.corvane", at)


def _watched_uses(ground: Ground, at: datetime) -> None:
    """Publish the cutter's induction anew: two watched uses come before working alone."""
    induction_id = ground.inductions["Rotary cutting"]
    taught = published(ground.session, induction_id)
    publish(
        ground.session,
        ground.session.get_one(Induction, induction_id),
        content=taught.content,
        items=[(item.words, item.essential) for item in taught.items],
        requires=taught.requires,
        validity_months=taught.validity_months,
        validity_basis=taught.validity_basis,
        earlier_counts=True,
        supervised_uses=2,
        actor_id=ground.people["hesper.lindqvale"],
        now=at,
    )


# --- today -------------------------------------------------------------------------------


def plant_duty(ground: Ground) -> None:
    """Let technicians go on duty after the round of this morning."""
    at = ground.earlier_today(88)
    for area, logins in ON_DUTY.items():
        for short in logins:
            row = Duty(
                person_id=ground.people[short],
                area_id=ground.areas[area],
                runs_out_at=ground.now + timedelta(hours=2),
            )
            _keep(ground, row, f"area:{row.area_id}", short, at)


def plant_today(ground: Ground) -> None:
    """Let happen what happened in the last ten minutes."""
    _guest(ground, ground.earlier_today(10))
    _loans(ground, ground.earlier_today(9), ground.earlier_today(8))
    _kept(ground, ground.earlier_today(7))
    _repairs(ground, ground.earlier_today(6))
    _lifted(ground, ground.earlier_today(5))


def _guest(ground: Ground, at: datetime) -> None:
    person = register.put_down(
        ground.session,
        name=GUEST,
        email=login(GUEST_LOGIN),
        card=None,
        actor_id=ground.people["hesper.lindqvale"],
        now=at,
    )
    ground.people[GUEST_LOGIN] = person.id
    visit = Visit(
        person_id=person.id,
        host_id=ground.people["hesper.lindqvale"],
        kind=VisitKind.VISITOR,
        day=ground.today,
    )
    _keep(ground, visit, f"person:{person.id}", "hesper.lindqvale", at)


def _loan(ground: Ground, short: str, **values: Any) -> Loan:
    return Loan(
        machine_id=ground.machines["Magpie"],
        person_id=ground.people[short],
        accessories="Two batteries, case, side handle",
        evidence="Look-over of this month passed",
        vibration="5.2",
        due_at=ground.now + timedelta(hours=5),
        **values,
    )


def _loans(ground: Ground, first: datetime, then: datetime) -> None:
    """One brought it back after a long day's drilling, and the next has it now."""
    out = _loan(ground, "sunniva.okereth", condition="Sound", place="Rehearsal stage")
    subject = f"machine:{out.machine_id}"
    _keep(ground, out, subject, "sunniva.okereth", first)
    back = _loan(
        ground, "sunniva.okereth", condition="Sound", place="", trigger_minutes=140, ends_id=out.id
    )
    _keep(ground, back, subject, "sunniva.okereth", then)
    out = _loan(
        ground, "bartholin.esk", condition="Sound", place="Scenery store", trigger_minutes=110
    )
    _keep(ground, out, subject, "bartholin.esk", then)


def _kept(ground: Ground, at: datetime) -> None:
    """A print that runs on alone, and a drill that is booked."""
    nadezh, spool = ground.people["nadezh.orlock"], ground.machines["Spool Two"]
    job = UnattendedJob(
        machine_id=spool,
        person_id=nadezh,
        contact_id=nadezh,
        what="Six wolf paws, filament",
        expected_end_at=ground.now + timedelta(hours=9),
    )
    _keep(ground, job, f"machine:{spool}", "nadezh.orlock", at)
    drill = ground.machines["Drill Right"]
    booking = Booking(
        machine_id=drill,
        person_id=ground.people["wren.hallorick"],
        starts_at=at,
        ends_at=ground.now + timedelta(hours=1),
    )
    _keep(ground, booking, f"machine:{drill}", "wren.hallorick", at)


def _repairs(ground: Ground, at: datetime) -> None:
    ribbon, whetstone = ground.machines["Ribbon"], ground.machines["Whetstone"]
    lock = Isolation(
        machine_id=ribbon,
        point="Isolator behind the stock rack",
        lock_number="M-3",
        why="Nobody starts it while the snapped blade is looked into.",
    )
    _keep(ground, lock, f"machine:{ribbon}", "maceo.thrune", at)
    run = TestRun(
        machine_id=whetstone,
        person_id=ground.people["sunniva.okereth"],
        why="New right wheel, ring test passed: an hour's run behind the screen.",
        until=ground.now + timedelta(hours=1),
    )
    _keep(ground, run, f"machine:{whetstone}", "sunniva.okereth", at)


def _lifted(ground: Ground, at: datetime) -> None:
    """One is let in under supervision before the induction; one may stay after hours."""
    ishbel, firefly = ground.people["ishbel.crane-otley"], ground.machines["Firefly"]
    for revision in revisions_for(ground.session, [firefly], at=at):
        acknowledge(
            ground.session,
            actor=ground.actor("ishbel.crane-otley", at),
            person_id=ishbel,
            revision_id=revision.id,
            now=at,
        )
    for person_id, machine_id, lifts, hours, by in (
        (ishbel, firefly, "induction-missing", 2, "idris.pellamy"),
        (
            ground.people["sunniva.okereth"],
            ground.machines["Paint Box"],
            "closed-now",
            4,
            "hesper.lindqvale",
        ),
    ):
        row = Override(
            person_id=person_id,
            machine_id=machine_id,
            lifts=lifts,
            note_digest=log.keep_note(ground.session, "Asked for by the head of making.", now=at),
            until=ground.now + timedelta(hours=hours),
        )
        _keep(ground, row, f"person:{person_id}", by, at)
