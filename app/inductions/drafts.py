"""An induction while it is written: checked when saved, frozen when published."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import NotFound, Refused
from app.inductions.models import Induction, InductionDraft
from app.inductions.published import publish, published
from app.inductions.teaching import (
    MOST_QUESTIONS,
    MOST_WORDS,
    Picture,
    Question,
    Refresher,
    Teaching,
    insist_on_teaching,
)

MOST_ITEMS = 30
MOST_CONTENT = 12_000
MONTHS = range(1, 121)
GROUP = range(1, 41)
MOST_SUPERVISED_USES = 20


def draft_or_404(session: Session, draft_id: int) -> InductionDraft:
    found = session.get(InductionDraft, draft_id)
    if found is None:
        raise NotFound("There is no such draft of an induction.")
    return found


def insist_on_open(draft: InductionDraft) -> None:
    """Refuse to change what was published: the next change is the next draft."""
    if draft.published_at is not None:
        raise Refused("This draft was published. Begin the next wording.", code="published")


def open_drafts(session: Session) -> list[InductionDraft]:
    """Return the drafts that are still written, by title."""
    return list(
        session.execute(
            select(InductionDraft)
            .where(InductionDraft.published_at.is_(None))
            .order_by(InductionDraft.title, InductionDraft.id)
        ).scalars()
    )


def begin_next(
    session: Session, induction_id: int, *, actor_id: int, now: datetime
) -> InductionDraft:
    """Begin the next wording of an induction from the one that is taught now."""
    taught = published(session, induction_id)
    teaching, short = taught.teaching, taught.teaching.refresher
    draft = InductionDraft(
        induction_id=induction_id,
        title=taught.title,
        content=taught.content,
        items=[
            {
                "words": item.words,
                "essential": item.essential,
                "in_refresher": item.in_refresher,
            }
            for item in taught.items
        ],
        requires=list(taught.requires),
        validity_months=taught.validity_months,
        validity_basis=taught.validity_basis,
        group_size=taught.group_size,
        supervised_uses=taught.supervised_uses,
        earlier_counts=True,
        language=teaching.language,
        pictures=[
            {"name": each.name, "file": each.file_digest, "words": each.words}
            for each in teaching.pictures
        ],
        questions=[
            {"words": each.words, "answers": list(each.answers), "leads_to": each.leads_to}
            for each in teaching.questions
        ],
        questions_first=teaching.questions_first,
        refresher_months=short.months if short else None,
        refresher_content=short.content if short else "",
        refresher_basis=short.basis if short else "",
        refresher_validity_months=short.validity_months if short else None,
        edited_by_id=actor_id,
        edited_at=now,
    )
    session.add(draft)
    log_draft(session, draft, "begin", actor_id=actor_id, now=now)
    return draft


def change(session: Session, draft: InductionDraft, values: Mapping[str, Any]) -> None:
    """Set the draft's words and numbers. Refused, in one sentence, where one cannot be.

    ``values``: title, content, items ([{"words", "essential", "in_refresher"}]), requires
    (induction ids), validity_months, validity_basis, group_size, supervised_uses,
    earlier_counts, and of the teaching: language, questions ([{"words", "answers",
    "leads_to"}]), questions_first, and the four of the refresher. What only stands in the way
    of publishing is asked by `why_not_yet`: a text may wait for its pictures.
    """
    insist_on_open(draft)
    _insist_on_words(values)
    _insist_on_numbers(values)
    known = set(session.execute(select(Induction.id)).scalars())
    if not set(values["requires"]) <= known - {draft.induction_id}:
        raise _refused("One of the inductions that come first does not exist.")
    for name, value in values.items():
        setattr(draft, name, value)


def _insist_on_words(values: Mapping[str, Any]) -> None:
    if not 1 <= len(values["title"]) <= 200:
        raise _refused("An induction has a title of at most 200 characters.")
    if max(len(values["content"]), len(values.get("refresher_content", ""))) > MOST_CONTENT:
        raise _refused(f"What is told has at most {MOST_CONTENT} characters.")
    if len(values.get("questions", ())) > MOST_QUESTIONS:
        raise _refused(f"At most {MOST_QUESTIONS} questions: the rest is seen done.")
    if len(values["items"]) > MOST_ITEMS:
        raise _refused(f"At most {MOST_ITEMS} items: more is two inductions.")
    for item in values["items"]:
        if not 1 <= len(item["words"]) <= MOST_WORDS:
            raise _refused(f"An item has 1 to {MOST_WORDS} characters.")


def _insist_on_numbers(values: Mapping[str, Any]) -> None:
    months, group = values["validity_months"], values["group_size"]
    for each in (months, values.get("refresher_validity_months")):
        if each is not None and each not in MONTHS:
            raise _refused(
                f"It is good for {MONTHS[0]} to {MONTHS[-1]} months, or does not run out."
            )
    if months is not None and not values["validity_basis"]:
        raise _refused("Say what the months rest on: a law, the maker, common practice.")
    if group is not None and group not in GROUP:
        raise _refused(f"A group has {GROUP[0]} to {GROUP[-1]} people.")
    if not 0 <= values["supervised_uses"] <= MOST_SUPERVISED_USES:
        raise _refused(f"At most {MOST_SUPERVISED_USES} watched uses.")


def publish_draft(
    session: Session, draft: InductionDraft, *, actor_id: int, now: datetime
) -> Induction:
    """Publish a draft as the induction's next wording, or as a new induction's first."""
    insist_on_open(draft)
    induction = _induction(session, draft)
    publish(
        session,
        induction,
        content=draft.content,
        items=[(item["words"], item["essential"]) for item in draft.items],
        requires=draft.requires,
        validity_months=draft.validity_months,
        validity_basis=draft.validity_basis,
        earlier_counts=draft.earlier_counts,
        group_size=draft.group_size,
        supervised_uses=draft.supervised_uses,
        teaching=teaching_of_draft(draft),
        in_refresher=_in_refresher(draft),
        actor_id=actor_id,
        now=now,
    )
    draft.induction_id, draft.published_at = induction.id, now
    draft.version += 1
    return induction


def teaching_of_draft(draft: InductionDraft) -> Teaching:
    """Return how a draft would be taught."""
    return Teaching(
        language=draft.language,
        pictures=tuple(
            Picture(name=each["name"], file_digest=each["file"], words=each["words"])
            for each in draft.pictures or ()
        ),
        questions=tuple(
            Question(words=each["words"], answers=tuple(each["answers"]), leads_to=each["leads_to"])
            for each in draft.questions or ()
        ),
        questions_first=bool(draft.questions_first),
        refresher=None
        if draft.refresher_months is None
        else Refresher(
            months=draft.refresher_months,
            content=draft.refresher_content,
            basis=draft.refresher_basis,
            validity_months=draft.refresher_validity_months,
        ),
    )


def items_of(draft: InductionDraft) -> list[dict[str, Any]]:
    """Return a draft's items; one begun on an earlier day knows no shorter path."""
    return [{"in_refresher": False, **item} for item in draft.items]


def _in_refresher(draft: InductionDraft) -> set[int]:
    return {i for i, item in enumerate(items_of(draft), 1) if item["in_refresher"]}


def why_not_yet(draft: InductionDraft) -> str | None:
    """Return, in one sentence, what stands in the way of publishing a draft; None: nothing."""
    essential = {i for i, item in enumerate(draft.items, 1) if item["essential"]}
    try:
        insist_on_teaching(teaching_of_draft(draft), draft.content, _in_refresher(draft), essential)
    except Refused as refusal:
        return refusal.sentence
    if not essential:
        return "An induction needs at least one essential item to be seen."
    return None


def _induction(session: Session, draft: InductionDraft) -> Induction:
    if draft.induction_id is not None:
        return session.get_one(Induction, draft.induction_id)
    if session.execute(select(Induction.id).where(Induction.title == draft.title)).first():
        raise Refused(
            f"There is an induction called {draft.title} already. Give this one another title, "
            "or begin the next wording of that one.",
            code="title-taken",
            status=422,
        )
    induction = Induction(title=draft.title)
    session.add(induction)
    session.flush()
    return induction


def log_draft(
    session: Session, draft: InductionDraft, verb: str, *, actor_id: int, now: datetime
) -> None:
    """Write into the log what was done to a draft."""
    session.flush()
    log.record(
        session,
        action=f"inductions:draft:{verb}",
        subject=f"induction_draft:{draft.id}",
        actor_id=actor_id,
        now=now,
        detail={"version": draft.version},
    )


def _refused(sentence: str) -> Refused:
    return Refused(sentence, code="induction", status=422)
