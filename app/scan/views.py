"""The scan: from the code on the label to the answer. Only a start is written down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.audit import log
from app.clearance.decision import RULES, Clearance, Verdict, decide
from app.clearance.facts import MachineFile, gather, machine_file_by_code
from app.clearance.wording import words
from app.dates import local_date
from app.db import AnyRow
from app.errors import BadInput, Forbidden, Refused
from app.forms import text, whole
from app.machines.models import Form, Machine, Tag
from app.machines.tags import read_code
from app.parts import insist_on_clock, now, parts, reading, this_site, writing
from app.people.access import PUBLIC, SIGNED_IN, access, actor, actor_or_none, insist
from app.people.identity import Actor, Identity, identities
from app.people.register import find
from app.people.rights import Act
from app.presence.models import Start
from app.scan.card import card_html
from app.scan.page import verdict_page
from app.web import answer_error, asks_for_json
from assessments.document import signs
from assessments.errors import Refused as NoSuchSign

bp = Blueprint("scan", __name__)

MOST_CODE = 40  # characters; a longer one is no code of ours


@dataclass(frozen=True, kw_only=True)
class Scanned:
    """One code, resolved and decided."""

    code: str
    file: MachineFile
    clearance: Clearance

    @property
    def machine(self) -> AnyRow:
        return self.file.row


def _scanned(session: Session, code: str, person: Identity | None) -> Scanned:
    written = read_code(code)[:MOST_CODE]
    file = machine_file_by_code(session, written, at=now())
    if file is None:
        raise _Unknown
    insist_on_clock(file.row.log_at, now())
    facts = gather(session, file, person, now=now(), zone=parts().site(session).tz)
    return Scanned(code=written, file=file, clearance=decide(facts))


class _Unknown(Refused):
    def __init__(self) -> None:
        super().__init__("This code belongs to no machine here.", code="unknown-code", status=404)


@bp.errorhandler(_Unknown)
def unknown(error: _Unknown) -> tuple[Any, int]:
    if asks_for_json():
        return answer_error(error.code, error.sentence, error.status)
    return render_template("scan/unknown.html"), 404


def _page(scanned: Scanned, me: Actor | None) -> Response:
    """Draw the answer."""
    session, site = reading(), this_site()
    carries: tuple[AnyRow, ...] = ()
    if scanned.machine.form is Form.BENCH:
        carries = tuple(
            session.execute(
                select(Machine.name, Tag.code)
                .outerjoin(Tag, (Tag.machine_id == Machine.id) & Tag.retired_at.is_(None))
                .where(Machine.carried_by_id == scanned.machine.id)
                .order_by(Machine.name)
            )
        )
    page = verdict_page(
        scanned.clearance,
        code=scanned.code,
        file=scanned.file,
        card=card_html(session, scanned.file.revisions, emergency=site.emergency),
        me=me,
        carries=carries,
    )
    return Response(render_template("scan/verdict.html", page=page, me=me))


@bp.get("/m/<code>")
@access(PUBLIC)
def scan(code: str) -> Response:
    """Say whether the person who holds the phone may start this machine now."""
    me = actor_or_none()
    return _page(_scanned(reading(), code, me.identity if me else None), me)


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
    scanned = _scanned(reading(), code, None)
    insist(Act.START_OTHERS, area_id=scanned.machine.area_id)
    asked = request.args.get("q", "")[:100]
    return render_template(
        "scan/look_up.html",
        code=scanned.code,
        machine=scanned.machine,
        words=asked,
        found=find(reading(), asked),
    )


@bp.get("/m/<code>/people/<int:person_id>")
@access(Act.START_OTHERS)
def scan_for(code: str, person_id: int) -> Response:
    """Say whether somebody else may start this machine now."""
    session = reading()
    scanned = _scanned(session, code, _person(session, person_id))
    insist(Act.START_OTHERS, area_id=scanned.machine.area_id)
    return _page(scanned, actor())


def _person(session: Session, person_id: int) -> Identity:
    day = local_date(now(), parts().site(session).tz)
    found = identities(session, [person_id], day).get(person_id)
    if found is None:
        abort(404)
    return found


@bp.post("/m/<code>/start")
@access(SIGNED_IN)
def start(code: str) -> Answer:
    """Record that somebody starts, with the answer as it was at that moment."""
    me, person_id, key = actor(), whole("person_id"), text("key", most=64)
    with writing() as session:
        scanned = _scanned(session, code, _person(session, person_id))
        if not _started_before(session, scanned, me, person_id, key):
            _insist_on_start(session, scanned, me, person_id)
            _record_start(session, scanned, me, person_id, key)
    flash("The start is recorded. Do the checks before use, each of them.")
    where = (
        url_for("scan.scan", code=scanned.code)
        if me.id == person_id
        else url_for("scan.scan_for", code=scanned.code, person_id=person_id)
    )
    return redirect(where, 303)


def _started_before(
    session: Session, scanned: Scanned, me: Actor, person_id: int, key: str
) -> bool:
    """Say whether this very form was sent before: a double tap is one start."""
    if len(key) < 16:
        raise BadInput("This form has no key. Open the page again.")
    before = session.execute(select(Start).where(Start.key == key)).scalar_one_or_none()
    if before is None:
        return False
    if (before.machine_id, before.person_id, before.recorded_by_id) != (
        scanned.machine.id,
        person_id,
        me.id,
    ):
        raise Forbidden("That form belongs to another start. Nothing was recorded.")
    return True


def _insist_on_supervisor(session: Session, scanned: Scanned, me: Actor) -> None:
    """Whoever starts somebody under supervision is cleared on this machine themselves."""
    facts = gather(session, scanned.file, me.identity, now=now(), zone=scanned.clearance.facts.zone)
    if decide(facts).verdict is not Verdict.CLEARED:
        raise Forbidden(
            "Not started. A supervisor is cleared on this machine, and you are not at present. "
            "Nothing was recorded."
        )


def _insist_on_start(session: Session, scanned: Scanned, me: Actor, person_id: int) -> None:
    verdict = scanned.clearance.verdict
    if me.id != person_id:
        insist(Act.START_OTHERS, area_id=scanned.machine.area_id)
        if verdict is Verdict.SUPERVISED:
            _insist_on_supervisor(session, scanned, me)
        if verdict in (Verdict.CLEARED, Verdict.SUPERVISED):
            return
    elif verdict is Verdict.CLEARED:
        return
    elif verdict is Verdict.SUPERVISED:
        raise Forbidden("You start only with a supervisor in sight: ask a technician to start you.")
    raise Forbidden(
        f"Not started. {words(scanned.clearance.reasons[0]).sentence} Nothing was recorded."
    )


def _record_start(session: Session, scanned: Scanned, me: Actor, person_id: int, key: str) -> None:
    row = Start(
        key=key,
        machine_id=scanned.machine.id,
        person_id=person_id,
        recorded_by_id=me.id,
        verdict=scanned.clearance.verdict.words,
        reasons=[reason.code.value for reason in scanned.clearance.reasons],
        rules=RULES,
        occurred_at=now(),
        recorded_at=now(),
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="scan:start:record",
        subject=f"start:{row.id}",
        actor_id=me.id,
        now=now(),
        detail={"person": person_id, "machine": scanned.machine.id, "verdict": row.verdict},
    )


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
