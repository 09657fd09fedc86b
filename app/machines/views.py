"""A machine as its technicians see it: holds, checks, tags."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.errors import NotFound
from app.forms import choice, text
from app.machines.data import label, record_datum, worded
from app.machines.holds import act_to_end, open_holds, return_to_use, take_out
from app.machines.models import Hold, Machine, MachineHold
from app.parts import now, reading, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.people.signature import insist_on_signature

bp = Blueprint("machines", __name__)


def machine_or_404(session: Session, machine_id: int) -> Machine:
    machine = session.get(Machine, machine_id)
    if machine is None:
        raise NotFound("There is no such machine.")
    return machine


@bp.post("/machines/<int:machine_id>/out-of-use")
@access(Act.TAKE_OUT_OF_USE)
def take_out_of_use(machine_id: int) -> Response:
    """Take a machine out of use for everybody, at once."""
    with writing() as session:
        machine = machine_or_404(session, machine_id)
        insist(Act.TAKE_OUT_OF_USE, area_id=machine.area_id)
        # Nobody is held up by a choice that was not made: stopping must be quick.
        hold = choice("hold", Hold) if text("hold") else Hold.OUT_OF_USE
        take_out(session, machine, hold=hold, why=text("why"), actor_id=actor().id, now=now())
    kept = " Leave everything as it is." if hold is Hold.SCENE_PRESERVED else ""
    flash(f"{machine.name} is out of use for everybody. This does not cut the power.{kept}")
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)


def _hold_to_end(session: Session, machine_id: int, hold_id: int) -> tuple[Machine, MachineHold]:
    machine = machine_or_404(session, machine_id)
    insist(Act.RETURN_TO_USE, area_id=machine.area_id)
    hold = session.get(MachineHold, hold_id)
    if hold is None or hold.machine_id != machine.id:
        raise NotFound("There is no such hold on this machine.")
    insist(act_to_end(hold.hold), area_id=machine.area_id)
    return machine, hold


@bp.post("/machines/<int:machine_id>/holds/<int:hold_id>/end")
@access(Act.RETURN_TO_USE)
def end_hold(machine_id: int, hold_id: int) -> Response:
    """Return a machine to use after the named tests, with the password as the signature."""
    _hold_to_end(reading(), machine_id, hold_id)
    insist_on_signature()
    with writing() as session:
        machine, hold = _hold_to_end(session, machine_id, hold_id)
        return_to_use(session, hold, tests=text("tests"), actor_id=actor().id, now=now())
        more = open_holds(session, machine.id)
    still = " Another hold still stands." if more else ""
    ended = "scene released" if hold.hold is Hold.SCENE_PRESERVED else "returned to use"
    flash(f"{machine.name}: {ended}.{still}")
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)


@bp.post("/machines/<int:machine_id>/data")
@access(Act.WRITE)
def add_datum(machine_id: int) -> Response:
    """Add a line to a machine's data sheet, with its source."""
    with writing() as session:
        machine = machine_or_404(session, machine_id)
        insist(Act.WRITE, area_id=machine.area_id)
        datum = record_datum(
            session,
            machine,
            name=text("name"),
            value=text("value"),
            unit=text("unit"),
            source=text("source"),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"{machine.name}: {label(datum.name).lower()} is {worded(datum)} from now on.")
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)
