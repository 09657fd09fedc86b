"""The scan: from the code on the label to the answer. Only a start is written down."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.errors import NotFound
from app.forms import row_number, text, whole
from app.hazards.checks import record_check
from app.hazards.models import Check, Outcome
from app.machines.models import Form
from app.machines.tags import read_code
from app.parts import now, parts, reading, this_site, writing
from app.people.access import PUBLIC, SIGNED_IN, access, actor, actor_or_none, insist
from app.people.identity import Actor, Identity
from app.people.register import find
from app.people.rights import Act
from app.risk_assessments.reviews import open_after_failure
from app.scan import start as starting
from app.scan.bench import tools
from app.scan.card import card_html
from app.scan.page import verdict_page
from app.scan.partners import partners_named
from app.scan.scanned import (
    MOST_CODE,
    Scanned,
    UnknownCode,
    file_by_code,
    person_or_404,
    scanned,
)
from app.web import answer_error, asks_for_json
from assessments.document import signs
from assessments.errors import Refused as NoSuchSign

bp = Blueprint("scan", __name__)


@bp.errorhandler(UnknownCode)
def unknown(error: UnknownCode) -> tuple[Any, int]:
    if asks_for_json():
        return answer_error(error.code, error.sentence, error.status)
    return render_template("scan/unknown.html"), 404


def _page(found: Scanned, person: Identity | None, me: Actor | None) -> Response:
    """Draw the answer."""
    session, site = reading(), this_site()
    card = card_html(found.drawn, emergency=site.emergency)
    page = verdict_page(
        found,
        asked=found.asked(),
        card=card,
        me=me,
        tools=tools(session, found.besides.tools, person)
        if found.machine.form is Form.BENCH
        else (),
    )
    return Response(render_template("scan/verdict.html", page=page, me=me))


@bp.get("/M/<code>", endpoint="printed")  # as the code on a label holds it
@bp.get("/m/<code>")
@access(PUBLIC)
def scan(code: str) -> Response:
    """Say whether the person who holds the phone may start this machine now."""
    me = actor_or_none()
    person = me.identity if me else None
    found = scanned(reading(), code, person, partner_id=row_number("with"))
    return _page(found, person, me)


@bp.get("/m")
@access(PUBLIC)
def typed() -> Answer:
    """Open a code that was typed from a label."""
    code = read_code(request.args.get("code", ""))[:MOST_CODE]
    return redirect(url_for("scan.scan", code=code) if code else url_for("clearance.home"), 303)


@bp.get("/m/<code>/people")
@access(Act.START_OTHERS)
def look_up(code: str) -> str:
    """Find somebody who has no phone of their own at this machine."""
    written, file = file_by_code(reading(), code)
    insist(Act.START_OTHERS, area_id=file.row.area_id)
    asked = request.args.get("q", "")[:100]
    return render_template(
        "scan/look_up.html",
        code=written,
        machine=file.row,
        words=asked,
        found=find(reading(), asked),
    )


@bp.get("/m/<code>/people/<int:person_id>")
@access(Act.START_OTHERS)
def scan_for(code: str, person_id: int) -> Response:
    """Say whether somebody else may start this machine now, with this technician beside them."""
    session, me = reading(), actor()
    person = person_or_404(session, person_id)
    found = scanned(session, code, person, supervisor_id=_beside(me, person_id))
    insist(Act.START_OTHERS, area_id=found.machine.area_id)
    return _page(found, person, me)


def _beside(me: Actor, person_id: int) -> int | None:
    """Return who stands beside somebody that does not hold the phone: whoever does."""
    return me.id if me.id != person_id else None


@bp.get("/m/<code>/with")
@access(SIGNED_IN)
def partners(code: str) -> str:
    """Find somebody who is here too, to name them as a partner."""
    session = reading()
    written, file = file_by_code(session, code)
    asked = request.args.get("q", "")[:200]
    return render_template(
        "scan/partners.html",
        code=written,
        machine=file.row,
        words=asked,
        found=partners_named(session, asked, actor().id),
    )


@bp.post("/m/<code>/start")
@access(SIGNED_IN)
def start(code: str) -> Answer:
    """Record that somebody starts, with the answer as it was at that moment."""
    me, said = actor(), _said()
    with writing() as session:
        found = scanned(
            session,
            code,
            person_or_404(session, said.person_id),
            partner_id=whole("partner_id") if text("partner_id") else None,
            supervisor_id=_beside(me, said.person_id),
        )
        if not starting.started_before(session, found, me, said):
            starting.start(session, found, me, said)
    flash("The start is recorded. Do the checks before use, each of them.")
    return _back(found.code, me, said.person_id)


def _said() -> starting.Said:
    readings = {
        number: text(name, most=40)
        for name in request.form
        if name.startswith("reading") and (number := _number(name.removeprefix("reading")))
    }
    return starting.Said(
        key=text("key", most=64),
        person_id=whole("person_id"),
        material=text("material", most=220),
        ticked={number for each in request.form.getlist("check") if (number := _number(each))},
        readings=readings,
    )


def _number(written: str) -> int | None:
    """Return the number of a row that the page put there; None for anything else."""
    plain = written.isascii() and written.isdigit() and len(written) <= 18
    return int(written) if plain else None


def _back(code: str, me: Actor, person_id: int) -> Answer:
    where = (
        url_for("scan.scan", code=code)
        if me.id == person_id
        else url_for("scan.scan_for", code=code, person_id=person_id)
    )
    return redirect(where, 303)


@bp.post("/m/<code>/not-in-order")
@access(SIGNED_IN)
def not_in_order(code: str) -> Answer:
    """Record that a check before use failed: anybody may say so, and it is out of use at once."""
    with writing() as session:
        written, file = file_by_code(session, code)
        check = _check_before_use(session, file.facts.checks, whole("check_id"))
        result = record_check(
            session,
            check,
            machine_id=file.facts.id,
            outcome=Outcome.FAILED,
            note=text("note"),
            actor_id=actor().id,
            now=now(),
            zone=parts().site(session).tz,
        )
        open_after_failure(
            session, result, actor_id=actor().id, now=now(), site=parts().site(session)
        )
    flash("Recorded: it is out of use for everybody. Tell a technician; the power is not cut.")
    return redirect(url_for("scan.scan", code=written), 303)


def _check_before_use(session: Session, checks: Any, check_id: int) -> Check:
    if check_id not in {check.id for check in checks if check.each_use}:
        raise NotFound("This machine has no such check before use.")
    return session.get_one(Check, check_id)


@bp.get("/signs/<number>.svg")
@access(PUBLIC)
def sign_image(number: str) -> Response:
    """Serve a drawn sign. Its drawing changes with the program only."""
    try:
        image = signs.svg(number)
    except NoSuchSign:
        abort(404)
    answer = Response(image, mimetype="image/svg+xml")
    answer.headers["Cache-Control"] = "public, max-age=604800"
    return answer
