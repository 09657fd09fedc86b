"""Finish a use, keep it going, and say how a supervised one went."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.errors import BadInput, Forbidden
from app.forms import text
from app.machines.models import Machine
from app.machines.tags import tag_of
from app.parts import now, parts, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.rights import Act
from app.presence.models import Start
from app.presence.uses import extend_use, finish_use, use_or_404, watched_use
from app.words import clock_time

bp = Blueprint("uses", __name__)


def _asked(session: Session, start_id: int) -> Start:
    """Return a use that whoever asks may end: their own, or one in an area that they look after."""
    start = use_or_404(session, start_id)
    machine = session.get_one(Machine, start.machine_id)
    me = actor()
    if me.id != start.person_id and not me.may(Act.SUPERVISE, area_id=machine.area_id):
        raise Forbidden("That is the use of somebody else. Nothing was recorded.")
    return start


def _back(start: Start, code: str | None) -> Response:
    if text("back", most=10) == "duty" or code is None:
        return redirect(url_for("duty.page"), 303)
    if start.person_id == actor().id:
        return redirect(url_for("scan.scan", code=code), 303)
    return redirect(url_for("scan.scan_for", code=code, person_id=start.person_id), 303)


@bp.post("/uses/<int:start_id>/finish")
@access(SIGNED_IN)
def finish(start_id: int) -> Response:
    """Say that somebody has finished: themselves, or a technician where they forgot to."""
    with writing() as session:
        start = _asked(session, start_id)
        first = finish_use(session, start, actor_id=actor().id, now=now())
        code = tag_of(session, start.machine_id)
    flash("Finished. Thank you." if first else "It was finished already.")
    return _back(start, code)


@bp.post("/uses/<int:start_id>/still-here")
@access(SIGNED_IN)
def still_here(start_id: int) -> Response:
    """Let a use run out later."""
    with writing() as session:
        start = _asked(session, start_id)
        until = extend_use(
            session,
            start,
            minutes=parts().site(session).presence_minutes,
            actor_id=actor().id,
            now=now(),
        )
        code = tag_of(session, start.machine_id)
    flash(f"It runs until {clock_time(until)}. Scan again before then if you are still here.")
    return _back(start, code)


@bp.post("/uses/<int:start_id>/watched")
@access(Act.SUPERVISE)
def watched(start_id: int) -> Response:
    """Keep the supervisor's word on a use that they watched."""
    with writing() as session:
        start = use_or_404(session, start_id)
        insist(Act.SUPERVISE)
        said = text("went_well", most=3)
        if said not in ("yes", "no"):
            raise BadInput("Say whether it went well.", status=422)
        first = watched_use(
            session,
            start,
            went_well=said == "yes",
            note=text("note"),
            actor_id=actor().id,
            now=now(),
        )
    counts = " It counts toward working alone." if said == "yes" else ""
    flash(f"Kept.{counts}" if first else "You have said so already.")
    return redirect(url_for("duty.page"), 303)
