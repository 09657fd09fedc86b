"""The page of a technician on duty: who is here, what runs, what is out, what wants a word."""

from __future__ import annotations

from datetime import datetime

from flask import Blueprint, flash, redirect, render_template, url_for
from werkzeug.wrappers import Response

from app.machines.areas import area_or_404
from app.parts import now, parts, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.presence.around import areas_now, areas_of
from app.presence.duty import go_on_duty, leave_duty
from app.presence.uses import to_confirm
from app.words import short_time

bp = Blueprint("duty", __name__)


@bp.app_template_filter()
def wall_time(value: datetime) -> str:
    """10:14 in the site's zone; 26 Nov, 10:14 where that is another day than today."""
    zone = this_site().tz
    local = value.astimezone(zone)
    same_day = local.date() == now().astimezone(zone).date()
    return f"{local:%H:%M}" if same_day else short_time(value)


@bp.get("/duty")
@access(Act.SUPERVISE)
def page() -> str:
    """Show the areas of whoever looks, as they are now."""
    session, me = reading(), actor()
    insist(Act.SUPERVISE)
    areas = areas_now(session, areas_of(session, me), me, at=now())
    return render_template(
        "scan/duty.html",
        me=me,
        areas=areas,
        confirm=to_confirm(session, me.id, at=now()),
        now=now(),
        zone=this_site().tz,
        minutes=this_site().presence_minutes,
    )


def _back(area_id: int) -> Response:
    return redirect(url_for("duty.page", _anchor=f"area{area_id}"), 303)


@bp.post("/duty/<int:area_id>")
@access(Act.SUPERVISE)
def begin(area_id: int) -> Response:
    """Go on duty in an area, or stay on it."""
    with writing() as session:
        area = area_or_404(session, area_id)
        insist(Act.SUPERVISE, area_id=area_id)
        go_on_duty(
            session,
            person_id=actor().id,
            area_id=area_id,
            minutes=parts().site(session).presence_minutes,
            now=now(),
        )
    flash(f"You are on duty in {area.name}. Confirm it again before it runs out.")
    return _back(area_id)


@bp.post("/duty/<int:area_id>/leave")
@access(Act.SUPERVISE)
def leave(area_id: int) -> Response:
    """Leave an area: nobody starts under supervision there on your account from now on."""
    with writing() as session:
        area = area_or_404(session, area_id)
        insist(Act.SUPERVISE, area_id=area_id)
        left = leave_duty(session, person_id=actor().id, area_id=area_id, now=now())
    flash(
        f"You have left {area.name}. Whoever works there under supervision stops until somebody "
        "else is on duty."
        if left
        else f"You were not on duty in {area.name}."
    )
    return _back(area_id)
