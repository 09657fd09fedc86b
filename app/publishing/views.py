"""Assessments as a list, one revision as a page, and the approver's decision on it."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.dates import local_date
from app.errors import BadInput, NotFound
from app.forms import row_number, text
from app.machines.models import Area
from app.parts import now, reading, this_site, writing
from app.people.access import SIGNED_IN, access, actor, insist
from app.people.models import Person
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from app.publishing.affected import Affected, affected
from app.publishing.coming import ground_of
from app.risk_assessments import approval
from app.risk_assessments.difference import Difference, difference
from app.risk_assessments.drafts import draft_or_404
from app.risk_assessments.material import why_material_of
from app.risk_assessments.models import Fate, Review, Revision, RiskAssessment
from app.risk_assessments.reviews import close_review, open_reviews
from app.risk_assessments.search import Asked, State, find
from assessments.document.frozen import thaw

# Here and not beside the assessments: whom a revision touches is known only to the clearance.
bp = Blueprint("risk_assessments", __name__)

MOST_WORDS = 100  # characters in the field to search by
SHOWN = 12  # people named on the page of a revision; the rest stand in a list of their own


# --- the list ------------------------------------------------------------------------------


@bp.get("/assessments")
@access(SIGNED_IN)
def index() -> str:
    """List assessments, by what was asked; superseded revisions hang on their successors."""
    session, me = reading(), actor()
    asked = Asked(
        words=request.args.get("q", "")[:MOST_WORDS].replace("\x00", " ").strip(),
        area_id=row_number("area"),
        state=_state(request.args.get("state", "")),
        kind=request.args.get("kind", "")[:200],
    )
    lines, kinds = find(
        session,
        asked,
        at=now(),
        today=local_date(now(), this_site().tz),
        drafts=_sees_drafts(),
    )
    return render_template(
        "risk_assessments/index.html",
        lines=lines,
        asked=asked,
        kinds=kinds,
        areas=session.execute(select(Area.id, Area.name).order_by(Area.name)).all(),
        states=[each for each in State if each is not State.DRAFT or _sees_drafts()],
        may_write=me.may(Act.WRITE),
    )


def _sees_drafts() -> bool:
    return any(actor().may(act) for act in (Act.WRITE, Act.APPROVE, Act.READ_ALL))


def _state(word: str) -> State | None:
    try:
        return State(word) if word else None
    except ValueError:
        raise BadInput("That is no state of an assessment.", status=422) from None


# --- one revision --------------------------------------------------------------------------


def revision_or_404(session: Session, reference: str, number: int) -> Revision:
    row = session.execute(
        select(Revision)
        .join(RiskAssessment, RiskAssessment.id == Revision.assessment_id)
        .where(RiskAssessment.reference == reference, Revision.number == number)
    ).scalar_one_or_none()
    if row is None:
        raise NotFound("There is no such assessment revision.")
    return row


@dataclass(frozen=True, kw_only=True)
class Question:
    """What an approver is asked about a submitted revision, with what comes of each answer."""

    why_material: list[str]  # the program's own reasons; none: the approver decides
    material: Affected
    not_material: Affected | None  # None: there is no such answer
    machine_names: dict[int, str]


@bp.get("/assessments/<reference>/<int:number>")
@access(SIGNED_IN)
def revision(reference: str, number: int) -> str:
    session, me = reading(), actor()
    row = revision_or_404(session, reference, number)
    happened = [
        (fate, session.get_one(Person, fate.recorded_by_id).name)
        for fate in approval.fates(session, row.id)
    ]
    own = row.prepared_by_id == me.id and not this_site().one_person_may_approve
    mine = _decides(session, row)
    may_decide = mine and not own and not happened
    before = _before(session, row)
    return render_template(
        "risk_assessments/revision.html",
        revision=row,
        content=thaw(row.content),
        happened=happened,
        before=before,
        difference=_told_apart(before, row) if before is not None and not happened else None,
        others=_numbers(session, row.assessment_id),
        reviews=open_reviews(session, row.assessment_id),
        own=own and mine and not happened,
        may_decide=may_decide,
        question=_question(session, row) if may_decide else None,
        shown=SHOWN,
        may_withdraw=mine and [f.fate for f, _ in happened] == [Fate.APPROVED],
        ask_password=not is_fresh(me),
    )


def _decides(session: Session, row: Revision) -> bool:
    areas = approval.areas_covered(session, row.id)
    return actor().may(Act.APPROVE) and all(
        actor().may(Act.APPROVE, area_id=each) for each in areas
    )


def _question(session: Session, row: Revision) -> Question:
    ground = ground_of(session, row, site=this_site(), now=now())
    why = why_material_of(session, row)
    return Question(
        why_material=why,
        material=affected(ground, material=True),
        not_material=None if why else affected(ground, material=False),
        machine_names={machine_id: facts.name for machine_id, facts in ground.before.items()},
    )


@bp.get("/assessments/<reference>/<int:number>/affected")
@access(Act.SEE_PEOPLE)
def who_is_affected(reference: str, number: int) -> str | Response:
    """List by name whom a submitted revision touches once it is in force."""
    session = reading()
    row = revision_or_404(session, reference, number)
    if approval.fates(session, row.id):  # decided on: the question is over
        there = url_for("risk_assessments.revision", reference=reference, number=number)
        return redirect(there, 303)
    ground = ground_of(session, row, site=this_site(), now=now())
    material = request.args.get("material", "yes") != "no"
    return render_template(
        "risk_assessments/affected.html",
        revision=row,
        reference=reference,
        material=material,
        found=affected(ground, material=material),
        machine_names={machine_id: facts.name for machine_id, facts in ground.before.items()},
    )


# --- differences ---------------------------------------------------------------------------


def _numbers(session: Session, assessment_id: int) -> list[int]:
    return list(
        session.execute(
            select(Revision.number)
            .where(Revision.assessment_id == assessment_id)
            .order_by(Revision.number)
        ).scalars()
    )


def _before(session: Session, row: Revision) -> Revision | None:
    """Return the newest approved revision before this one: what people know."""
    rows = session.execute(
        select(Revision)
        .where(Revision.assessment_id == row.assessment_id, Revision.number < row.number)
        .order_by(Revision.number.desc())
    ).scalars()
    return next((each for each in rows if _was_approved(session, each)), None)


def _was_approved(session: Session, row: Revision) -> bool:
    return any(fate.fate is Fate.APPROVED for fate in approval.fates(session, row.id))


def _told_apart(old: Revision, new: Revision) -> Difference:
    return difference(thaw(old.content), thaw(new.content))


@bp.get("/assessments/<reference>/difference")
@access(SIGNED_IN)
def differences(reference: str) -> str:
    """Show what differs between two revisions: without a choice, between the last two."""
    session = reading()
    assessment = draft_or_404(session, reference)
    numbers = _numbers(session, assessment.id)
    if not numbers:
        raise NotFound("No revision of this assessment has been submitted yet.")
    new = row_number("to") or numbers[-1]
    old = row_number("from") or max((n for n in numbers if n < new), default=new)
    before, after = (revision_or_404(session, reference, number) for number in (old, new))
    return render_template(
        "risk_assessments/difference.html",
        assessment=assessment,
        before=before,
        after=after,
        numbers=numbers,
        note=thaw(after.content).change_note,
        difference=_told_apart(before, after),
    )


# --- the decision --------------------------------------------------------------------------


@bp.post("/assessments/<reference>/<int:number>/decide")
@access(Act.APPROVE)
def decide(reference: str, number: int) -> Response:
    """Approve, return or withdraw, with the password as the signature."""
    me, act = actor(), request.form.get("act", "")
    insist_on_signature()
    with writing() as session:
        row = revision_or_404(session, reference, number)
        for area_id in approval.areas_covered(session, row.id):
            insist(Act.APPROVE, area_id=area_id)
        note = text("note")
        if act == "approve":
            number = _approve(session, row, note)
        elif act == "return":
            approval.give_back(session, row, actor_id=me.id, note=note, now=now())
            flash("Given back to its author with your note. Nothing changes at the machines.")
        elif act == "withdraw":
            approval.withdraw(session, row, actor_id=me.id, note=note, now=now())
            flash("Withdrawn. Its machines are out of use for everybody from now on.")
        else:
            raise NotFound("That cannot be decided here.")
    return redirect(url_for("risk_assessments.revision", reference=reference, number=number), 303)


def _approve(session: Session, row: Revision, note: str) -> int:
    """Put it in force and close the reviews that it answers; return the number in force."""
    fate = approval.approve(
        session,
        row,
        actor_id=actor().id,
        site=this_site(),
        note=note,
        now=now(),
        material=_material(row),
    )
    number = session.get_one(Revision, fate.revision_id).number
    for review in _answered(session, row):
        close_review(session, review, outcome=f"Revision {number}.", actor_id=actor().id, now=now())
    flash("In force. It holds at the machines from now on.")
    if number != row.number:
        flash(f"Your answer stands in the document: the same wording is revision {number}.")
    return number


def _material(row: Revision) -> bool:
    answer = request.form.get("material", "")
    if answer not in ("yes", "no"):
        raise BadInput(
            "Say whether the change is material: whether people must be briefed again.", status=422
        )
    return answer == "yes"


def _answered(session: Session, row: Revision) -> list[Review]:
    """Return the open reviews of this assessment that the approver ticked as answered by it."""
    ticked = set(request.form.getlist("answers"))
    return [each for each in open_reviews(session, row.assessment_id) if str(each.id) in ticked]
