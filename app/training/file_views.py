"""What is set about a person and ended again: suspensions, marks, protective equipment."""

from __future__ import annotations

import re

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import BadInput, NotFound
from app.forms import day_or_none, text
from app.machines.areas import area_or_404
from app.machines.views import machine_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.register import person_or_404
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from app.training import equipment, marks, suspension
from app.training.models import EquipmentIssue, PersonMark, Suspension
from app.training.person_page import places

bp = Blueprint("person_file", __name__)

_NUMBER = re.compile(r"[0-9]{1,18}")


def _where(session: Session) -> dict[str, int | None]:
    """Return where the form says that something holds; nothing said is everywhere."""
    said = text("where", most=40)
    what, _, number = said.partition(" ")
    if not said:
        return {"area_id": None, "machine_id": None}
    if what not in ("area", "machine") or not _NUMBER.fullmatch(number):
        raise BadInput("Choose where from the list.", status=422)
    if what == "area":
        return {"area_id": area_or_404(session, int(number)).id, "machine_id": None}
    return {"area_id": None, "machine_id": machine_or_404(session, int(number)).id}


def _back(person_id: int, part: str) -> Response:
    return redirect(url_for("training.person", person_id=person_id, _anchor=part), 303)


# --- suspensions -----------------------------------------------------------------------------


@bp.get("/suspensions")
@access(Act.SEE_PEOPLE)
def suspensions() -> str:
    """List every suspension that stands; the reason is read by those entitled to it."""
    session = reading()
    return render_template(
        "training/suspensions.html",
        stops=suspension.all_stops(session, actor()),
        places=places(session),
        ask_password=not is_fresh(actor()),
    )


@bp.post("/people/<int:person_id>/suspend")
@access(Act.SUSPEND)
def suspend(person_id: int) -> Response:
    insist_on_signature()
    with writing() as session:
        person_or_404(session, person_id)
        where = _where(session)
        suspension.suspend(
            session,
            actor=actor(),
            person_id=person_id,
            reason=text("reason"),
            now=now(),
            **where,
        )
    reach = "everywhere" if not any(where.values()) else "there"
    flash(f"Suspended {reach}. The reason is seen only by those entitled.")
    return _back(person_id, "suspensions")


@bp.post("/suspensions/<int:suspension_id>/lift")
@access(Act.SUSPEND)
def restore(suspension_id: int) -> Response:
    insist_on_signature()
    with writing() as session:
        row = session.get(Suspension, suspension_id)
        if row is None or row.ends_id is not None:
            raise NotFound("There is no such suspension.")
        suspension.restore(session, actor=actor(), suspension=row, reason=text("reason"), now=now())
    flash("Restored.")
    return _back(row.person_id, "suspensions")


# --- marks -----------------------------------------------------------------------------------


@bp.post("/people/<int:person_id>/marks")
@access(Act.MARK)
def mark(person_id: int) -> Response:
    with writing() as session:
        person_or_404(session, person_id)
        marks.mark(session, actor=actor(), person_id=person_id, now=now(), **_where(session))
    flash("Marked. The scan says “speak to a technician”, and nothing else.")
    return _back(person_id, "marks")


@bp.post("/people/<int:person_id>/marks/<int:mark_id>/end")
@access(Act.MARK)
def unmark(person_id: int, mark_id: int) -> Response:
    with writing() as session:
        row = session.get(PersonMark, mark_id)
        if row is None or row.person_id != person_id or row.ends_id is not None:
            raise NotFound("There is no such mark.")
        marks.unmark(session, row, actor=actor(), now=now())
    flash("The mark is gone.")
    return _back(person_id, "marks")


# --- protective equipment --------------------------------------------------------------------


@bp.post("/people/<int:person_id>/equipment")
@access(Act.ISSUE_EQUIPMENT)
def issue(person_id: int) -> Response:
    site = this_site()
    with writing() as session:
        person_or_404(session, person_id)
        row = equipment.issue(
            session,
            actor=actor(),
            person_id=person_id,
            equipment=text("equipment", most=200),
            expires_on=day_or_none("expires_on"),
            self_allowed=site.one_person_may_approve,
            today=local_date(now(), site.tz),
            now=now(),
        )
    flash(f"{row.equipment} is on record.")
    return _back(person_id, "equipment")


@bp.post("/people/<int:person_id>/equipment/<int:issue_id>/end")
@access(Act.ISSUE_EQUIPMENT)
def take_back(person_id: int, issue_id: int) -> Response:
    with writing() as session:
        row = session.get(EquipmentIssue, issue_id)
        if row is None or row.person_id != person_id or row.ends_id is not None:
            raise NotFound("Nothing of that sort was issued.")
        equipment.take_back(session, row, actor=actor(), now=now())
    flash(f"{row.equipment} was taken back.")
    return _back(person_id, "equipment")
