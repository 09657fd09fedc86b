"""The code that a person shows: whose it is, and that they came to a session."""

from __future__ import annotations

from flask import redirect as to
from flask import render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.errors import NotFound
from app.forms import text
from app.inductions.catalogue import catalogue_now
from app.parts import now, parts, reading, this_site
from app.people.access import access, actor
from app.people.codes import person_in
from app.people.register import person_or_404
from app.people.rights import Act
from app.sessions.arrival import Came, arrive, at_the_door
from app.sessions.blueprint import bp
from app.sessions.given import places_in
from app.sessions.models import InductionSession
from app.sessions.session_views import Answer, changed, given_page

SAID = {
    Came.BOOKED: "{name} is here.",
    Came.BEFORE: "{name} is here; that was recorded already.",
    Came.WALKED_IN: "{name} is here. They had no place, and there was room.",
}


@bp.get("/c/<code>")
@access(Act.SEE_PEOPLE)
def by_code(code: str) -> str | Response:
    """Show whose code was scanned, with the session that they came for; else their own page."""
    session, me = reading(), actor()
    person_id = _whose(code)
    sessions = at_the_door(session, me, now=now(), zone=this_site().tz)
    if not sessions:
        return to(url_for("training.person", person_id=person_id), 303)
    taught, places = catalogue_now(session), places_in(session, [row.id for row in sessions])
    return render_template(
        "sessions/came.html",
        person=person_or_404(session, person_id),
        code=code,
        sessions=[
            (
                row,
                taught[row.induction_id].title,
                next((p.word for p in places.get(row.id, ()) if p.person_id == person_id), None),
            )
            for row in sessions
        ],
    )


@bp.post("/sessions/<int:session_id>/arrivals")
@access(Act.PLAN_SESSIONS)
def arrived(session_id: int) -> Answer:
    """Record that whoever shows this code is here. Only a fresh code will do."""
    try:
        person_id = _whose(text("code", most=500))
    except NotFound as unknown:  # shown on the page of the session, where they stand and wait
        return given_page(session_id, unknown.sentence), 422

    def came(session: Session, row: InductionSession) -> str:
        person = person_or_404(session, person_id)
        done = arrive(session, row, person.id, actor_id=actor().id, now=now(), zone=this_site().tz)
        return SAID[done].format(name=person.name)

    return changed(session_id, came)


def _whose(code: str) -> int:
    """Return whose code it is: the code alone, or the address that it opens."""
    last = code.strip().rsplit("/", 1)[-1]
    return person_in(last, secret=parts().settings.secret_key, now=now())
