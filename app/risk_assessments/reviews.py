"""An assessment is to be looked at again: opened once for each cause, closed by what came of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.dates import local_date
from app.db import stands
from app.errors import NotFound, Refused
from app.hazards.findings import findings_of, outdated
from app.hazards.models import Check, CheckResult, HazardFinding, Outcome
from app.machines.models import Machine, MachineMove
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import (
    Review,
    Revision,
    RevisionCheck,
    RevisionMachine,
    Trigger,
)
from app.site import Site

# Common practice; a site that wants it sooner sets an earlier day when it opens one itself.
DAYS_AFTER_FAILURE = 14
DAYS_AFTER_MOVE = 14
DAYS_BEFORE_DATE = 30  # a review is opened so long before its day
# A new edition of a limit can touch every assessment at once: nobody can look at all in a week.
MOST_PER_WEEK = 5
FIRST_AFTER_DAYS = 28

Stale = Callable[[Session, Sequence[HazardFinding]], Mapping[int, str]]


def open_review(
    session: Session,
    assessment_id: int,
    *,
    trigger: Trigger,
    why: str,
    due_on: date,
    key: str | None,
    actor_id: int | None,
    now: datetime,
) -> Review | None:
    """Open a review and return it; None where this very cause has opened one before.

    ``key`` names the cause, at most 100 characters; without one each call opens a review.
    ``actor_id`` None: the program found the cause by itself.
    """
    if key is not None and _known(session, key):
        return None
    review = Review(
        key=key,
        assessment_id=assessment_id,
        trigger=trigger,
        why=why,
        due_on=due_on,
        outcome="",
        recorded_by_id=actor_id,
        occurred_at=now,
        recorded_at=now,
    )
    session.add(review)
    session.flush()
    log.record(
        session,
        action="risk_assessments:review:open",
        subject=f"risk_assessment:{assessment_id}",
        actor_id=actor_id,
        now=now,
        detail={"review": review.id, "trigger": trigger.name, "due_on": due_on.isoformat()},
    )
    return review


def _known(session: Session, key: str) -> bool:
    return session.execute(select(Review.id).where(Review.key == key)).first() is not None


def close_review(
    session: Session, review: Review, *, outcome: str, actor_id: int, now: datetime
) -> None:
    """End a review by what came of it: a new revision, or why none is needed."""
    if not outcome.strip():
        raise Refused("Say what came of the review.", code="outcome-missing", status=422)
    if review.id not in {each.id for each in open_reviews(session, review.assessment_id)}:
        raise Refused("This review was closed already.", code="review-closed")
    session.add(
        Review(
            assessment_id=review.assessment_id,
            trigger=review.trigger,
            why=review.why,
            due_on=review.due_on,
            outcome=outcome.strip(),
            ends_id=review.id,
            recorded_by_id=actor_id,
            occurred_at=now,
            recorded_at=now,
        )
    )
    log.record(
        session,
        action="risk_assessments:review:close",
        subject=f"risk_assessment:{review.assessment_id}",
        actor_id=actor_id,
        now=now,
        detail={"review": review.id},
    )


def open_reviews(session: Session, assessment_id: int | None = None) -> list[Review]:
    """Return the reviews that are still to be done, the earliest first."""
    statement = select(Review).where(stands(Review))
    if assessment_id is not None:
        statement = statement.where(Review.assessment_id == assessment_id)
    return list(session.execute(statement.order_by(Review.due_on, Review.id)).scalars())


def review_or_404(session: Session, review_id: int) -> Review:
    """Return a review by its number; the row that closes one is none of its own."""
    review = session.get(Review, review_id)
    if review is None or review.ends_id is not None:
        raise NotFound("There is no such review.")
    return review


# --- what opens one by itself --------------------------------------------------------------


def open_after_failure(
    session: Session, result: CheckResult, *, actor_id: int, now: datetime, site: Site
) -> list[Review]:
    """Open a review of each assessment in force that relies on a check which has just failed.

    One that is still open because of the same check is enough: a check that fails each morning
    asks for one review and not for thirty.
    """
    if result.outcome is not Outcome.FAILED:
        return []
    title = session.get_one(Check, result.check_id).title
    opened = []
    for assessment_id in _relying_on(session, result, now):
        cause = f"check:{result.check_id}:{assessment_id}:"
        if _open_because(session, assessment_id, cause):
            continue
        review = open_review(
            session,
            assessment_id,
            trigger=Trigger.CHECK_FAILED,
            why=f"{title} failed. Does the control do what the assessment relies on it for?",
            due_on=local_date(now, site.tz) + timedelta(days=DAYS_AFTER_FAILURE),
            key=f"{cause}{result.id}",
            actor_id=actor_id,
            now=now,
        )
        opened += [review] if review is not None else []
    return opened


def _relying_on(session: Session, result: CheckResult, now: datetime) -> list[int]:
    statement = (
        select(Revision.assessment_id)
        .join(RevisionCheck, RevisionCheck.revision_id == Revision.id)
        .where(RevisionCheck.check_id == result.check_id, in_force(now))
        .distinct()
        .order_by(Revision.assessment_id)
    )
    if result.machine_id is not None:
        statement = statement.join(
            RevisionMachine, RevisionMachine.revision_id == Revision.id
        ).where(RevisionMachine.machine_id == result.machine_id)
    return list(session.execute(statement).scalars())


def open_due(session: Session, *, now: datetime, site: Site, stale: Stale = outdated) -> int:
    """Open what time, moved machines and numbers that no longer stand ask for; return how many.

    Asked as often as one likes, each cause opens one review. It blocks nothing: a review is
    work for somebody, and what is in force stays in force. By itself this knows of the
    machines' data alone; whoever can also ask methods and limits passes a ``stale`` that does.
    """
    revisions = list(
        session.execute(select(Revision).where(in_force(now)).order_by(Revision.id)).scalars()
    )
    opened = [
        review
        for found in (
            _by_date(session, revisions, now, site),
            _by_move(session, revisions, now, site),
            _by_number(session, revisions, now, site, stale),
        )
        for review in found
        if review is not None
    ]
    return len(opened)


def _by_date(
    session: Session, revisions: list[Revision], now: datetime, site: Site
) -> Iterator[Review | None]:
    soon = local_date(now, site.tz) + timedelta(days=DAYS_BEFORE_DATE)
    for revision in revisions:
        if revision.review_due_on <= soon:
            yield open_review(
                session,
                revision.assessment_id,
                trigger=Trigger.DATE,
                why=f"Revision {revision.number} is to be reviewed by its date.",
                due_on=revision.review_due_on,
                key=f"date:{revision.id}",
                actor_id=None,
                now=now,
            )


def _by_move(
    session: Session, revisions: list[Revision], now: datetime, site: Site
) -> Iterator[Review | None]:
    """A machine in another room has other extraction, other neighbours, another way out."""
    moves = session.execute(
        select(MachineMove, Machine.name, Revision)
        .join(Machine, Machine.id == MachineMove.machine_id)
        .join(RevisionMachine, RevisionMachine.machine_id == MachineMove.machine_id)
        .join(Revision, Revision.id == RevisionMachine.revision_id)
        .where(
            Revision.id.in_([revision.id for revision in revisions]),
            MachineMove.occurred_at > Revision.submitted_at,
        )
        .order_by(MachineMove.id, Revision.id)
    ).all()
    for move, name, revision in moves:
        yield open_review(
            session,
            revision.assessment_id,
            trigger=Trigger.MACHINE,
            why=f"{name} stands in another area now: the room is new.",
            due_on=local_date(now, site.tz) + timedelta(days=DAYS_AFTER_MOVE),
            key=f"move:{move.id}:{revision.assessment_id}",
            actor_id=None,
            now=now,
        )


def _by_number(
    session: Session, revisions: list[Revision], now: datetime, site: Site, stale: Stale
) -> Iterator[Review | None]:
    """Numbers beside the hazard lines that would come out differently today."""
    weeks = _Weeks(open_reviews(session), first=local_date(now, site.tz))
    for assessment_id in sorted({revision.assessment_id for revision in revisions}):
        rows = findings_of(session, assessment_id)
        why = dict(stale(session, rows)) if rows else {}
        if not why:
            continue
        of_the_machine = bool(outdated(session, [row for row in rows if row.id in why]))
        trigger = Trigger.MACHINE if of_the_machine else Trigger.LIMIT
        cause = sha256(repr(sorted(why.items())).encode()).hexdigest()[:32]
        key = f"number:{assessment_id}:{cause}"
        if _known(session, key) or _open_because(session, assessment_id, "number:"):
            continue
        yield open_review(
            session,
            assessment_id,
            trigger=trigger,
            why=f"{_count(len(why))} no longer stands as it was frozen. {next(iter(why.values()))}",
            due_on=weeks.take(),
            key=key,
            actor_id=None,
            now=now,
        )


def _open_because(session: Session, assessment_id: int, cause: str) -> bool:
    return any(
        (review.key or "").startswith(cause) for review in open_reviews(session, assessment_id)
    )


def _count(number: int) -> str:
    return "A number" if number == 1 else f"Each of {number} numbers"


class _Weeks:
    """Due days for reviews that one cause opens together: so many a week, from four weeks on."""

    def __init__(self, already: list[Review], *, first: date) -> None:
        self.first = first + timedelta(days=FIRST_AFTER_DAYS)
        self.taken = Counter(
            (review.due_on - self.first).days // 7
            for review in already
            if (review.key or "").startswith("number:") and review.due_on >= self.first
        )

    def take(self) -> date:
        """Return the last day of the first week that has room, and take a place in it."""
        week = 0
        while self.taken[week] >= MOST_PER_WEEK:
            week += 1
        self.taken[week] += 1
        return self.first + timedelta(days=7 * week + 6)
