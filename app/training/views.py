"""The technician's phone: a person's file, the checklist, the acknowledgement."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.db import AnyRow
from app.errors import BadInput, Forbidden, NotFound, Refused
from app.forms import choice, day, row_number, text, whole
from app.inductions.catalogue import Entry
from app.inductions.published import published
from app.inductions.questions import questions_wanting
from app.inductions.reads_in import reads_in
from app.inductions.refresher import Path
from app.parts import now, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor
from app.people.identity import identities
from app.people.models import Person
from app.people.register import person_or_404
from app.people.rights import Act
from app.people.session import is_fresh, on_shared_device
from app.people.signature import insist_on_signature
from app.people.signature import signed as signed_by_me
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision
from app.training.acknowledgement import acknowledge as record_acknowledgement
from app.training.acknowledgement import outstanding
from app.training.changed import changed_since
from app.training.competence import accept_outside_competence
from app.training.competence import revoke as revoke_standing
from app.training.models import SignOff, SignOffPaper, TrainingRecord, Way
from app.training.person_page import file_of, papers_of
from app.training.signing import SigningFacts, signing_facts, why_not
from app.training.signoff import Ticks
from app.training.signoff import sign_off as record_sign_off
from app.training.standing import Result, State
from assessments.document.content import RiskAssessment
from assessments.document.frozen import thaw

bp = Blueprint("training", __name__)

SIGNABLE = (Result.ALONE, Result.SUPERVISED, Result.NOT_YET)


@dataclass(frozen=True, kw_only=True)
class InductionLine:
    """One induction in a person's file, and whether the one who looks may sign it."""

    id: int
    title: str
    state: State
    latest: AnyRow | None  # the newest record
    why_not: str | None


@bp.get("/people/<int:person_id>")
@access(Act.SEE_PEOPLE)
def person(person_id: int) -> str:
    session, me = reading(), actor()
    found = person_or_404(session, person_id)
    today = local_date(now(), this_site().tz)
    facts = signing_facts(session, me, person_id, now=now(), zone=this_site().tz)
    file = file_of(session, found, me, today=today, now=now())
    entries = sorted(facts.taught.values(), key=lambda entry: entry.title)
    return render_template(
        "training/person.html",
        person=found,
        identity=identities(session, [person_id], today)[person_id],
        today=today,
        lines=[_line(facts, entry) for entry in entries],
        papers=papers_of(session, person_id),
        file=file,
        may_mark_at=file.places.where_may(me, Act.MARK),
        may_suspend_at=file.places.where_may(me, Act.SUSPEND),
        outstanding=_unread(session, person_id),
        may_witness=me.may(Act.WITNESS) and me.id != person_id,
        may_suspend=me.may(Act.SUSPEND) and me.id != person_id,
        may_mark=me.may(Act.MARK),
        may_take_back=me.may(Act.ISSUE_EQUIPMENT),
        may_issue=me.may(Act.ISSUE_EQUIPMENT)
        and (me.id != person_id or this_site().one_person_may_approve),
        may_let_in=me.may(Act.OVERRIDE) and me.id != person_id,
        own=me.id == person_id,
        may_accept=me.may(Act.ACCEPT_COMPETENCE)
        and (me.id != person_id or this_site().one_person_may_approve),
        ask_password=not is_fresh(me),
    )


def _line(facts: SigningFacts, entry: Entry) -> InductionLine:
    return InductionLine(
        id=entry.id,
        title=entry.title,
        state=facts.state(facts.person_id, entry.id),
        latest=facts.latest.get(entry.id),
        why_not=why_not(facts, entry.id),
    )


@dataclass(frozen=True, kw_only=True)
class Unread:
    """An assessment in force that the person has still to acknowledge."""

    revision_id: int
    reference: str
    title: str
    number: int


def _unread(session: Session, person_id: int) -> list[Unread]:
    rows = outstanding(session, person_id, at=now())
    return [_named(row.id, thaw(row.content)) for row in rows]


def _named(revision_id: int, content: RiskAssessment) -> Unread:
    return Unread(
        revision_id=revision_id,
        reference=content.reference,
        title=content.title,
        number=content.number,
    )


# --- the checklist -----------------------------------------------------------------------


@bp.get("/people/<int:person_id>/inductions/<int:induction_id>")
@access(Act.SIGN_OFF)
def checklist(person_id: int, induction_id: int) -> str:
    return _checklist(person_id, induction_id)


def _checklist(person_id: int, induction_id: int, *, problem: str = "") -> str:
    """Show the items to tick; after a refusal, with the ticks as they were sent."""
    session = reading()
    found = person_or_404(session, person_id)
    taught = published(session, induction_id)
    facts = signing_facts(
        session, actor(), person_id, [induction_id], now=now(), zone=this_site().tz
    )
    reason = why_not(facts, induction_id)
    if reason is not None:
        raise Forbidden(reason)
    path = _path_asked(facts.path_open(taught))
    return render_template(
        "training/checklist.html",
        person=found,
        taught=taught,
        path=path,
        items=taught.items_on(path),
        reads=reads_in(taught),
        path_open=facts.path_open(taught),
        questions_wanting=questions_wanting(session, taught, person_id),
        results=SIGNABLE,
        seen_record_id=facts.latest_id(induction_id),
        latest=facts.latest.get(induction_id),
        ticked=set(request.form.getlist("item")),
        chosen=request.form.get("result", ""),
        note=request.form.get("note", ""),
        key=request.form.get("key"),
        problem=problem,
        ask_password=not is_fresh(actor()),
    )


def _path_asked(open_to_them: Path) -> Path:
    """Return the path that the page shows: the shorter one where it is open, unless the full
    one is asked for."""
    asked = request.form.get("path") or request.args.get("path")
    return Path.FULL if asked == Path.FULL.value else open_to_them


@bp.post("/people/<int:person_id>/inductions/<int:induction_id>")
@access(Act.SIGN_OFF)
def sign_off(person_id: int, induction_id: int) -> str | tuple[str, int] | Response:
    """Record the sign-off; the scan answers differently from this moment on."""
    ticks = Ticks(
        key=text("key", most=64),
        seen_record_id=whole("seen_record_id"),
        observed=_ticked(),
        result=choice("result", Result),
        note=text("note"),
        path=choice("path", Path) if "path" in request.form else Path.FULL,
    )
    if len(ticks.key) < 16:
        raise BadInput("This form has no key. Open the page again.")
    try:
        if not signed_by_me():
            raise Refused(
                "That is not your password. Nothing was recorded; your ticks are kept.",
                code="password",
                status=403,
            )
        with writing() as session:
            person_or_404(session, person_id)
            sign_off_id = record_sign_off(
                session,
                actor=actor(),
                person_id=person_id,
                taught=published(session, induction_id),
                ticks=ticks,
                now=now(),
                zone=this_site().tz,
            )
    except Refused as refusal:
        if (
            refusal.status in (409, 422, 429) or refusal.code == "password"
        ):  # the ticks stay where they were
            return _checklist(person_id, induction_id, problem=refusal.sentence), refusal.status
        raise
    return redirect(url_for("training.signed", sign_off_id=sign_off_id), 303)


def _ticked() -> frozenset[int]:
    values = request.form.getlist("item")
    if len(values) > 100 or not all(v.isascii() and v.isdigit() and len(v) < 19 for v in values):
        raise BadInput("The ticked items cannot be read. Open the page again.")
    return frozenset(map(int, values))


@bp.get("/sign-offs/<int:sign_off_id>")
@access(Act.SEE_PEOPLE)
def signed(sign_off_id: int) -> str:
    """Show what was recorded, and what the person still has to do."""
    session = reading()
    row = session.get(SignOff, sign_off_id)
    if row is None:
        raise NotFound("There is no such sign-off.")
    record = session.execute(
        select(TrainingRecord).where(TrainingRecord.sign_off_id == row.id)
    ).scalar_one()
    return render_template(
        "training/signed.html",
        row=row,
        record=record,
        person=person_or_404(session, row.person_id),
        saw=session.get_one(Person, row.technician_id).name,
        typed=session.get_one(Person, record.recorded_by_id).name,
        sheet=session.execute(
            select(SignOffPaper.sheet).where(SignOffPaper.sign_off_id == row.id)
        ).scalar_one_or_none(),
        taught=published(session, record.induction_id),
        outstanding=_unread(session, row.person_id),
        may_witness=actor().may(Act.WITNESS) and actor().id != row.person_id,
    )


# --- the acknowledgement -----------------------------------------------------------------


@bp.get("/acknowledge/<int:revision_id>")
@access(SIGNED_IN)
def acknowledge(revision_id: int) -> str:
    """Show what an assessment says, to be read and followed."""
    row = (
        reading()
        .execute(select(Revision).where(Revision.id == revision_id, in_force(now())))
        .scalar_one_or_none()
    )
    if row is None:
        raise NotFound("That assessment revision is not in force.")
    me, other = actor(), _other_person()
    return render_template(
        "training/acknowledge.html",
        revision=row,
        content=thaw(row.content),
        changed=changed_since(reading(), other.id if other is not None else me.id, row),
        other=other,
        ask_password=not is_fresh(me),
        done=revision_id not in {r.id for r in outstanding(reading(), me.id, at=now())},
    )


def _other_person() -> Person | None:
    """Return whom a technician goes through the assessment with, face to face."""
    asked = row_number("for")
    if asked is None or not actor().may(Act.WITNESS):
        return None
    return person_or_404(reading(), asked)


@bp.post("/acknowledge/<int:revision_id>")
@access(SIGNED_IN)
def acknowledge_now(revision_id: int) -> Response:
    """Record a person's own acknowledgement, or one that a technician witnesses."""
    me = actor()
    person_id = whole("person_id") if "person_id" in request.form else me.id
    if person_id != me.id:
        insist_on_signature()
    with writing() as session:
        person_or_404(session, person_id)
        row = record_acknowledgement(
            session,
            actor=me,
            person_id=person_id,
            revision_id=revision_id,
            now=now(),
            shared=on_shared_device(),
        )
    if row.way is Way.FACE_TO_FACE:
        flash("Acknowledged face to face, with you as the witness.")
        return redirect(url_for("training.person", person_id=person_id), 303)
    flash("Acknowledged. Scan the machine again.")
    return redirect(url_for("clearance.mine"), 303)


# --- outside competence, revocation --------------------------------------------------------


@bp.post("/people/<int:person_id>/competence")
@access(Act.ACCEPT_COMPETENCE)
def accept_competence(person_id: int) -> Response:
    insist_on_signature()
    with writing() as session:
        person_or_404(session, person_id)
        accept_outside_competence(
            session,
            actor=actor(),
            person_id=person_id,
            taught=published(session, whole("induction_id")),
            evidence=text("evidence"),
            shown_on=day("shown_on"),
            self_allowed=this_site().one_person_may_approve,
            now=now(),
            zone=this_site().tz,
        )
    flash("Outside competence accepted; it is recorded as such.")
    return redirect(url_for("training.person", person_id=person_id), 303)


@bp.post("/people/<int:person_id>/inductions/<int:induction_id>/revoke")
@access(Act.SUSPEND)
def revoke(person_id: int, induction_id: int) -> Response:
    insist_on_signature()
    with writing() as session:
        person_or_404(session, person_id)
        revoke_standing(
            session,
            actor=actor(),
            person_id=person_id,
            taught=published(session, induction_id),
            reason=text("reason"),
            now=now(),
        )
    flash("Revoked. The person is watched again before it returns.")
    return redirect(url_for("training.person", person_id=person_id), 303)
