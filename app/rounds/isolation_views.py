"""Record a lock on an isolator, and its removal: by who applied it, or by two others."""

from __future__ import annotations

from flask import flash, redirect, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import Forbidden
from app.forms import text
from app.machines.isolation import isolate, isolation_or_404, remove_abandoned, remove_own
from app.machines.models import Isolation, Machine
from app.machines.views import machine_or_404
from app.parts import now, reading, this_site, writing
from app.people import signin
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.identity import identities
from app.people.rights import Act, may
from app.people.signature import insist_on_signature
from app.rounds.blueprint import bp

CUTS_NOTHING = "Chuckkey does not cut the power: the lock on the isolator does."


def _back(machine_id: int) -> Response:
    return redirect(url_for("clearance.machine", machine_id=machine_id), 303)


@bp.post("/machines/<int:machine_id>/isolations")
@access(Act.ISOLATE)
def apply_lock(machine_id: int) -> Response:
    """Record that the person signed in has locked the machine off."""
    with writing() as session:
        machine = machine_or_404(session, machine_id)
        insist(Act.ISOLATE, area_id=machine.area_id)
        row = isolate(
            session,
            machine,
            point=text("point", most=200),
            lock_number=text("lock_number", most=60),
            why=text("why"),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"Lock {row.lock_number} at {row.point} is on record as yours. {CUTS_NOTHING}")
    return _back(machine_id)


@bp.post("/machines/<int:machine_id>/isolations/<int:isolation_id>/remove")
@access(SIGNED_IN)  # their own lock, whatever role they have by now
def remove_lock(machine_id: int, isolation_id: int) -> Response:
    """Record that who applied the lock has taken it off."""
    _own(reading(), machine_id, isolation_id)
    insist_on_signature()
    with writing() as session:
        row = _own(session, machine_id, isolation_id)
        remove_own(session, row, words=text("words"), actor_id=actor().id, now=now())
    flash(f"Lock {row.lock_number} at {row.point}: removed. {CUTS_NOTHING}")
    return _back(machine_id)


def _own(session: Session, machine_id: int, isolation_id: int) -> Isolation:
    row = isolation_or_404(session, isolation_id, machine_id)
    if row.recorded_by_id != actor().id:
        raise Forbidden("Only who applied this lock removes it. Nothing was recorded.")
    return row


@bp.post("/machines/<int:machine_id>/isolations/<int:isolation_id>/abandoned")
@access(Act.RETURN_TO_USE)
def remove_abandoned_lock(machine_id: int, isolation_id: int) -> Response:
    """Record that two people removed the lock of somebody who is away; each gives a password."""
    _abandoned(reading(), machine_id, isolation_id)
    insist_on_signature()
    second_id = _second(reading(), machine_or_404(reading(), machine_id))
    with writing() as session:
        _machine, row = _abandoned(session, machine_id, isolation_id)
        remove_abandoned(
            session,
            row,
            words=text("words"),
            second_id=second_id,
            actor_id=actor().id,
            now=now(),
        )
    flash(f"Lock {row.lock_number} at {row.point}: removed by two people. {CUTS_NOTHING}")
    return _back(machine_id)


def _abandoned(session: Session, machine_id: int, isolation_id: int) -> tuple[Machine, Isolation]:
    machine = machine_or_404(session, machine_id)
    insist(Act.RETURN_TO_USE, area_id=machine.area_id)
    return machine, isolation_or_404(session, isolation_id, machine_id)


def _second(session: Session, machine: Machine) -> int:
    """Return who the second person is: somebody who may work on isolations here, by password."""
    login, address = text("second", most=200), request.remote_addr or ""
    password = request.form.get("second_password", "")
    person = signin.verified(session, login=login, password=password, address=address, now=now())
    if person is None:
        with writing() as counted:
            signin.note_failure(counted, login=login, address=address, now=now())
        raise Forbidden("That is not the second person’s password. Nothing was recorded.")
    today = local_date(now(), this_site().tz)
    identity = identities(session, [person.id], today)[person.id]
    entitled = any(
        may(identity.grants, act, area_id=machine.area_id)
        for act in (Act.ISOLATE, Act.RETURN_TO_USE)
    )
    if not (identity.belongs_on(today) and entitled) or identity.suspended:
        raise Forbidden(
            f"{identity.name} may neither isolate nor return machines to use in this area. "
            "Nothing was recorded."
        )
    return person.id
