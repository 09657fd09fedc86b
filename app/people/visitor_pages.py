"""Guests of a day: put down at the door, shown on the host's phone, ended before the night."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import Forbidden, Refused
from app.forms import choice, row_number, text, whole_or_none
from app.parts import now, parts, reading, this_site, writing
from app.people import codes, visits
from app.people.access import SIGNED_IN, access, actor
from app.people.models import Person, VisitKind
from app.people.register import find, person_or_404
from app.people.rights import Act
from assessments.document.qr import qr_path

bp = Blueprint("visitors", __name__)


def _today() -> date:
    return local_date(now(), this_site().tz)


@bp.get("/visitors")
@access(SIGNED_IN)
def today() -> str:
    """List the guests of today: all of them, or to somebody without a role their own."""
    me, day = actor(), _today()
    guests = visits.visits_on(reading(), day)
    if not me.may(Act.SEE_PEOPLE):
        guests = [guest for guest in guests if guest.row.host_id == me.id]
    return render_template(
        "people/visitors.html",
        guests=guests,
        day=day,
        may_receive=me.may(Act.RECEIVE_VISITORS),
        me=me,
    )


@bp.get("/visitors/new")
@access(Act.RECEIVE_VISITORS)
def new() -> str:
    return _new()


def _new(problem: str = "", hosts: list[Person] | None = None) -> str:
    again = whole_or_none("person_id") or row_number("person")
    return render_template(
        "people/visitor_new.html",
        again=person_or_404(reading(), again) if again else None,
        kinds=list(VisitKind),
        hosts=hosts or [],
        form=request.form,
        problem=problem,
        day=_today(),
    )


@bp.post("/visitors/new")
@access(Act.RECEIVE_VISITORS)
def receive() -> tuple[str, int] | Response:
    """Put a guest on the register. What was typed stays where it was if it is refused."""
    day, hosts = _today(), _hosts()
    try:
        if len(hosts) != 1:
            raise Refused(_which_host(hosts), code="host", status=422)
        with writing() as session:
            row = visits.receive(
                session,
                name=text("name", most=200),
                person_id=whole_or_none("person_id"),
                kind=choice("kind", VisitKind),
                host_id=hosts[0].id,
                adult_on=day if request.form.get("adult") else None,
                actor_id=actor().id,
                today=day,
                now=now(),
            )
    except Refused as refusal:
        if refusal.status in (409, 422):
            return _new(refusal.sentence, hosts if len(hosts) > 1 else None), refusal.status
        raise
    flash("On the list until tonight. Supervised only.")
    return redirect(url_for("visitors.slip", visit_id=row.id), 303)


def _hosts() -> list[Person]:
    """Return who is meant: the one that was chosen, else who is found, else oneself."""
    chosen, words = whole_or_none("host_id"), text("host", most=100)
    if chosen is not None:
        return [person_or_404(reading(), chosen)]
    if not words:
        return [person_or_404(reading(), actor().id)]
    return find(reading(), words)


def _which_host(hosts: list[Person]) -> str:
    if not hosts:
        return "Nobody is found under what you typed for the host."
    return "Several people are found: choose the host."


@bp.get("/visitors/<int:visit_id>")
@access(SIGNED_IN)
def slip(visit_id: int) -> str:
    """Show the guest's slip, with a code on the host's screen that names them to a technician."""
    guest = visits.guest(reading(), visit_id)
    _insist(guest, Act.SEE_PEOPLE)
    here = guest.row.day == _today() and not guest.ended
    code = codes.code_for(guest.row.person_id, secret=parts().settings.secret_key, now=now())
    url = parts().settings.public_url + url_for("sessions.by_code", code=code)
    path, modules = qr_path(url, "L")
    return render_template(
        "people/slip.html", guest=guest, here=here, path=path, modules=modules, site=this_site()
    )


@bp.post("/visitors/<int:visit_id>/end")
@access(SIGNED_IN)
def end(visit_id: int) -> Response:
    """End a visit early: whoever receives guests may, and the host."""
    day = _today()
    with writing() as session:
        _insist(visits.guest(session, visit_id), Act.RECEIVE_VISITORS)
        visit = visits.visit_or_404(session, visit_id)
        visits.end(session, visit, actor_id=actor().id, today=day, now=now())
    flash("That visit is over.")
    return redirect(url_for("visitors.today"), 303)


def _insist(guest: visits.Guest, act: Act) -> None:
    me = actor()
    if not me.may(act) and not (me.here and me.id == guest.row.host_id):
        raise Forbidden("That is for the host, and for who receives guests.")
