"""Do a check at the machine, on the phone, in a minute."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance.facts import machine_files
from app.dates import local_date
from app.errors import NotFound
from app.forms import choice, day, text
from app.hazards.checks import (
    insist_on_report,
    latest_result,
    record_check,
    record_examination,
    terms_of,
)
from app.hazards.due import interval_words
from app.hazards.models import Basis, Check, CheckResult, Control, Outcome
from app.machines.models import Machine
from app.machines.views import machine_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature

# Here and not beside the checks: which of them a machine relies on is known only above them.
bp = Blueprint("hazards", __name__)


def _asked(
    session: Session, machine_id: int, check_id: int, *, act: Act
) -> tuple[Machine, Check, Control]:
    machine = machine_or_404(session, machine_id)
    # Who may see people may look at every machine; to record is a matter of the area.
    insist(act, area_id=None if act is Act.SEE_PEOPLE else machine.area_id)
    file = machine_files(session, [machine_id], at=now())[machine_id]
    if check_id not in {relied_on.id for relied_on in file.facts.checks}:
        # Else a check of another area could be recorded by way of any machine in one's own.
        raise NotFound("This machine relies on no such check.")
    check = session.get_one(Check, check_id)
    return machine, check, session.get_one(Control, check.control_id)


@bp.get("/machines/<int:machine_id>/checks/<int:check_id>")
@access(Act.SEE_PEOPLE)
def check(machine_id: int, check_id: int) -> str:
    session, me = reading(), actor()
    machine, asked, control = _asked(session, machine_id, check_id, act=Act.SEE_PEOPLE)
    terms = terms_of(session, check_id)
    return render_template(
        "hazards/check.html",
        machine=machine,
        check=asked,
        control=control,
        terms=terms,
        interval=interval_words(terms.every, terms.unit),
        last=latest_result(session, asked, machine_id),
        statutory=terms.basis is Basis.STATUTORY,
        may_check=me.may(Act.CHECK, area_id=machine.area_id),
        may_examine=me.may(Act.RECORD_EXAMINATION, area_id=machine.area_id),
        today=local_date(now(), this_site().tz),
        ask_password=not is_fresh(me),
    )


@bp.post("/machines/<int:machine_id>/checks/<int:check_id>")
@access(Act.CHECK)
def check_now(machine_id: int, check_id: int) -> Response:
    with writing() as session:
        machine, asked, _control = _asked(session, machine_id, check_id, act=Act.CHECK)
        outcome = choice("outcome", Outcome)
        insist_on_report(terms_of(session, asked.id), outcome)
        result = record_check(
            session,
            asked,
            machine_id=machine.id,
            outcome=outcome,
            reading=text("reading", most=100),
            note=text("note"),
            actor_id=actor().id,
            now=now(),
            zone=this_site().tz,
        )
        latest = latest_result(session, asked, machine.id)
    return _recorded(asked, result, latest, machine_id)


@bp.post("/machines/<int:machine_id>/checks/<int:check_id>/examination")
@access(Act.RECORD_EXAMINATION)
def examined(machine_id: int, check_id: int) -> Response:
    """Record a statutory examination from its report, with the password as the signature."""
    _asked(reading(), machine_id, check_id, act=Act.RECORD_EXAMINATION)
    insist_on_signature()
    with writing() as session:
        machine, asked, _control = _asked(session, machine_id, check_id, act=Act.RECORD_EXAMINATION)
        result = record_examination(
            session,
            asked,
            machine_id=machine.id,
            outcome=choice("outcome", Outcome),
            done_on=day("done_on"),
            examiner=text("examiner", most=200),
            report=text("report", most=200),
            note=text("note"),
            actor_id=actor().id,
            now=now(),
            zone=this_site().tz,
        )
        latest = latest_result(session, asked, machine.id)
    return _recorded(asked, result, latest, machine_id)


def _recorded(
    asked: Check, result: CheckResult, latest: CheckResult | None, machine_id: int
) -> Response:
    """Say what stands now: a pass of an earlier day undoes no failure after it."""
    if result.outcome is Outcome.FAILED:
        flash("Failed: everything that relies on this is out of use for everybody.")
    elif latest is not None and latest.outcome is Outcome.FAILED:
        flash(f"Recorded, but a failure of {asked.title} still counts: out of use until it passes.")
    else:
        flash(f"Passed: {asked.title}.")
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)
