"""Do a check at the machine, on the phone, in a minute."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance.facts import machine_files
from app.errors import NotFound
from app.forms import choice, text
from app.hazards.checks import latest_result, record_check, terms_of
from app.hazards.due import interval_words
from app.hazards.models import Check, Control, Outcome
from app.machines.models import Machine
from app.machines.views import machine_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act

# Here and not beside the checks: which of them a machine relies on is known only above them.
bp = Blueprint("hazards", __name__)


def _asked(session: Session, machine_id: int, check_id: int) -> tuple[Machine, Check, Control]:
    machine = machine_or_404(session, machine_id)
    insist(Act.CHECK, area_id=machine.area_id)
    file = machine_files(session, [machine_id], at=now())[machine_id]
    if check_id not in {relied_on.id for relied_on in file.facts.checks}:
        # Else a check of another area could be recorded by way of any machine in one's own.
        raise NotFound("This machine relies on no such check.")
    check = session.get_one(Check, check_id)
    return machine, check, session.get_one(Control, check.control_id)


@bp.get("/machines/<int:machine_id>/checks/<int:check_id>")
@access(Act.CHECK)
def check(machine_id: int, check_id: int) -> str:
    session = reading()
    machine, asked, control = _asked(session, machine_id, check_id)
    terms = terms_of(session, check_id)
    return render_template(
        "hazards/check.html",
        machine=machine,
        check=asked,
        control=control,
        terms=terms,
        interval=interval_words(terms.every, terms.unit),
        last=latest_result(session, asked, machine_id),
        outcomes=list(Outcome),
    )


@bp.post("/machines/<int:machine_id>/checks/<int:check_id>")
@access(Act.CHECK)
def check_now(machine_id: int, check_id: int) -> Response:
    with writing() as session:
        machine, asked, _control = _asked(session, machine_id, check_id)
        result = record_check(
            session,
            asked,
            machine_id=machine.id,
            outcome=choice("outcome", Outcome),
            reading=text("reading", most=100),
            note=text("note"),
            actor_id=actor().id,
            now=now(),
            zone=this_site().tz,
        )
    if result.outcome is Outcome.FAILED:
        flash("Failed: everything that relies on this is out of use for everybody.")
    else:
        flash(f"Passed: {asked.title}.")
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)
