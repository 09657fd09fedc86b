"""What a person may use, and how a machine stands: two views of the same facts."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance.decision import Facts, reasons_of, worst
from app.clearance.facts import machine_files
from app.clearance.overview import overview
from app.clearance.upkeep import upkeep
from app.clearance.wording import words
from app.hazards.findings import findings_of, outdated
from app.hazards.models import Hazard
from app.machines.data import data_of, known_names, label, worded
from app.machines.holds import act_to_end, open_holds
from app.machines.models import Area, Hold
from app.machines.tags import tag_of
from app.machines.views import machine_or_404
from app.parts import now, reading, this_site
from app.people.access import PUBLIC, SIGNED_IN, access, actor, actor_or_none, insist
from app.people.rights import Act
from app.people.session import is_fresh
from app.risk_assessments.drafts import drafts_covering
from app.risk_assessments.models import RiskAssessment

bp = Blueprint("clearance", __name__)


@bp.get("/")
@access(PUBLIC)
def home() -> str | Response:
    if actor_or_none() is not None:
        return redirect(url_for("clearance.mine"), 303)
    return render_template("home.html")


@bp.get("/me")
@access(SIGNED_IN)
def mine() -> str:
    """Show every machine and what it answers to this person, by area."""
    me = actor()
    areas = overview(reading(), me.identity, now=now(), zone=this_site().tz)
    return render_template("clearance/mine.html", me=me, areas=areas)


@bp.get("/machines/<int:machine_id>")
@access(Act.SEE_PEOPLE)
def machine(machine_id: int) -> str:
    """Show how a machine stands for everybody, and what can be done about it."""
    session = reading()
    found = machine_or_404(session, machine_id)
    insist(Act.SEE_PEOPLE)
    file = machine_files(session, [machine_id], at=now())[machine_id]
    facts = Facts(machine=file.facts, person=None, now=now(), zone=this_site().tz)
    reasons = [r for r in reasons_of(facts) if r.code != "not-signed-in"]
    area = session.execute(select(Area).where(Area.id == found.area_id)).scalar_one()
    me = actor()
    drafts = drafts_covering(session, machine_id)
    return render_template(
        "clearance/machine.html",
        machine=found,
        area=area,
        code=tag_of(session, machine_id),
        file=file,
        today=facts.today,
        verdict=worst(reasons),
        reasons=[words(reason) for reason in reasons],
        holds=open_holds(session, machine_id),
        upkeep=upkeep(session, file.facts, me, at=now()),
        may_take_out=me.may(Act.TAKE_OUT_OF_USE, area_id=found.area_id),
        may_end={hold for hold in Hold if me.may(act_to_end(hold), area_id=found.area_id)},
        ask_password=not is_fresh(me),
        may_label=me.may(Act.PRINT_LABELS, area_id=found.area_id),
        data=[(label(each.name), worded(each), each) for each in data_of(session, [machine_id])],
        names=known_names(),
        drafts=drafts,
        outdated=_outdated(session, drafts),
        may_write=me.may(Act.WRITE, area_id=found.area_id),
    )


def _outdated(session: Session, drafts: list[RiskAssessment]) -> list[tuple[Hazard, str]]:
    """Return the hazard lines whose numbers rest on what a machine was, and say how it changed."""
    rows = [row for draft in drafts for row in findings_of(session, draft.id)]
    why = outdated(session, rows)
    return [(session.get_one(Hazard, row.hazard_id), why[row.id]) for row in rows if row.id in why]
