"""Inductions as they are taught and as they are written, and who may give them."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from werkzeug.wrappers import Response

from app.authoring import reading as read
from app.authoring.answering import Answer, both_texts, go_on, locks, others_at_it, saved
from app.authoring.locking import Overtaken, Values, claim
from app.authoring.units import require_published
from app.db import stands
from app.errors import NotFound, Refused
from app.forms import whole, whole_or_none
from app.inductions import drafts
from app.inductions.models import Induction, InductionDraft, InductionRevision, Inductor
from app.inductions.published import appoint, end_appointment, published
from app.parts import now, reading, writing
from app.people.access import access, actor
from app.people.models import Person
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature

bp = Blueprint("inductions", __name__)

TITLES = {
    "title": "Title",
    "content": "What is told",
    "items": "What is seen done",
    "requires": "What comes first",
    "validity_months": "Good for months",
    "validity_basis": "The months rest on",
    "group_size": "People taught at once",
    "supervised_uses": "Watched uses before working alone",
    "earlier_counts": "Earlier sign-offs still count",
}
SPARE_ITEMS = 3


@bp.get("/inductions")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """List what is taught, and what is written."""
    session = reading()
    taught = session.execute(
        select(Induction)
        .where(
            select(InductionRevision.id)
            .where(InductionRevision.induction_id == Induction.id)
            .exists()
        )
        .order_by(Induction.title)
    ).scalars()
    return render_template(
        "authoring/inductions.html",
        taught=[published(session, each.id) for each in taught],
        drafts=drafts.open_drafts(session),
        may_write=actor().may(Act.WRITE),
    )


@bp.get("/inductions/<int:induction_id>")
@access(Act.SEE_PEOPLE)
def induction(induction_id: int) -> str:
    """Show an induction as it is taught now, and who may give it."""
    session = reading()
    taught = published(session, induction_id)
    inductors = [
        (row, person)
        for row, person in session.execute(
            select(Inductor, Person)
            .join(Person, Person.id == Inductor.person_id)
            .where(Inductor.induction_id == induction_id, stands(Inductor))
            .order_by(Person.name)
        )
    ]
    return render_template(
        "authoring/induction.html",
        taught=taught,
        first=[published(session, each) for each in taught.requires],
        inductors=inductors,
        people=session.execute(select(Person).order_by(Person.name)).scalars().all(),
        named={person.id for _, person in inductors},
        may_write=actor().may(Act.WRITE),
        may_appoint=actor().may(Act.PUBLISH_INDUCTION),
    )


@bp.post("/inductions/new")
@access(Act.WRITE)
def begin() -> Response:
    """Begin an induction from nothing but its title."""
    with writing() as session:
        draft = InductionDraft(
            title="", content="", items=[], requires=[], validity_basis="", edited_at=now()
        )
        drafts.change(session, draft, _empty() | {"title": read.words("title", most=200)})
        draft.edited_by_id = actor().id
        session.add(draft)
        drafts.log_draft(session, draft, "begin", actor_id=actor().id, now=now())
    return redirect(url_for("authoring.inductions.edit", induction_draft_id=draft.id), 303)


def _empty() -> dict[str, Any]:
    return {
        "content": "",
        "items": [],
        "requires": [],
        "validity_months": None,
        "validity_basis": "",
        "group_size": None,
        "supervised_uses": 0,
        "earlier_counts": True,
    }


@bp.post("/inductions/<int:induction_id>/next")
@access(Act.WRITE)
def begin_next(induction_id: int) -> Response:
    """Begin the next wording of an induction."""
    with writing() as session:
        draft = drafts.begin_next(session, induction_id, actor_id=actor().id, now=now())
    return redirect(url_for("authoring.inductions.edit", induction_draft_id=draft.id), 303)


@bp.get("/inductions/drafts/<int:induction_draft_id>")
@access(Act.SEE_PEOPLE)
def preview(induction_draft_id: int) -> str:
    """Show a draft as it would be taught, and let those who may publish it."""
    session = reading()
    draft = drafts.draft_or_404(session, induction_draft_id)
    titles = dict(session.execute(select(Induction.id, Induction.title)).all())
    return render_template(
        "authoring/induction_preview.html",
        draft=draft,
        first=[titles[each] for each in draft.requires if each in titles],
        may_write=actor().may(Act.WRITE),
        may_publish=actor().may(Act.PUBLISH_INDUCTION) and draft.published_at is None,
        ask_password=not is_fresh(actor()),
    )


@bp.get("/inductions/drafts/<int:induction_draft_id>/edit")
@access(Act.WRITE)
def edit(induction_draft_id: int) -> str:
    """Show the form of a draft."""
    session = reading()
    draft = drafts.draft_or_404(session, induction_draft_id)
    drafts.insist_on_open(draft)
    values = _shown(draft)
    return render_template(
        "authoring/induction_form.html",
        draft=draft,
        values=values,
        locks=locks(draft, values),
        spare=SPARE_ITEMS,
        others=others_at_it(session, [draft]),
        inductions=session.execute(
            select(Induction).where(Induction.id != draft.induction_id).order_by(Induction.title)
            if draft.induction_id
            else select(Induction).order_by(Induction.title)
        )
        .scalars()
        .all(),
    )


def _shown(draft: InductionDraft) -> Values:
    return {name: getattr(draft, name) for name in TITLES}


def _sent() -> Values:
    return {
        "title": read.words("title", most=200),
        "content": read.words("content", most=drafts.MOST_CONTENT),
        "items": [
            {"words": row["words"], "essential": row["essential"] == "yes"}
            for row in read.rows("items", ("words", "essential"))
            if row["words"]
        ],
        "requires": sorted(
            int(each) for each in request.form.getlist("requires") if each.isdecimal()
        ),
        "validity_months": whole_or_none("validity_months"),
        "validity_basis": read.words("validity_basis", most=300),
        "group_size": whole_or_none("group_size"),
        "supervised_uses": whole_or_none("supervised_uses") or 0,
        "earlier_counts": read.yes("earlier_counts"),
    }


@bp.post("/inductions/drafts/<int:induction_draft_id>/edit")
@access(Act.WRITE)
def save(induction_draft_id: int) -> Answer:
    """Save a draft."""
    values = _sent()
    here = url_for("authoring.inductions.edit", induction_draft_id=induction_draft_id)
    try:
        with writing() as session:
            draft = drafts.draft_or_404(session, induction_draft_id)
            drafts.insist_on_open(draft)
            claim(draft, _shown(draft), values, read.seen(), actor_id=actor().id, now=now())
            drafts.change(session, draft, values)
            drafts.log_draft(session, draft, "save", actor_id=actor().id, now=now())
            done = saved(draft, _shown(draft))
    except Overtaken as overtaken:
        session = reading()
        draft = drafts.draft_or_404(session, induction_draft_id)
        return both_texts(session, overtaken, TITLES, draft, back=here)
    there = url_for("authoring.inductions.preview", induction_draft_id=induction_draft_id)
    return go_on(done, words="Saved.", to=there if request.form.get("act") == "look" else here)


@bp.post("/inductions/drafts/<int:induction_draft_id>/publish")
@access(Act.PUBLISH_INDUCTION)
def publish(induction_draft_id: int) -> Response:
    """Publish a draft, with the password as the signature; assessments that waited ask for it."""
    insist_on_signature()
    with writing() as session:
        draft = drafts.draft_or_404(session, induction_draft_id)
        if whole("version") != draft.version:
            raise Refused(
                "The draft was changed since you looked at it, and was not published. Look again.",
                code="overtaken",
            )
        found = drafts.publish_draft(session, draft, actor_id=actor().id, now=now())
        waited = require_published(session, draft.id, found.id, actor_id=actor().id, now=now())
    flash(f"“{found.title}” is published. Name who may give it.")
    if waited:
        flash(f"The draft of {' and of '.join(waited)} asks for it now.")
    return redirect(url_for("authoring.inductions.induction", induction_id=found.id), 303)


@bp.post("/inductions/<int:induction_id>/inductors")
@access(Act.PUBLISH_INDUCTION)
def name_inductor(induction_id: int) -> Response:
    """Name a person, in writing, who may give and sign an induction."""
    with writing() as session:
        published(session, induction_id)
        person = session.get(Person, whole("person_id"))
        if person is None:
            raise NotFound("There is no such person.")
        known = session.execute(
            select(Inductor.id).where(
                Inductor.person_id == person.id,
                Inductor.induction_id == induction_id,
                stands(Inductor),
            )
        ).first()
        if known is None:
            appoint(
                session,
                person_id=person.id,
                induction_id=induction_id,
                actor_id=actor().id,
                now=now(),
            )
    flash(f"{person.name} may give it, while current in it.")
    return redirect(url_for("authoring.inductions.induction", induction_id=induction_id), 303)


@bp.post("/inductions/<int:induction_id>/inductors/<int:inductor_id>/end")
@access(Act.PUBLISH_INDUCTION)
def end_inductor(induction_id: int, inductor_id: int) -> Response:
    """Take the right to give an induction back."""
    with writing() as session:
        end_appointment(
            session,
            inductor_id=inductor_id,
            induction_id=induction_id,
            actor_id=actor().id,
            now=now(),
        )
    flash("That appointment has ended. What was signed before stands.")
    return redirect(url_for("authoring.inductions.induction", induction_id=induction_id), 303)
