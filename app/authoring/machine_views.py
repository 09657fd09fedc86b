"""Add a machine: to the register, and in the same step its assessment begins."""

from __future__ import annotations

from enum import StrEnum
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.authoring.begin import draft_from_nothing, join, suggest_reference
from app.authoring.from_copy import draft_from_copy
from app.authoring.from_kind import draft_from_kind
from app.authoring.kinds import kind_or_404, known_kinds, matching
from app.authoring.reading import words
from app.calculations.draft_pages import insist_on_writing
from app.errors import BadInput, NotFound
from app.forms import choice, row_number, text, whole, whole_or_none
from app.machines.areas import area_or_404
from app.machines.edit import WORDS
from app.machines.models import Area, Form, Machine
from app.machines.register import register_machine
from app.machines.views import machine_or_404
from app.parts import now, reading, writing
from app.people.access import access, actor, insist
from app.people.rights import Act
from app.risk_assessments.models import AssessmentMachine, RiskAssessment
from assessments.catalogue.kind import Group

bp = Blueprint("machines", __name__)


class Start(StrEnum):
    """From what the assessment of a new machine begins."""

    KIND = "kind"
    COPY = "copy"
    JOIN = "join"
    EMPTY = "empty"
    NONE = "none"


@bp.get("/machines/new")
@access(Act.REGISTER_MACHINES)
def choose() -> str:
    """Ask from what its assessment begins: the kinds, searched and by group, and the other ways."""
    asked, group = request.args.get("q", "").strip()[:100], request.args.get("group", "")
    known = known_kinds(reading())
    machine_id = row_number("machine")
    return render_template(
        "authoring/choose.html",
        found=matching(known, asked=asked, group=group),
        asked=asked,
        group=group,
        groups=list(Group),
        counted=len(known),
        machine=machine_or_404(reading(), machine_id) if machine_id else None,
        may_write=actor().may(Act.WRITE),
    )


@bp.get("/machines/new/<start>")
@access(Act.REGISTER_MACHINES)
def form(start: str) -> str:
    """Show the form of the machine, with what it begins from."""
    session, chosen = reading(), _start(start)
    known = _kind_asked(session) if chosen is Start.KIND else None
    machine_id = row_number("machine")
    machine = machine_or_404(session, machine_id) if machine_id else None
    areas = [a for a in _areas(session) if actor().may(Act.REGISTER_MACHINES, area_id=a.id)]
    return render_template(
        "authoring/machine.html",
        start=chosen,
        known=known,
        machine=machine,
        areas=areas,
        forms=list(Form),
        form_of_kind=_form_of(known.kind.form.value) if known else Form.MACHINE,
        drafts=_drafts(session),
        reference=suggest_reference(session, machine.area_id) if machine else "",
    )


def _start(word: str) -> Start:
    try:
        return Start(word)
    except ValueError:
        raise NotFound("A machine does not begin from that.") from None


def _kind_asked(session: Session) -> Any:
    return kind_or_404(session, request.values.get("kind_key", ""))


def _form_of(word: str) -> Form:
    """Return what carries the tag; an activity hangs on the room where it is done."""
    return Form.ROOM if word == "activity" else Form(word)


def _areas(session: Session) -> list[Area]:
    return list(session.execute(select(Area).order_by(Area.name)).scalars())


def _drafts(session: Session) -> list[tuple[RiskAssessment, str]]:
    """Return the assessments that can be copied or joined, with the machines they cover."""
    covered: dict[int, list[str]] = {}
    for assessment_id, name in session.execute(
        select(AssessmentMachine.assessment_id, Machine.name)
        .join(Machine, Machine.id == AssessmentMachine.machine_id)
        .order_by(Machine.name)
    ):
        covered.setdefault(assessment_id, []).append(name)
    rows = session.execute(select(RiskAssessment).order_by(RiskAssessment.reference)).scalars()
    return [(row, ", ".join(covered.get(row.id, ["no machine yet"]))) for row in rows]


@bp.post("/machines/new/<start>")
@access(Act.REGISTER_MACHINES)
def add(start: str) -> Response:
    """Put the machine on the register and begin its assessment, both or neither."""
    chosen = _start(start)
    with writing() as session:
        machine = _machine(session)
        if chosen is not Start.NONE:
            insist(Act.WRITE, area_id=machine.area_id)
        draft = _begun(session, chosen, machine)
    flash(f"{machine.name} is on the register. Nobody may use it before its assessment holds.")
    if draft is None:
        return redirect(url_for("clearance.machine", machine_id=machine.id), 303)
    return redirect(url_for("authoring.drafts.edit", draft_id=draft.id), 303)


def _machine(session: Session) -> Machine:
    """Return the machine named in the form, or put it on the register."""
    known = whole_or_none("machine_id")
    if known is not None:
        machine = machine_or_404(session, known)
        insist(Act.REGISTER_MACHINES, area_id=machine.area_id)
        return machine
    area = area_or_404(session, whole("area_id"))
    insist(Act.REGISTER_MACHINES, area_id=area.id)
    return register_machine(
        session,
        area,
        form=choice("form", Form),
        words={field: text(field, most=200) for field in WORDS},
        actor_id=actor().id,
        now=now(),
    )


def _begun(session: Session, start: Start, machine: Machine) -> RiskAssessment | None:
    by: dict[str, Any] = {"actor_id": actor().id, "now": now()}
    if start is Start.NONE:
        return None
    if start is Start.JOIN:
        draft = _original(session)
        insist_on_writing(session, draft.id)
        if session.get(AssessmentMachine, (draft.id, machine.id)) is not None:
            raise BadInput(f"{draft.reference} covers {machine.name} already.", status=422)
        join(session, draft, machine, differences=words("differences"), **by)
        return draft
    machines = {machine.id: words("differences")}
    by |= {
        "reference": text("reference", most=40) or suggest_reference(session, machine.area_id),
        "title": text("title", most=200) or machine.name,
    }
    if start is Start.KIND:
        return draft_from_kind(session, _kind_asked(session).kind, machines, **by)
    if start is Start.COPY:
        return draft_from_copy(session, _original(session), machines, **by)
    return draft_from_nothing(session, machines, **by)


def _original(session: Session) -> RiskAssessment:
    found = session.get(RiskAssessment, whole("original"))
    if found is None:
        raise NotFound("There is no such assessment.")
    return found
