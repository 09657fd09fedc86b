"""Areas: what is in them, when they are open, how many they hold, and whether they are closed."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import func, select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.errors import NotFound
from app.forms import choice, day, text, whole_or_none
from app.machines import opening
from app.machines.areas import (
    add_area,
    area_or_404,
    close_area,
    describe_area,
    open_area,
    open_closures,
    set_terms,
    terms_of_area,
)
from app.machines.models import Area, AreaClosure, During, Machine, Staffing
from app.parts import now, reading, writing
from app.people.access import access, actor, insist
from app.people.rights import Act

bp = Blueprint("areas", __name__)


@bp.get("/areas")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """List the areas with what stands in them."""
    session = reading()
    counts = dict(
        session.execute(
            select(Machine.area_id, func.count())
            .where(Machine.retired_on.is_(None))
            .group_by(Machine.area_id)
        ).all()
    )
    areas = session.execute(select(Area).order_by(Area.name)).scalars().all()
    closed = {area.id for area in areas if open_closures(session, area.id)}
    return render_template(
        "machines/areas.html",
        areas=areas,
        counts=counts,
        closed=closed,
        may_add=actor().may(Act.REGISTER_MACHINES),
    )


@bp.post("/areas")
@access(Act.REGISTER_MACHINES)
def add() -> Response:
    with writing() as session:
        area = add_area(
            session,
            name=text("name"),
            place=text("place"),
            help=text("help"),
            actor_id=actor().id,
            now=now(),
        )
    flash(f"{area.name} is on the register.")
    return redirect(url_for("areas.area", area_id=area.id), 303)


@bp.get("/areas/<int:area_id>")
@access(Act.SEE_PEOPLE)
def area(area_id: int) -> str:
    """Show one area: machines, hours, capacity, closures."""
    session, me = reading(), actor()
    found = area_or_404(session, area_id)
    machines = session.execute(
        select(Machine)
        .where(Machine.area_id == area_id, Machine.retired_on.is_(None))
        .order_by(Machine.name)
    ).scalars()
    return render_template(
        "machines/area.html",
        area=found,
        machines=list(machines),
        terms=terms_of_area(session, area_id),
        calendar=opening.calendar_of(session, area_id),
        weekdays=opening.WEEKDAYS,
        closures=open_closures(session, area_id),
        staffings=list(Staffing),
        seasons=list(During),
        may_describe=me.may(Act.REGISTER_MACHINES, area_id=area_id),
        may_rule=me.may(Act.SET_RULES, area_id=area_id),
        may_close=me.may(Act.TAKE_OUT_OF_USE, area_id=area_id),
        may_open=me.may(Act.RETURN_TO_USE, area_id=area_id),
        may_label=me.may(Act.PRINT_LABELS, area_id=area_id),
        may_round=me.may(Act.CHECK, area_id=area_id),
    )


def _asked(session: Session, area_id: int, act: Act) -> Area:
    found = area_or_404(session, area_id)
    insist(act, area_id=area_id)
    return found


def _back(area_id: int) -> Response:
    return redirect(url_for("areas.area", area_id=area_id), 303)


@bp.post("/areas/<int:area_id>")
@access(Act.REGISTER_MACHINES)
def describe(area_id: int) -> Response:
    with writing() as session:
        found = _asked(session, area_id, Act.REGISTER_MACHINES)
        describe_area(
            session,
            found,
            name=text("name"),
            place=text("place"),
            help=text("help"),
            actor_id=actor().id,
            now=now(),
        )
    flash("Changed.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/terms")
@access(Act.SET_RULES)
def terms(area_id: int) -> Response:
    """Say how many the area holds and how many one supervisor can watch."""
    with writing() as session:
        set_terms(
            session,
            _asked(session, area_id, Act.SET_RULES),
            capacity=whole_or_none("capacity"),
            people_per_supervisor=whole_or_none("people_per_supervisor"),
            actor_id=actor().id,
            now=now(),
        )
    flash("It holds from now on.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/hours")
@access(Act.SET_RULES)
def hours(area_id: int) -> Response:
    """Add opening hours on the chosen days of the week."""
    weekdays = [int(each) for each in request.form.getlist("weekday") if each in set("0123456")]
    with writing() as session:
        opening.add_hours(
            session,
            _asked(session, area_id, Act.SET_RULES),
            weekdays=weekdays,
            opens=text("opens", most=5),
            closes=text("closes", most=5),
            staffing=choice("staffing", Staffing),
            during=choice("during", During),
            actor_id=actor().id,
            now=now(),
        )
    flash("The hours hold from now on.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/hours/<int:hours_id>/end")
@access(Act.SET_RULES)
def end_hours(area_id: int, hours_id: int) -> Response:
    with writing() as session:
        _asked(session, area_id, Act.SET_RULES)
        if hours_id not in {row.id for row in opening.calendar_of(session, area_id).hours}:
            raise NotFound("There are no such hours.")
        opening.end_hours(session, hours_id, actor_id=actor().id, now=now())
    flash("Those hours ended.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/closed-days")
@access(Act.SET_RULES)
def close_days(area_id: int) -> Response:
    with writing() as session:
        opening.close_days(
            session,
            area_id=_asked(session, area_id, Act.SET_RULES).id,
            name=text("name", most=200),
            first_on=day("first_on"),
            last_on=day("last_on"),
            actor_id=actor().id,
            now=now(),
        )
    flash("Those days are off.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/closed-days/<int:closed_id>/end")
@access(Act.SET_RULES)
def end_closed_days(area_id: int, closed_id: int) -> Response:
    with writing() as session:
        _asked(session, area_id, Act.SET_RULES)
        closed = {row.id: row for row in opening.calendar_of(session, area_id).closed}
        if closed_id not in closed or closed[closed_id].area_id is None:
            raise NotFound("This area has no such days off of its own.")
        opening.end_closed_days(session, closed_id, actor_id=actor().id, now=now())
    flash("Those days are ordinary days again.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/close")
@access(Act.TAKE_OUT_OF_USE)
def close(area_id: int) -> Response:
    """Close an area to everybody, at once."""
    with writing() as session:
        found = _asked(session, area_id, Act.TAKE_OUT_OF_USE)
        close_area(session, found, why=text("why"), actor_id=actor().id, now=now())
    flash(f"{found.name} is closed to everybody. Clear the room; this does not lock the door.")
    return _back(area_id)


@bp.post("/areas/<int:area_id>/closures/<int:closure_id>/end")
@access(Act.RETURN_TO_USE)
def open_again(area_id: int, closure_id: int) -> Response:
    with writing() as session:
        found = _asked(session, area_id, Act.RETURN_TO_USE)
        closure = session.get(AreaClosure, closure_id)
        if closure is None or closure.area_id != area_id:
            raise NotFound("There is no such closure of this area.")
        open_area(session, closure, checks=text("checks"), actor_id=actor().id, now=now())
        more = open_closures(session, area_id)
    flash(f"{found.name}: another closure still stands." if more else f"{found.name} is open.")
    return _back(area_id)
