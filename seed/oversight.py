"""Plant what the last yearly audit found, the drills of the year, and who may give first aid."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any

from sqlalchemy import select

from app.actions.actions import close_action
from app.actions.models import Action
from app.dates import add_months
from app.oversight import findings, readiness
from app.oversight.models import AidDuty, AuditFinding, DrillKind, Weight
from seed.ground import Ground

AUDIT = "Yearly audit of the house"
AUDITED = 300  # days ago
APPROVER = "hesper.lindqvale"


@dataclass(frozen=True, kw_only=True)
class Found:
    reference: str
    weight: Weight
    words: str
    area: str | None
    what: str
    owner: str
    days: int  # until it is due, from the audit
    done_after: int | None = None  # days
    verified: str = ""


FOUND = (
    Found(
        reference="1",
        weight=Weight.NONCONFORMITY,
        words="The saw bench's dust hood stood a metre from the cut on two of three jobs watched.",
        area="Wood Bay",
        what="Mark on the floor where the hood belongs for each fence setting",
        owner="Sunniva Okereth",
        days=30,
        done_after=21,
        verified="Four jobs watched over a week: the hood stood on its mark each time",
    ),
    Found(
        reference="2",
        weight=Weight.NONCONFORMITY,
        words="The platform steps in the loft carried no number and no record of inspection.",
        area="Rigging Loft",
        what="Number the steps and put them on the register",
        owner="Bartholin Esk",
        days=60,
        done_after=70,
        verified="They are on the register; the shed was searched for others and holds none",
    ),
    Found(
        reference="3",
        weight=Weight.OBSERVATION,
        words="Newcomers could not say where the spill kit is kept.",
        area=None,
        what="Put the spill kit into the first induction and hold a drill",
        owner="Anwen Dulcimore",
        days=270,
    ),
)
# Kind, area, days ago, people, minutes, what was learnt.
DRILLS = (
    (DrillKind.EVACUATION, None, 210, 41, 6, "The Loft heard the bell late: the door was shut."),
    (DrillKind.EVACUATION, None, 35, 38, 4, "A second bell in the Loft was heard at once."),
    (DrillKind.FIRST_AID, "Metal Bay", 120, 7, 15, "The eye wash was found at once."),
)
# Login, duty, certificate, months ago, months that it lasts.
PAPERS = (
    ("maceo.thrune", AidDuty.FIRST_AIDER, "First aid at work, three days", 14, 36),
    ("junia.corvane", AidDuty.FIRST_AIDER, "Emergency first aid, one day", 37, 36),
    ("anwen.dulcimore", AidDuty.FIRE_WARDEN, "Fire warden, half a day", 8, 24),
)


def plant_oversight(ground: Ground) -> None:
    for each in FOUND:
        ground.then(ground.at(AUDITED - 2, 15), partial(_find, ground, each))
        if each.done_after is not None:
            ground.then(ground.at(AUDITED - each.done_after, 11), partial(_end, ground, each))
    for drill in DRILLS:
        ground.then(ground.at(drill[2], 16), partial(_drill, ground, drill))
    for paper in PAPERS:
        ground.then(ground.at(200, 12), partial(_certify, ground, paper))


def _find(ground: Ground, each: Found, at: datetime) -> None:
    found_on = ground.day(AUDITED)
    findings.record_finding(
        ground.session,
        findings.Found(
            audit=AUDIT,
            reference=each.reference,
            weight=each.weight,
            words=each.words,
            area_id=ground.areas[each.area] if each.area else None,
            found_on=found_on,
        ),
        findings.ToDo(what=each.what, owner=each.owner, due_on=ground.day(AUDITED - each.days)),
        today=_today(ground, at),
        **_by(ground, at),
    )


def _end(ground: Ground, each: Found, at: datetime) -> None:
    row = ground.session.execute(
        select(AuditFinding).where(AuditFinding.reference == each.reference)
    ).scalar_one()
    action = ground.session.execute(
        select(Action).where(Action.about == findings.about(row.id))
    ).scalar_one()
    by = _by(ground, at)
    close_action(ground.session, action, verified="Done, and looked at", **by)
    findings.end_finding(ground.session, row, verified=each.verified, **by)


def _drill(
    ground: Ground, drill: tuple[DrillKind, str | None, int, int, int, str], at: datetime
) -> None:
    kind, area, days_ago, people, minutes, learnt = drill
    held = readiness.Held(
        kind=kind,
        area_id=ground.areas[area] if area else None,
        held_on=ground.day(days_ago),
        people=people,
        minutes=minutes,
        learnt=learnt,
    )
    readiness.record_drill(ground.session, held, today=_today(ground, at), **_by(ground, at))


def _certify(ground: Ground, paper: tuple[str, AidDuty, str, int, int], at: datetime) -> None:
    login, duty, certificate, months_ago, months = paper
    issued_on = add_months(ground.today, -months_ago)
    certified = readiness.Certified(
        person_id=ground.people[login],
        duty=duty,
        certificate=certificate,
        issued_by="a trainer of the county",
        issued_on=issued_on,
        expires_on=add_months(issued_on, months),
    )
    readiness.record_certificate(
        ground.session, certified, today=_today(ground, at), **_by(ground, at)
    )


def _by(ground: Ground, at: datetime) -> dict[str, Any]:
    return {"actor_id": ground.people[APPROVER], "now": at}


def _today(ground: Ground, at: datetime) -> date:
    return at.astimezone(ground.site.tz).date()
