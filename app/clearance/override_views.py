"""Overrides in pages: granted at a person and a machine, listed, ended, looked through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance import override_review, overrides
from app.clearance.codes import Code, Reason, Verdict
from app.clearance.decision import Clearance, decide
from app.clearance.facts import Beside, gather, machine_files
from app.clearance.lifting import LIFTABLE
from app.clearance.models import Override
from app.clearance.overview import Line, overview
from app.clearance.wording import words
from app.dates import day_begins, local_date
from app.errors import BadInput, NotFound, Refused
from app.forms import choice, day, text
from app.machines.models import Machine
from app.machines.views import machine_or_404
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor, insist
from app.people.identity import Identity, identities
from app.people.register import person_or_404
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature

bp = Blueprint("overrides", __name__)

# What a code lifts, in the words of a list.
TITLES: dict[Code, str] = {
    Code.INDUCTION_MISSING: "an induction not done",
    Code.INDUCTION_NOT_YET: "an induction not passed yet",
    Code.INDUCTION_EXPIRED: "an induction that ran out",
    Code.INDUCTION_OUTDATED: "an induction that has changed since",
    Code.PREREQUISITE_LAPSED: "an induction that comes first",
    Code.CLOSED_NOW: "use outside the opening hours",
    Code.UNSTAFFED: "use in unstaffed hours",
}


@bp.app_template_global()
def lifts_words(lifts: str) -> str:
    """Say in words what an override lifts; of a code that is lifted no more, the code."""
    try:
        return TITLES[Code(lifts)]
    except (KeyError, ValueError):
        return lifts


@bp.app_template_global()
def overrides_of(person_id: int) -> list[override_review.Granted]:
    """Return a person's overrides for their page, which stands below this folder."""
    return override_review.granted(reading(), actor(), now=now(), person_id=person_id)


# --- granting ------------------------------------------------------------------------------


@bp.get("/people/<int:person_id>/override")
@access(Act.OVERRIDE)
def choose(person_id: int) -> str:
    """Choose the machine: first those where something stands that may be lifted."""
    session, me = reading(), actor()
    person = person_or_404(session, person_id)
    found = overview(session, _identity(session, person_id), now=now(), zone=this_site().tz)
    areas = {m.id: m.area_id for m in session.execute(select(Machine.id, Machine.area_id))}
    mine = [
        Here(line=line, reason=_liftable(line))
        for _, lines in found
        for line in lines
        if me.may(Act.OVERRIDE, area_id=areas[line.id])
    ]
    return render_template(
        "clearance/override_choose.html",
        person=person,
        liftable=[each for each in mine if each.reason],
        others=[each for each in mine if not each.reason],
        may_permit=me.may(Act.PERMIT),
        own=me.id == person_id,
    )


@dataclass(frozen=True, kw_only=True)
class Here:
    """A machine, and what stands against a person there that may be lifted; None: nothing."""

    line: Line
    reason: str | None


def _liftable(line: Line) -> str | None:
    """Where nobody may use the machine, lifting something for one person helps nobody."""
    if line.verdict is Verdict.OUT_OF_USE:
        return None
    found = (r for r in line.reasons if r.code in LIFTABLE)
    return next((words(reason, own=False).sentence for reason in found), None)


def _identity(session: Session, person_id: int) -> Identity:
    person_or_404(session, person_id)
    today = local_date(now(), this_site().tz)
    return identities(session, [person_id], today, at=now())[person_id]


def _decided(session: Session, machine_id: int, person_id: int, zone: ZoneInfo) -> Clearance:
    """Ask the one decision, with the moment, whatever stands against this person here."""
    machine = machine_or_404(session, machine_id)
    insist(Act.OVERRIDE, area_id=machine.area_id)
    person_or_404(session, person_id)
    person = identities(session, [person_id], local_date(now(), zone), at=now())[person_id]
    file = machine_files(session, [machine_id], at=now())[machine_id]
    return decide(gather(session, file, person, now=now(), zone=zone, moment=Beside()))


@bp.get("/machines/<int:machine_id>/people/<int:person_id>/override")
@access(Act.OVERRIDE)
def form(machine_id: int, person_id: int) -> str:
    return _form(machine_id, person_id)


def _form(machine_id: int, person_id: int, problem: str = "") -> str:
    """Show what may be lifted, until when at most, and what stays."""
    session, me, zone = reading(), actor(), this_site().tz
    clearance = _decided(session, machine_id, person_id, zone)
    offers = overrides.offers(session, clearance, me)
    lifted = {offer.code for offer in offers}
    return render_template(
        "clearance/override_form.html",
        person=person_or_404(session, person_id),
        machine=machine_or_404(session, machine_id),
        clearance=clearance,
        name=clearance.verdict.words.replace(" ", "-"),
        offers=offers,
        said={offer.code: _said(offer.reasons) for offer in offers},
        stays=[words(r, own=False) for r in clearance.reasons if r.code not in lifted],
        supervised=Verdict.SUPERVISED,
        today=clearance.facts.today,
        last_day=max((local_date(o.latest, zone) for o in offers), default=clearance.facts.today)
        - timedelta(days=1),
        form=request.form,
        problem=problem,
        own=me.id == person_id,
        ask_password=not is_fresh(me),
    )


def _said(reasons: tuple[Reason, ...]) -> list[str]:
    return [words(reason, own=False).sentence for reason in reasons]


@bp.post("/machines/<int:machine_id>/people/<int:person_id>/override")
@access(Act.OVERRIDE)
def grant(machine_id: int, person_id: int) -> str | tuple[str, int] | Response:
    """Lift one condition. What was typed stays where it was if it is refused."""
    insist_on_signature()
    zone = this_site().tz
    try:
        code, until = choice("code", Code), _until(zone)
        with writing() as session:
            row = overrides.grant(
                session,
                clearance=_decided(session, machine_id, person_id, zone),
                actor=actor(),
                code=code,
                until=until,
                reason=text("reason"),
                now=now(),
            )
    except Refused as refusal:
        if refusal.status in (409, 422):
            return _form(machine_id, person_id, refusal.sentence), refusal.status
        raise
    flash("Recorded, and on the list for the weekly look.")
    return redirect(url_for("overrides.index", _anchor=f"override{row.id}"), 303)


def _until(zone: ZoneInfo) -> datetime:
    """Return the end by the wall clock of the site; without a time, the end of that day."""
    last, at = day("until_on"), text("until_at", most=5)
    if not at:
        return day_begins(last + timedelta(days=1), zone)
    try:
        return datetime.combine(last, time.fromisoformat(at), zone).astimezone(UTC)
    except ValueError:
        raise BadInput(f"“{at}” is not a time of day, such as 17:00.", status=422) from None


# --- the list ------------------------------------------------------------------------------


@bp.get("/overrides")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """List what is lifted now, and what was lately."""
    found = override_review.granted(reading(), actor(), now=now())
    return render_template(
        "clearance/overrides.html",
        standing=[each for each in found if each.stands_at(now())],
        over=[each for each in found if not each.stands_at(now())],
        may_review=actor().may(Act.REVIEW_OVERRIDES),
    )


@bp.post("/overrides/<int:override_id>/end")
@access(Act.OVERRIDE)
def end(override_id: int) -> Response:
    with writing() as session:
        row = session.get(Override, override_id)
        if row is None or row.ends_id is not None:
            raise NotFound("There is no such override.")
        overrides.end(session, row, actor=actor(), now=now())
    flash("Ended.")
    return redirect(url_for("overrides.index"), 303)


@bp.get("/overrides/review")
@access(Act.REVIEW_OVERRIDES)
def waiting() -> str:
    """List what nobody has looked at yet."""
    return render_template(
        "clearance/override_review.html",
        waiting=override_review.waiting(reading(), actor(), now=now()),
    )


@bp.post("/overrides/<int:override_id>/review")
@access(Act.REVIEW_OVERRIDES)
def review(override_id: int) -> Response:
    with writing() as session:
        override_review.review(session, override_id, actor=actor(), words=text("words"), now=now())
    flash("Looked at.")
    return redirect(url_for("overrides.waiting"), 303)
