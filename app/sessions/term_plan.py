"""Term plans: begun, asked again, changed and published. Each in one transaction, with the log."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.audit import log
from app.errors import BadInput, NotFound, Refused
from app.jobs import outbox
from app.jobs.models import Job
from app.sessions.asked import Asked, insist_on_sense, read_asked
from app.sessions.given import give
from app.sessions.ground import Ground, ground
from app.sessions.models import TermPlan
from app.sessions.proposal import Proposal, read_proposal
from app.sessions.propose import TERM_PLAN_JOB
from app.sessions.rules import Wrong, wrongs
from app.sessions.wall import instant

SAID_AT_MOST = 8  # things that are wrong, in one refusal


class Overtaken(Refused):
    """Somebody changed the plan after the page was drawn; nothing was changed."""

    def __init__(self) -> None:
        super().__init__(
            "Somebody changed this plan after you opened the page. Theirs stands as shown here; "
            "yours was not saved. Look at it, and send yours again if it still fits.",
            code="overtaken",
        )


class Impossible(Refused):
    """A change that cannot happen, with everything that is wrong with it."""

    def __init__(self, wrong: list[str]) -> None:
        more = len(wrong) - SAID_AT_MOST
        said = [*wrong[:SAID_AT_MOST], *([f"And {more} more."] if more > 0 else [])]
        super().__init__(" ".join(("Nothing was changed.", *said)), code="impossible", status=422)


def plan_or_404(session: Session, plan_id: int) -> TermPlan:
    plan = session.get(TermPlan, plan_id)
    if plan is None:
        raise NotFound("There is no such plan.")
    return plan


def plans(session: Session) -> list[TermPlan]:
    """Return all plans, the one that begins last first."""
    return list(
        session.execute(
            select(TermPlan).order_by(TermPlan.first_on.desc(), TermPlan.id.desc())
        ).scalars()
    )


def begin(
    session: Session,
    *,
    name: str,
    first_on: date,
    last_on: date,
    asked: Asked,
    actor_id: int,
    now: datetime,
) -> TermPlan:
    """Begin a plan, and ask the worker for a proposal."""
    plan = TermPlan(
        name=_named(name),
        first_on=first_on,
        last_on=last_on,
        asked=_sensible(asked, first_on, last_on),
        made_by_id=actor_id,
        made_at=now,
        version=1,
    )
    session.add(plan)
    session.flush()
    _ask(session, plan, "sessions:plan:begin", actor_id, now)
    return plan


def ask_again(
    session: Session,
    plan: TermPlan,
    *,
    name: str,
    first_on: date,
    last_on: date,
    asked: Asked,
    seen: int,
    actor_id: int,
    now: datetime,
) -> None:
    """Let a plan be proposed anew, for what is asked now. What was changed by hand goes."""
    claim(plan, seen)
    plan.name, plan.first_on, plan.last_on = _named(name), first_on, last_on
    plan.asked = _sensible(asked, first_on, last_on)
    plan.proposed = None
    _ask(session, plan, "sessions:plan:ask-again", actor_id, now)


def _named(name: str) -> str:
    if not name.strip():
        raise BadInput("Give the plan a name.", status=422)
    return name.strip()


def _sensible(asked: Asked, first_on: date, last_on: date) -> dict[str, object]:
    insist_on_sense(asked, first_on=first_on, last_on=last_on)
    return asked.as_json()


def _ask(session: Session, plan: TermPlan, action: str, actor_id: int, now: datetime) -> None:
    payload = {"plan": plan.id, "version": plan.version}
    outbox.ask(
        session,
        TERM_PLAN_JOB,
        key=_key(plan),
        payload=payload,
        now=now,
        title=f"Proposal for {plan.name}",
        asked_by_id=actor_id,
        page=f"/plans/{plan.id}",
    )
    log.record(session, action=action, subject=f"term_plan:{plan.id}", actor_id=actor_id, now=now)


def _key(plan: TermPlan) -> str:
    return f"{TERM_PLAN_JOB}:{plan.id}:{plan.version}"


def job_of(session: Session, plan: TermPlan) -> Job | None:
    """Return the job that the plan waits for."""
    return session.execute(select(Job).where(Job.key == _key(plan))).scalar_one_or_none()


# --- what it rests on --------------------------------------------------------------------


def proposal_of(plan: TermPlan) -> Proposal:
    if plan.proposed is None:
        raise Refused("This plan is still being proposed: wait for it.", code="waiting")
    return read_proposal(plan.proposed)


def ground_of(
    session: Session, plan: TermPlan, people: Iterable[int], *, now: datetime, zone: ZoneInfo
) -> Ground:
    return ground(
        session,
        read_asked(plan.asked),
        plan.first_on,
        plan.last_on,
        people,
        now=now,
        zone=zone,
    )


# --- changed by hand ---------------------------------------------------------------------


def claim(plan: TermPlan, seen: int) -> None:
    """Let this save be the next version. To be called with the write lock held.

    Raises:
        Overtaken: the page was drawn from another version.
        Refused: the plan is published.
    """
    if plan.published_at is not None:
        raise Refused(
            "This plan is published: its sessions are changed one by one.", code="published"
        )
    if seen != plan.version:
        raise Overtaken
    plan.version += 1


def change(
    session: Session,
    plan: TermPlan,
    new: Proposal,
    *,
    seen: int,
    what: str,
    actor_id: int,
    now: datetime,
    zone: ZoneInfo,
) -> None:
    """Keep a plan as it was changed by hand, unless that brings something impossible.

    What was wrong before stops no change: it may be the one that mends it.

    Raises:
        Impossible: with everything that would be wrong now and was not before.
    """
    before = proposal_of(plan)
    claim(plan, seen)
    people = before.people() | new.people()
    on = ground_of(session, plan, people, now=now, zone=zone)
    known = {_words(it) for it in wrongs(on, before) if it.stops}
    found = [it.sentence for it in wrongs(on, new) if it.stops and _words(it) not in known]
    if found:
        raise Impossible(list(dict.fromkeys(found)))
    plan.proposed = new.as_json()
    log.record(
        session,
        action=f"sessions:plan:{what}",
        subject=f"term_plan:{plan.id}",
        actor_id=actor_id,
        now=now,
        detail={"version": plan.version},
    )


def _words(wrong: Wrong) -> tuple[int, str]:
    return wrong.number, wrong.sentence


# --- published ---------------------------------------------------------------------------


def publish(
    session: Session, plan: TermPlan, *, seen: int, actor_id: int, now: datetime, zone: ZoneInfo
) -> int:
    """Publish every session of a plan with its people, all or none; return how many.

    Raises:
        Impossible: with everything that is wrong by now.
    """
    proposal = proposal_of(plan)
    claim(plan, seen)
    if not proposal.sessions:
        raise Refused("There is no session to publish.", code="empty", status=422)
    on = ground_of(session, plan, proposal.people(), now=now, zone=zone)
    found = [it.sentence for it in wrongs(on, proposal) if it.stops]
    if found:
        raise Impossible(list(dict.fromkeys(found)))
    for it in proposal.in_order():
        give(
            session,
            induction_id=it.induction,
            area=on.areas[it.room],
            technician_id=it.technician,
            starts_at=instant(plan.first_on, it.start, zone),
            ends_at=instant(plan.first_on, it.end, zone),
            places=it.places,
            people=it.people,
            actor_id=actor_id,
            now=now,
        )
    plan.published_at = now
    log.record(
        session,
        action="sessions:plan:publish",
        subject=f"term_plan:{plan.id}",
        actor_id=actor_id,
        now=now,
        detail={"sessions": len(proposal.sessions)},
    )
    return len(proposal.sessions)
