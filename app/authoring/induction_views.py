"""Inductions as they are taught and as they are written, and who may give them."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.authoring import reading as read
from app.authoring.answering import Answer, both_texts, go_on, locks, others_at_it, saved
from app.authoring.locking import Overtaken, Values, claim
from app.authoring.units import require_published
from app.db import stands
from app.errors import NotFound, Refused
from app.forms import whole, whole_or_none
from app.inductions import drafts
from app.inductions.languages import LANGUAGES, language
from app.inductions.markup import blocks, running_text
from app.inductions.models import Induction, InductionDraft, InductionRevision, Inductor
from app.inductions.published import Published, appoint, end_appointment, published
from app.inductions.read_page import Text, original_text
from app.inductions.reading_level import CANNOT_KNOW, ReadingLevel, reading_level
from app.inductions.teaching import MOST_QUESTIONS, MOST_WORDS
from app.inductions.translations import translations_of
from app.inductions.wording import parts_of
from app.parts import now, reading, this_site, writing
from app.people.access import access, actor
from app.people.models import Person
from app.people.rights import Act
from app.people.session import is_fresh
from app.people.signature import insist_on_signature
from app.publishing.reworded import Reworded, reworded

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
    "language": "Written in",
    "questions": "Questions",
    "questions_first": "Answered before a sign-off",
    "refresher_months": "Shorter path: open for months",
    "refresher_content": "Shorter path: what is told",
    "refresher_basis": "Shorter path: rests on",
    "refresher_validity_months": "Shorter path: good for months",
}
SPARE_ITEMS, SPARE_QUESTIONS = 3, 2


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
        items=taught.items,
        text=original_text(taught, parts_of(taught), this_site().language),
        address=_published_addresses(taught),
        level=_level(taught.content, taught.teaching.language),
        first=[published(session, each) for each in taught.requires],
        translations=translations_of(session, taught).values(),
        language=language,
        languages=LANGUAGES.values(),
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
        "language": this_site().language,
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
    teaching = drafts.teaching_of_draft(draft)
    return render_template(
        "authoring/induction_preview.html",
        draft=draft,
        teaching=teaching,
        items=drafts.items_of(draft),
        text=_text_of_draft(draft),
        address=_draft_addresses(draft),
        level=_level(draft.content, draft.language),
        why_not=drafts.why_not_yet(draft),
        touched=_touched(session, draft),
        first=[titles[each] for each in draft.requires if each in titles],
        may_write=actor().may(Act.WRITE),
        may_publish=actor().may(Act.PUBLISH_INDUCTION) and draft.published_at is None,
        ask_password=not is_fresh(actor()),
    )


def _touched(session: Session, draft: InductionDraft) -> Reworded | None:
    """Return whom the next wording touches; None: it is a first one, or published already."""
    if draft.induction_id is None or draft.published_at is not None:
        return None
    return reworded(
        session,
        draft.induction_id,
        requires=draft.requires,
        earlier_counts=draft.earlier_counts,
        supervised_uses=draft.supervised_uses,
        site=this_site(),
        now=now(),
    )


def _published_addresses(taught: Published) -> dict[str, str]:
    """Return where each picture of a published wording is, by its name."""
    return {
        each.name: url_for("reader.picture", picture_id=each.id)
        for each in taught.teaching.pictures
    }


def _draft_addresses(draft: InductionDraft) -> dict[str, str]:
    return {
        each["name"]: url_for(
            "authoring.induction_pictures.picture",
            induction_draft_id=draft.id,
            picture=each["name"],
        )
        for each in draft.pictures
    }


def _text_of_draft(draft: InductionDraft) -> Text:
    return Text(
        language=language(draft.language or this_site().language),
        title=draft.title,
        told=blocks(draft.content),
        refresher=blocks(draft.refresher_content),
        pictures={each["name"]: each["words"] for each in draft.pictures},
    )


def _level(content: str, tag: str | None) -> ReadingLevel | None:
    return reading_level(running_text(content), tag or this_site().language)


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
        spare_questions=min(SPARE_QUESTIONS, MOST_QUESTIONS - len(draft.questions)),
        languages=LANGUAGES.values(),
        level=_level(draft.content, draft.language),
        cannot_know=CANNOT_KNOW,
        address=_draft_addresses(draft),
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
    return {name: getattr(draft, name) for name in TITLES} | {"items": drafts.items_of(draft)}


def _sent() -> Values:
    return {
        "title": read.words("title", most=200),
        "content": read.words("content", most=drafts.MOST_CONTENT),
        "items": [
            {
                "words": row["words"],
                "essential": row["essential"] == "yes",
                "in_refresher": row["in_refresher"] == "yes",
            }
            for row in read.rows("items", ("words", "essential", "in_refresher"))
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
        "language": read.words("language", most=35) or None,
        "questions": _questions_sent(),
        "questions_first": read.yes("questions_first"),
        "refresher_months": whole_or_none("refresher_months"),
        "refresher_content": read.words("refresher_content", most=drafts.MOST_CONTENT),
        "refresher_basis": read.words("refresher_basis", most=300),
        "refresher_validity_months": whole_or_none("refresher_validity_months"),
    }


def _questions_sent() -> list[dict[str, Any]]:
    return [
        {
            "words": row["words"][:MOST_WORDS],
            "answers": [line.strip() for line in row["answers"].split("\n") if line.strip()],
            "leads_to": row["leads_to"],
        }
        for row in read.rows("questions", ("words", "answers", "leads_to"))
        if row["words"]
    ]


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
    level = _level(values["content"], values["language"])
    return go_on(
        done,
        words="Saved.",
        to=there if request.form.get("act") == "look" else here,
        hint=f"To read: {level.words} ({level.number})." if level else "",
    )


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
