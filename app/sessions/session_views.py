"""Published sessions: those to come, and one of them with its people."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from flask import flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.audit import log
from app.errors import BadInput, Refused
from app.forms import text, whole
from app.inductions.catalogue import catalogue_now
from app.parts import now, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.models import Person
from app.people.register import find, person_or_404
from app.people.rights import Act
from app.sessions.arrival import opens_the_door
from app.sessions.blueprint import bp
from app.sessions.given import (
    Place,
    call_off,
    ending_of,
    places_in,
    seated,
    session_or_404,
)
from app.sessions.learners import coming
from app.sessions.models import InductionSession, PlaceWord
from app.sessions.own import own_side
from app.sessions.places import CAME_OF_IT, KEPT, add_person, take_attendance, waiting, withdraw

Answer = str | tuple[str, int] | Response
SHOWN_FOR = timedelta(days=2)  # after it is over: attendance is still to be taken


@dataclass(frozen=True, kw_only=True)
class SessionLine:
    """One session in the list."""

    row: InductionSession
    title: str
    technician: str
    taken: int
    waiting: int
    own: PlaceWord | None  # how whoever looks stands to it
    called_off: bool


@bp.get("/sessions")
@access(SIGNED_IN)
def to_come() -> str:
    """List the sessions to come: all for those who see people, else one's own."""
    session, me = reading(), actor()
    lines = _lines(session, now() - SHOWN_FOR)
    return render_template(
        "sessions/sessions.html",
        mine=[it for it in lines if it.own in KEPT or it.own is PlaceWord.WAITING],
        given=[it for it in lines if it.row.technician_id == me.id],
        others=[it for it in lines if it.row.technician_id != me.id],
        sees_all=me.may(Act.SEE_PEOPLE),
        may_plan=me.may(Act.PLAN_SESSIONS),
        self_booking=this_site().self_booking,
    )


def _lines(session: Session, after: datetime) -> list[SessionLine]:
    rows = list(
        session.execute(
            select(InductionSession)
            .where(InductionSession.ends_at > after)
            .order_by(InductionSession.starts_at, InductionSession.id)
        ).scalars()
    )
    ended = {row.ends_id for row in rows if row.ends_id is not None}
    places = places_in(session, [row.id for row in rows])
    names, taught = technicians_of(session, rows), catalogue_now(session)
    return [
        SessionLine(
            row=row,
            title=taught[row.induction_id].title,
            technician=names[row.technician_id],
            taken=len(seated(places.get(row.id, ()))),
            waiting=len(waiting(places.get(row.id, []))),
            own=_own(places.get(row.id, [])),
            called_off=row.id in ended,
        )
        for row in rows
        if row.ends_id is None
    ]


def _own(places: list[Place]) -> PlaceWord | None:
    me = actor().id
    return next((place.word for place in places if place.person_id == me), None)


def technicians_of(session: Session, rows: Iterable[InductionSession]) -> dict[int, str]:
    """Return the names of those who give these sessions. One statement."""
    return _names(session, {row.technician_id for row in rows})


def _names(session: Session, people: set[int]) -> dict[int, str]:
    return {
        row.id: row.name
        for row in session.execute(select(Person.id, Person.name).where(Person.id.in_(people)))
    }


# --- one session -------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class PersonLine:
    """Somebody and how they stand to the session."""

    id: int
    name: str
    word: PlaceWord


@bp.get("/sessions/<int:session_id>")
@access(SIGNED_IN)
def given(session_id: int) -> str:
    return given_page(session_id)


def given_page(session_id: int, problem: str = "") -> str:
    """Show one session. Who comes to it is seen by those who may see people."""
    session, me = reading(), actor()
    row = session_or_404(session, session_id)
    ending = ending_of(session, row)
    on = coming(session, [me.id], now=now(), zone=this_site().tz, also=row)
    places = on.places.get(row.id, [])
    sees = me.may(Act.SEE_PEOPLE)
    words = request.args.get("q", "")[:100]
    return render_template(
        "sessions/session.html",
        row=row,
        title=on.taught[row.induction_id].title,
        technician=_names(session, {row.technician_id})[row.technician_id],
        side=own_side(on, on.learners[me.id], on.offered[row.id], now=now()),
        now=now(),
        self_booking=this_site().self_booking,
        own=_own(places),
        called_off=ending is not None,
        why=_why(session, ending, places),
        people=_people(session, [it for it in places if it.word in KEPT]) if sees else [],
        waiting=_people(session, waiting(places), in_order=True) if sees else [],
        gone=_people(session, [it for it in places if it.word is PlaceWord.WITHDRAWN])
        if sees
        else [],
        taken=len(seated(places)),
        sees=sees,
        may_change=me.may(Act.PLAN_SESSIONS, area_id=row.area_id),
        may_sign=me.may(Act.SIGN_OFF),
        begun=row.starts_at.astimezone(this_site().tz).date()
        <= now().astimezone(this_site().tz).date(),
        over=row.ends_at <= now(),
        at_the_door=opens_the_door(row, now=now()),
        problem=problem,
        words=words,
        found=find(session, words) if sees and words else [],
    )


def _why(session: Session, ending: InductionSession | None, places: list[Place]) -> str | None:
    """Return why it was called off, for those who had places and those who see people."""
    if ending is None or not (actor().may(Act.SEE_PEOPLE) or _own(places) is not None):
        return None
    return log.note(session, ending.place)


def _people(session: Session, places: list[Place], *, in_order: bool = False) -> list[PersonLine]:
    names = _names(session, {place.person_id for place in places})
    lines = [
        PersonLine(id=place.person_id, name=names[place.person_id], word=place.word)
        for place in places
    ]
    return lines if in_order else sorted(lines, key=lambda line: (line.name, line.id))


def changed(session_id: int, change: Callable[[Session, InductionSession], str]) -> Answer:
    """Change a session as whoever plans there; show it again with what was refused."""
    try:
        with writing() as session:
            row = session_or_404(session, session_id)
            insist(Act.PLAN_SESSIONS, area_id=row.area_id)
            done = change(session, row)
    except Refused as refusal:
        if refusal.status not in (409, 422):
            raise
        return given_page(session_id, refusal.sentence), refusal.status
    flash(done)
    return redirect(url_for("sessions.given", session_id=session_id), 303)


@bp.post("/sessions/<int:session_id>/call-off")
@access(Act.PLAN_SESSIONS)
def call_session_off(session_id: int) -> Answer:
    why = text("why")

    def called_off(session: Session, row: InductionSession) -> str:
        call_off(session, row, why=why, actor_id=actor().id, now=now())
        return "Called off. Those who had places see it and why; tell them as well."

    return changed(session_id, called_off)


@bp.post("/sessions/<int:session_id>/people")
@access(Act.PLAN_SESSIONS)
def add_to_session(session_id: int) -> Answer:
    """Give somebody a place, or let them wait for one."""
    person_id = whole("person_id")

    def added(session: Session, row: InductionSession) -> str:
        person = person_or_404(session, person_id)
        word = add_person(
            session, row, person.id, actor_id=actor().id, now=now(), zone=this_site().tz
        )
        if word is PlaceWord.WAITING:
            return f"It is full: {person.name} waits for a place."
        return f"{person.name} has a place."

    return changed(session_id, added)


@bp.post("/sessions/<int:session_id>/people/<int:person_id>/withdraw")
@access(Act.PLAN_SESSIONS)
def withdraw_from_session(session_id: int, person_id: int) -> Answer:
    """Give up somebody's place: the first who waits has it."""

    def withdrawn(session: Session, row: InductionSession) -> str:
        name = person_or_404(session, person_id).name
        next_in = withdraw(
            session, row, person_id, actor_id=actor().id, now=now(), zone=this_site().tz
        )
        if next_in is None:
            return f"{name} is withdrawn."
        return f"{name} is withdrawn. {person_or_404(session, next_in).name} has the place now."

    return changed(session_id, withdrawn)


@bp.post("/sessions/<int:session_id>/attendance")
@access(Act.PLAN_SESSIONS)
def attendance(session_id: int) -> Answer:
    """Record who came. It signs nobody off."""
    said = _said()

    def taken(session: Session, row: InductionSession) -> str:
        count = take_attendance(
            session, row, said, actor_id=actor().id, now=now(), zone=this_site().tz
        )
        return f"Attendance recorded for {count}. Each person is signed off by itself."

    return changed(session_id, taken)


def _said() -> dict[int, PlaceWord]:
    """Return the word that was chosen for each person; none chosen is none said."""
    said: dict[int, PlaceWord] = {}
    for name, value in request.form.items():
        number = name.removeprefix("came_")
        if number == name or not value:
            continue
        if not (number.isascii() and number.isdigit() and len(number) < 19):
            raise BadInput("That cannot be read. Open the page again.")
        if value not in {word.value for word in CAME_OF_IT}:
            raise BadInput("Say attended or absent.", status=422)
        said[int(number)] = PlaceWord(value)
    return said
