"""Do a check at the machine, on the phone, in a minute; record an examination by its report."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from markupsafe import Markup
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.actions.actions import open_action
from app.clearance.done import done_at
from app.clearance.facts import machine_files
from app.dates import local_date
from app.errors import NotFound, Refused
from app.forms import choice, day, text, upload, whole_or_none
from app.hazards.checks import (
    insist_on_return,
    last_results,
    latest_result,
    may_retake,
    range_in,
    record_check,
    terms_of,
    undoes_failure,
)
from app.hazards.due import interval_words
from app.hazards.examinations import (
    MOST_BYTES,
    Report,
    insist_on_report,
    kind_of,
    record_examination,
    report_or_404,
    reports_of,
)
from app.hazards.models import Basis, Check, CheckResult, CheckTerms, Control, Outcome
from app.hazards.readings_drawn import plot
from app.hazards.remedial import about, open_remedial
from app.machines.models import Machine
from app.machines.views import machine_or_404
from app.parts import now, parts, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from app.risk_assessments.reviews import open_after_failure
from app.web import takes_files

# Here and not beside the checks: which of them a machine relies on is known only above them.
bp = Blueprint("hazards", __name__)

SHOWN = 12  # last readings, in the drawing
ACTIONS = (1, 2, 3)  # lines for what an examiner wants put right


def _asked(
    session: Session, machine_id: int, check_id: int, *, act: Act
) -> tuple[Machine, Check, Control]:
    machine = machine_or_404(session, machine_id)
    # Who may see people may look at every machine; to record is a matter of the area.
    insist(act, area_id=None if act is Act.SEE_PEOPLE else machine.area_id)
    file = machine_files(session, [machine_id], at=now())[machine_id]
    if check_id not in {relied_on.id for relied_on in file.facts.checks}:
        # Else a check of another area could be recorded by way of any machine in one's own.
        raise NotFound("This machine relies on no such check.")
    check = session.get_one(Check, check_id)
    return machine, check, session.get_one(Control, check.control_id)


@bp.get("/machines/<int:machine_id>/checks/<int:check_id>")
@access(Act.SEE_PEOPLE)
def check(machine_id: int, check_id: int) -> str:
    session, me = reading(), actor()
    machine, asked, control = _asked(session, machine_id, check_id, act=Act.SEE_PEOPLE)
    terms = terms_of(session, check_id)
    last = last_results(session, asked, machine_id, most=SHOWN)
    return render_template(
        "hazards/check.html",
        machine=machine,
        check=asked,
        control=control,
        terms=terms,
        interval=interval_words(terms.every, terms.unit),
        last=last[0] if last else None,
        readings=_readings(last, terms, asked),
        retake=may_retake(session, asked, machine_id, actor_id=me.id, now=now()),
        statutory=terms.basis is Basis.STATUTORY,
        may_check=me.may(Act.CHECK, area_id=machine.area_id),
        may_return=me.may(Act.RETURN_TO_USE, area_id=machine.area_id),
        may_examine=me.may(Act.RECORD_EXAMINATION, area_id=machine.area_id),
        may_write=me.may(Act.WRITE) or me.may(Act.APPROVE),
        today=local_date(now(), this_site().tz),
        ask_password=not is_fresh(me),
        reports=reports_of(session, asked, machine_id, most=5),
        actions=open_remedial(session, [check_id], machine_id),
        lines=ACTIONS,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Readings:
    """What a measured check asks for, and what it came to lately."""

    unit: str
    passes: str  # the range in words; empty: whoever reads it decides
    last: list[str]
    drawing: Markup | None


def _readings(last: list[CheckResult], terms: CheckTerms, check: Check) -> _Readings | None:
    asked = range_in(terms)
    if asked is None:
        return None
    drawn = plot(last, asked, check.title)
    return _Readings(
        unit=asked.unit,
        passes=asked.words,
        last=[result.reading for result in last if result.reading],
        drawing=Markup(drawn) if drawn else None,  # noqa: S704  drawn here, its words escaped
    )


@bp.post("/machines/<int:machine_id>/checks/<int:check_id>")
@access(Act.CHECK)
def check_now(machine_id: int, check_id: int) -> Answer:
    machine, asked, _control = _asked(reading(), machine_id, check_id, act=Act.CHECK)
    outcome = choice("outcome", Outcome) if text("outcome") else None
    insist_on_report(terms_of(reading(), asked.id), outcome)
    retakes_id = whole_or_none("retakes")
    returns = retakes_id is None and outcome is not Outcome.FAILED and _returns(machine, asked)
    if returns:
        may_return = actor().may(Act.RETURN_TO_USE, area_id=machine.area_id)
        insist_on_return(asked, may_return=may_return, tests=text("note"))
        insist_on_signature()
    with writing() as session:
        machine, asked, _control = _asked(session, machine_id, check_id, act=Act.CHECK)
        insist_on_report(terms_of(session, asked.id), outcome)
        result = record_check(
            session,
            asked,
            machine_id=machine.id,
            outcome=outcome,
            reading=text("reading", most=100),
            note=text("note"),
            done_at=None if retakes_id is not None else done_at(now(), this_site().tz),
            may_return=returns,
            retakes_id=retakes_id,
            actor_id=actor().id,
            now=now(),
            zone=this_site().tz,
        )
        open_after_failure(session, result, actor_id=actor().id, now=now(), site=this_site())
        latest = latest_result(session, asked, machine.id)
    return _recorded(asked, result, latest, machine_id)


def _returns(machine: Machine, check: Check) -> bool:
    """Say whether a pass now would bring back what a failure took out of use."""
    moment = done_at(now(), this_site().tz) or now()
    return undoes_failure(latest_result(reading(), check, machine.id), moment)


@bp.post("/machines/<int:machine_id>/checks/<int:check_id>/examination")
@access(Act.RECORD_EXAMINATION)
@takes_files(MOST_BYTES + 1024 * 1024)
def examined(machine_id: int, check_id: int) -> Answer:
    """Record a statutory examination from its report, with the password as the signature."""
    _asked(reading(), machine_id, check_id, act=Act.RECORD_EXAMINATION)
    data = upload("file")
    if data:
        kind_of(data)
    insist_on_signature()
    report = Report(
        examiner=text("examiner", most=200),
        employer=text("employer", most=200),
        reference=text("report", most=200),
        file_digest=parts().files.keep(data) if data else None,
        file_name=_file_name() if data else "",
    )
    with writing() as session:
        machine, asked, _control = _asked(session, machine_id, check_id, act=Act.RECORD_EXAMINATION)
        result = record_examination(
            session,
            asked,
            machine_id=machine.id,
            outcome=choice("outcome", Outcome),
            done_on=day("done_on"),
            report=report,
            note=text("note"),
            reading=text("reading", most=100),
            may_return=actor().may(Act.RETURN_TO_USE, area_id=machine.area_id),
            actor_id=actor().id,
            now=now(),
            zone=this_site().tz,
        )
        for wanted in _remedial_actions():
            open_action(session, about=about(result.id), actor_id=actor().id, now=now(), **wanted)
        open_after_failure(session, result, actor_id=actor().id, now=now(), site=this_site())
        latest = latest_result(session, asked, machine.id)
    return _recorded(asked, result, latest, machine_id)


def _file_name() -> str:
    """Return what the sender called the file, as words to show and never as a path."""
    name = request.files["file"].filename or ""
    return "".join(letter for letter in name if letter.isprintable())[-120:]


def _remedial_actions() -> list[dict[str, Any]]:
    """Return what the examiner wants put right: the lines that were filled in, each whole."""
    found = []
    for line in ACTIONS:
        what, owner = text(f"what{line}"), text(f"owner{line}", most=200)
        due_on: date | None = day(f"due{line}") if text(f"due{line}") else None
        if not (what or owner or due_on):
            continue
        if not (what and owner and due_on):
            raise Refused(
                "Give each action its words, who does it, and a day. Nothing was recorded.",
                code="action",
                status=422,
            )
        urgent = bool(text(f"urgent{line}"))
        found.append({"what": what, "owner": owner, "due_on": due_on, "urgent": urgent})
    return found


@bp.get("/examinations/<int:report_id>/report")
@access(Act.SEE_PEOPLE)
def report_file(report_id: int) -> Response:
    """Hand out an examiner's report, as it was handed in."""
    report, _result = report_or_404(reading(), report_id)
    data = parts().files.read(report.file_digest or "")
    media_type, ending = kind_of(data)
    answer = Response(data, mimetype=media_type)
    # Never opened in the page: a PDF of somebody else's may hold anything.
    answer.headers["Content-Disposition"] = (
        f'attachment; filename="examination-{report.id}.{ending}"'
    )
    return answer


def _recorded(
    asked: Check, result: CheckResult, latest: CheckResult | None, machine_id: int
) -> Answer:
    """Say what stands now: a pass of an earlier day undoes no failure after it."""
    there = url_for("clearance.machine", machine_id=machine_id)
    if result.outcome is Outcome.FAILED:
        why = f" {result.note}" if result.reading else ""
        flash(f"Failed: everything that relies on this is out of use for everybody.{why}")
        if result.reading:  # perhaps it was mistyped: the page of the check offers a second taking
            there = url_for("hazards.check", machine_id=machine_id, check_id=asked.id)
    elif latest is not None and latest.outcome is Outcome.FAILED:
        flash(f"Recorded, but a failure of {asked.title} still counts: out of use until it passes.")
    else:
        flash(f"Passed: {asked.title}.")
    return redirect(there, 303)
