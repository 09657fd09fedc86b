"""A person's own way to a session: find one, take a place, give it back, put it in a calendar."""

from __future__ import annotations

from flask import Response as Plain
from flask import flash, redirect, render_template, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response

from app.errors import NotFound, Refused
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor
from app.sessions.appointments import appointments
from app.sessions.blueprint import bp
from app.sessions.calendar import MEDIA_TYPE, calendar_of
from app.sessions.given import session_or_404
from app.sessions.learners import coming
from app.sessions.models import InductionSession, PlaceWord
from app.sessions.own import groups, machines_asking
from app.sessions.places import add_person, withdraw
from app.sessions.session_views import Answer, given_page, technicians_of


@bp.get("/sessions/open")
@access(SIGNED_IN)
def open_to_me() -> str:
    """Show what this person can book, and what comes first where they cannot yet."""
    session, me = reading(), actor()
    on = coming(session, [me.id], now=now(), zone=this_site().tz)
    found = list(groups(on, on.learners[me.id], machines_asking(session, now=now()), now=now()))
    rows = session.execute(
        select(InductionSession).where(InductionSession.id.in_(list(on.offered)))
    ).scalars()
    by_id = {row.id: row for row in rows}
    return render_template(
        "sessions/open.html",
        open=[group for group in found if group.open and not group.booked],
        booked=[group for group in found if group.booked],
        later=[group for group in found if not (group.open or group.booked or group.only_held)],
        held=[group for group in found if group.only_held and not (group.open or group.booked)],
        rows=by_id,
        technicians=technicians_of(session, by_id.values()),
        self_booking=this_site().self_booking,
    )


@bp.post("/sessions/<int:session_id>/book")
@access(SIGNED_IN)
def book(session_id: int) -> Answer:
    """Take a place, or wait for one where the last was taken meanwhile."""
    me = actor()
    try:
        with writing() as session:
            _insist_on_self_booking()
            row = session_or_404(session, session_id)
            word = add_person(session, row, me.id, actor_id=me.id, now=now(), zone=this_site().tz)
    except Refused as refusal:
        return _again(session_id, refusal)
    if word is PlaceWord.WAITING:
        flash("It is full: you wait for a place, and have the next that is given back.")
    else:
        flash("You have a place.")
    return redirect(url_for("sessions.given", session_id=session_id), 303)


@bp.post("/sessions/<int:session_id>/give-back")
@access(SIGNED_IN)
def give_back(session_id: int) -> Answer:
    """Give the place back, or wait no longer."""
    me = actor()
    try:
        with writing() as session:
            row = session_or_404(session, session_id)
            withdraw(session, row, me.id, actor_id=me.id, now=now(), zone=this_site().tz)
    except Refused as refusal:
        return _again(session_id, refusal)
    flash("Given back. Whoever waited longest has the place.")
    return redirect(url_for("sessions.given", session_id=session_id), 303)


def _insist_on_self_booking() -> None:
    if not this_site().self_booking:
        raise Refused("Here a technician gives each place: ask one.", code="self-booking")


def _again(session_id: int, refusal: Refused) -> Answer:
    if refusal.status not in (409, 422):
        raise refusal
    return given_page(session_id, refusal.sentence), refusal.status


# --- the calendar ------------------------------------------------------------------------


@bp.get("/sessions/<int:session_id>.ics")
@access(SIGNED_IN)
def calendar_file(session_id: int) -> Response:
    """Hand out one session as a file that a calendar reads, to whoever has to do with it."""
    session, me = reading(), actor()
    found = appointments(session, me.id, public_url=parts().settings.public_url, only=session_id)
    if not found:
        raise NotFound("You have no place in that session.")
    answer = Plain(calendar_of(found[0].title, found), content_type=MEDIA_TYPE)
    answer.headers["Content-Disposition"] = f'attachment; filename="session-{session_id}.ics"'
    return answer
