"""A loan tool: taken out and brought back by its code, with a card that travels with it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.clearance.decision import Verdict
from app.clearance.wording import words
from app.dates import local_date
from app.errors import Forbidden, Refused
from app.forms import day, row_number, text, whole, whole_or_none
from app.machines.models import Area, Form, Machine
from app.machines.tags import tag_of
from app.parts import now, parts, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.models import Person
from app.people.rights import Act
from app.presence.loans import (
    Back,
    Terms,
    bring_back,
    evidence_of,
    lend,
    loan_of,
    loan_or_404,
    return_of,
    vibration_of,
)
from app.presence.models import Loan
from app.presence.wall import instant
from app.scan.scanned import Scanned, person_or_404, scanned

bp = Blueprint("loans", __name__)


def _asked(session: Session, code: str, person_id: int) -> Scanned:
    """Return a tool decided for whoever takes it out, by whoever may let it out to them."""
    found = scanned(session, code, person_or_404(session, person_id))
    if person_id != actor().id:
        insist(Act.LEND, area_id=found.machine.area_id)
    return found


@bp.get("/m/<code>/loan")
@access(SIGNED_IN)
def form(code: str) -> str:
    """Ask in which condition a tool goes out, where to and until when."""
    session, person_id = reading(), row_number("person") or actor().id
    found = _asked(session, code, person_id)
    check_ids = [check.id for check in found.file.facts.checks]
    person = found.clearance.facts.person
    return render_template(
        "scan/loan_out.html",
        code=found.code,
        machine=found.machine,
        person=person,
        own=person_id == actor().id,
        is_tool=found.machine.form is Form.LOAN_TOOL,
        may=found.clearance.verdict is Verdict.CLEARED and found.besides.loan is None,
        why=[words(reason, own=person_id == actor().id) for reason in found.clearance.reasons],
        evidence=evidence_of(session, found.machine.id, check_ids, zone=this_site().tz),
        vibration=vibration_of(session, found.machine.id),
        asked=found.asked(),
        today=local_date(now(), this_site().tz),
    )


@bp.post("/m/<code>/loan")
@access(SIGNED_IN)
def take(code: str) -> Response:
    """Let a tool out. Only somebody who is cleared takes it out of sight."""
    with writing() as session:
        person_id = whole("person_id")
        found = _asked(session, code, person_id)
        machine = session.get_one(Machine, found.machine.id)
        out = loan_of(session, machine.id, at=now())
        if out is None or out.person_id != person_id:
            _insist_on_loan(found)
        loan = lend(
            session,
            machine,
            person_id=person_id,
            terms=Terms(
                condition=text("condition", most=500),
                accessories=text("accessories", most=500),
                place=text("place", most=200),
                due_at=instant(day("due_on"), text("due_time", most=5), parts().site(session).tz),
            ),
            check_ids=[check.id for check in found.file.facts.checks],
            zone=parts().site(session).tz,
            actor_id=actor().id,
            now=now(),
        )
    flash(f"{machine.name} is out. Its card goes with it: show it to whoever asks.")
    return redirect(url_for("loans.card", loan_id=loan.id), 303)


def _insist_on_loan(found: Scanned) -> None:
    if found.machine.form is not Form.LOAN_TOOL:
        raise Refused("This is used where it stands, and is no loan tool.", code="no-loan-tool")
    clearance = found.clearance
    if clearance.verdict is Verdict.SUPERVISED:
        raise Forbidden(
            "Not let out. A tool that leaves is out of a supervisor’s sight. Nothing was recorded."
        )
    if clearance.verdict is not Verdict.CLEARED:
        raise Forbidden(
            f"Not let out. {words(clearance.reasons[0]).sentence} Nothing was recorded."
        )


def _loan(session: Session, loan_id: int) -> tuple[Loan, Machine]:
    """Return a loan that whoever asks may handle: their own, or of an area they lend from."""
    loan = loan_or_404(session, loan_id)
    machine = session.get_one(Machine, loan.machine_id)
    me = actor()
    if me.id != loan.person_id and not me.may(Act.LEND, area_id=machine.area_id):
        raise Forbidden("That is the loan of somebody else.")
    return loan, machine


@bp.get("/loans/<int:loan_id>")
@access(SIGNED_IN)
def card(loan_id: int) -> str:
    """Show the card of a loan, to be printed or shown, and the way back."""
    session = reading()
    loan, machine = _loan(session, loan_id)
    return render_template(
        "scan/loan.html",
        loan=loan,
        machine=machine,
        area=session.get_one(Area, machine.area_id),
        person=session.get_one(Person, loan.person_id),
        lender=session.get_one(Person, loan.recorded_by_id),
        back=return_of(session, loan),
        code=tag_of(session, machine.id),
        own=loan.person_id == actor().id,
        late=loan.due_at < now(),
    )


@bp.post("/loans/<int:loan_id>/back")
@access(SIGNED_IN)
def back(loan_id: int) -> Response:
    """Bring a tool back. A defect takes it out of use for everybody."""
    with writing() as session:
        loan, machine = _loan(session, loan_id)
        row = bring_back(
            session,
            loan,
            Back(
                condition=text("condition", most=500),
                accessories=text("accessories", most=500),
                minutes=whole_or_none("minutes"),
                defect=text("defect", most=3) == "yes",
            ),
            actor_id=actor().id,
            now=now(),
        )
    if row is None:
        flash("It was brought back already.")
    elif row.defect:
        flash(f"{machine.name} is back and out of use for everybody. Tag it; tell a technician.")
    else:
        flash(f"{machine.name} is back. Thank you.")
    return redirect(url_for("loans.card", loan_id=loan_id), 303)
