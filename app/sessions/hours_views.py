"""The hours that a technician can give to inductions."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import groupby

from flask import flash, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import Refused
from app.forms import day, text
from app.machines.opening import WEEKDAYS
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.rights import Act
from app.planning.plan import Span
from app.sessions.blueprint import bp
from app.sessions.given import sessions_after
from app.sessions.models import TeachingHours
from app.sessions.teaching import give_hours, hours_between, take_all_back, take_back
from app.sessions.wall import minute_at, read_clock

AHEAD = timedelta(days=400)


def _today() -> date:
    return local_date(now(), this_site().tz)


@bp.get("/hours")
@access(Act.PLAN_SESSIONS)
def hours() -> str:
    return _hours()


def _hours(problem: str = "") -> str:
    session, today = reading(), _today()
    rows = hours_between(session, [actor().id], today, today + AHEAD)
    return render_template(
        "sessions/hours.html",
        weeks=[
            (monday, list(some)) for monday, some in groupby(rows, key=lambda row: _monday(row.day))
        ],
        total=sum(read_clock(row.closes) - read_clock(row.opens) for row in rows) / 60,
        given=_given_in(session, rows),
        weekdays=WEEKDAYS,
        chosen=set(request.form.getlist("weekday")),
        today=today,
        problem=problem,
    )


def _monday(of: date) -> date:
    return of - timedelta(days=of.weekday())


def _given_in(session: Session, rows: list[TeachingHours]) -> dict[int, int]:
    """Return how many published sessions the technician gives within each stretch."""
    zone, me = this_site().tz, actor().id
    mine = [it for it in sessions_after(session, now()) if it.technician_id == me]
    found = {}
    for row in rows:
        stretch = Span(read_clock(row.opens), read_clock(row.closes))
        spans = [
            Span(minute_at(row.day, it.starts_at, zone), minute_at(row.day, it.ends_at, zone))
            for it in mine
        ]
        found[row.id] = sum(span.meets(stretch) for span in spans)
    return found


@bp.post("/hours")
@access(Act.PLAN_SESSIONS)
def give() -> str | tuple[str, int] | Response:
    """Put hours in: for one day, or for the same weekdays of a stretch of days."""
    try:
        first_on = day("first_on")
        last_on = day("last_on") if request.form.get("last_on") else first_on
        weekdays = frozenset(
            int(each) for each in request.form.getlist("weekday") if each in set("0123456")
        )
        with writing() as session:
            days = give_hours(
                session,
                person_id=actor().id,
                first_on=first_on,
                last_on=last_on,
                weekdays=weekdays,
                opens=text("opens", most=5),
                closes=text("closes", most=5),
                now=now(),
                today=_today(),
            )
    except Refused as refusal:
        if refusal.status != 422:
            raise
        return _hours(refusal.sentence), 422
    flash(f"Hours are on record for {days} {'day' if days == 1 else 'days'}.")
    return redirect(url_for("sessions.hours"), 303)


@bp.post("/hours/<int:teaching_id>/end")
@access(Act.PLAN_SESSIONS)
def take_hours_back(teaching_id: int) -> Response:
    with writing() as session:
        take_back(session, teaching_id, person_id=actor().id, now=now())
    flash("Taken back. A session that was published in them stands until it is called off.")
    return redirect(url_for("sessions.hours"), 303)


@bp.post("/hours/end")
@access(Act.PLAN_SESSIONS)
def take_all_hours_back() -> str | tuple[str, int] | Response:
    """Take back everything from a day through another one."""
    try:
        with writing() as session:
            count = take_all_back(
                session,
                person_id=actor().id,
                first_on=day("from_on"),
                last_on=day("through_on"),
                now=now(),
            )
    except Refused as refusal:
        if refusal.status != 422:
            raise
        return _hours(refusal.sentence), 422
    flash(
        f"{count} taken back. Sessions that were published in them stand until they are called off."
    )
    return redirect(url_for("sessions.hours"), 303)
