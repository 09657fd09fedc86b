"""Short questions on an induction: how they are shown, marked and kept.

They help somebody to find out what they have not understood yet. Answers clear nobody: that is
shown by doing, and signed by a technician who saw it. Nothing here writes a training record.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import Forbidden, Refused
from app.inductions.models import QuestionTry
from app.inductions.published import Published
from app.inductions.teaching import Question

RIGHT, NOT_ANSWERED = 0, -1


def order_shown(question: Question) -> list[int]:
    """Return the positions of the answers in the order in which a page shows them. Pure.

    The first that is written is the right one, so that the order written gives it away. The
    order shown follows from the words alone: the same for everybody, each time.
    """
    marks = [hashlib.sha256(each.encode()).digest() for each in (question.words, *question.answers)]
    return sorted(
        range(len(question.answers)),
        key=lambda n: hashlib.sha256(marks[0] + marks[n + 1]).digest(),
    )


@dataclass(frozen=True, kw_only=True)
class Marked:
    """Answers, looked through: by position of the question, from 0."""

    chosen: tuple[int, ...]  # the answers as they are written; 0 is right, -1 not answered

    @property
    def all_right(self) -> bool:
        return all(each == RIGHT for each in self.chosen)

    @property
    def wrong(self) -> list[int]:
        """Return which questions were not answered rightly."""
        return [i for i, each in enumerate(self.chosen) if each != RIGHT]


def marked(questions: Sequence[Question], shown: Sequence[int | None]) -> Marked:
    """Look answers through. Pure.

    ``shown``: for each question the place of the chosen answer on the page, None where none
    was chosen. Refused where a place is not on the page.
    """
    chosen = []
    for question, place in zip(questions, shown, strict=True):
        order = order_shown(question)
        if place is not None and place >= len(order):
            raise Refused("That answer is not on the page. Open it again.", code="page", status=400)
        chosen.append(NOT_ANSWERED if place is None else order[place])
    return Marked(chosen=tuple(chosen))


def keep_try(
    session: Session,
    taught: Published,
    *,
    key: str,
    person_id: int,
    answers: Marked,
    actor_id: int,
    now: datetime,
) -> QuestionTry:
    """Keep what somebody answered. A form that was sent before returns what was kept of it."""
    before = session.execute(select(QuestionTry).where(QuestionTry.key == key)).scalar_one_or_none()
    if before is not None:
        if before.person_id != person_id or before.revision_id != taught.revision_id:
            raise Forbidden("That form belongs to somebody else’s answers.")
        return before
    row = QuestionTry(
        key=key,
        person_id=person_id,
        revision_id=taught.revision_id,
        chosen=list(answers.chosen),
        all_right=answers.all_right,
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(row)
    session.flush()
    log.record(
        session,
        action="inductions:questions:answer",
        subject=f"person:{person_id}",
        actor_id=actor_id,
        now=now,
        detail={"induction": taught.id, "number": taught.number, "all_right": row.all_right},
    )
    return row


def answered_rightly(
    session: Session, taught: Published, person_ids: Iterable[int]
) -> frozenset[int]:
    """Return who of these answered every question of the wording taught now rightly, once.

    One statement; none where the wording has no questions.
    """
    if not taught.teaching.questions:
        return frozenset()
    return frozenset(
        session.execute(
            select(QuestionTry.person_id)
            .where(
                QuestionTry.revision_id == taught.revision_id,
                QuestionTry.person_id.in_(list(person_ids)),
                QuestionTry.all_right,
            )
            .distinct()
        ).scalars()
    )


def questions_wanting(session: Session, taught: Published, person_id: int) -> bool:
    """Say whether somebody has still to answer before a technician may pass them.

    Only where the wording asks for it. It is one more condition on a sign-off and stands for
    nothing of it.
    """
    return taught.teaching.questions_first and person_id not in answered_rightly(
        session, taught, [person_id]
    )


def latest_try(session: Session, taught: Published, person_id: int) -> QuestionTry | None:
    """Return what somebody answered last to the wording taught now."""
    return session.execute(
        select(QuestionTry)
        .where(QuestionTry.revision_id == taught.revision_id, QuestionTry.person_id == person_id)
        .order_by(QuestionTry.id.desc())
        .limit(1)
    ).scalar_one_or_none()
