"""The worker's part: gather what a plan rests on, ask the solver, and keep what it proposes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from app.audit import log
from app.clock import Clock
from app.db import Database
from app.errors import Refused
from app.jobs.task import Task
from app.jobs.worker import Handler
from app.planning.plan import Plan, Unplaced, Why
from app.planning.solve import WORK, propose
from app.sessions.asked import read_asked
from app.sessions.ground import Ground, ground
from app.sessions.models import TermPlan
from app.sessions.needs import Question, candidates, question
from app.sessions.proposal import Planned, Proposal
from app.sessions.rules import wrongs
from app.site import site

TERM_PLAN_JOB = "term-plan"


def handlers(database: Database, clock: Clock, *, work: float = WORK) -> dict[str, Handler]:
    """Return what the worker does for a term plan. Done again, it changes nothing."""

    def term_plan(task: Task) -> None:
        payload = task.payload
        with database.read() as session:
            plan = _asked_for(session, payload)
            if plan is None:
                return
            on, asked_for = _question(session, plan, clock)
        # The solver takes up to half a minute: nothing is locked meanwhile.
        task.tell("asking the solver")
        proposal = _proposal(on, asked_for, work)
        with database.write() as session:
            plan = _asked_for(session, payload)
            if plan is not None:
                _keep(session, plan, proposal, clock)

    return {TERM_PLAN_JOB: term_plan}


def _asked_for(session: Session, payload: Mapping[str, Any]) -> TermPlan | None:
    """Return the plan while it still waits for just this proposal."""
    plan = session.get(TermPlan, payload["plan"])
    if plan is None or plan.version != payload["version"] or plan.published_at is not None:
        return None
    return plan


def _question(session: Session, plan: TermPlan, clock: Clock) -> tuple[Ground, Question]:
    asked = read_asked(plan.asked)
    people = candidates(session, asked)
    on = ground(
        session,
        asked,
        plan.first_on,
        plan.last_on,
        people,
        now=clock.now(),
        zone=site(session).tz,
    )
    return on, question(on, asked, people)


def _keep(session: Session, plan: TermPlan, proposal: Proposal, clock: Clock) -> None:
    plan.proposed = proposal.as_json()
    plan.version += 1
    log.record(
        session,
        action="sessions:plan:propose",
        subject=f"term_plan:{plan.id}",
        actor_id=None,
        now=clock.now(),
        detail={"sessions": len(proposal.sessions), "unplaced": len(proposal.unplaced())},
    )


def _proposal(on: Ground, asked_for: Question, work: float) -> Proposal:
    nothing = Proposal(
        needs=(*asked_for.ask.needs, *(apart.need for apart in asked_for.apart)),
        reasons={
            (apart.need.person, apart.need.induction): apart.sentence for apart in asked_for.apart
        },
        left_out=asked_for.left_out,
    )
    try:
        found = propose(asked_for.ask, work=work)
    except Refused as refusal:
        why = "No session was proposed."
        return replace(
            nothing,
            sentence=refusal.sentence,
            reasons={(n.person, n.induction): why for n in asked_for.ask.needs}
            | dict(nothing.reasons),
        )
    return possible(on, _as_proposal(nothing, found, on))


def _as_proposal(nothing: Proposal, found: Plan, on: Ground) -> Proposal:
    return replace(
        nothing,
        sessions=tuple(
            Planned(
                number=number,
                induction=it.course,
                start=it.start,
                end=it.end,
                room=it.room,
                technician=it.technician,
                places=min(on.courses[it.course].group_most, on.rooms[it.room].seats),
                people=it.people,
            )
            for number, it in enumerate(found.sessions, 1)
        ),
        reasons={(it.person, it.course): _why(on, it) for it in found.unplaced}
        | dict(nothing.reasons),
        helpful=found.most_helpful,
        word=found.word,
    )


def _why(on: Ground, it: Unplaced) -> str:
    """Return the solver's sentence; with a name, where it knows no title of what comes first."""
    if it.why is not Why.PREREQUISITE_NOT_ASKED:
        return it.sentence
    lacked = [
        on.title(first)
        for first in on.courses[it.course].requires
        if first not in on.courses and not on.holds(it.person, first)
    ]
    if not lacked:
        return it.sentence
    return (
        f"“{on.title(it.course)}” comes after “{lacked[0]}”, which they do not hold and this plan "
        "does not give."
    )


def possible(on: Ground, proposal: Proposal) -> Proposal:
    """Take people out of sessions that they cannot come to, and say why.

    The solver does not know of the places that people have in published sessions, nor of
    what runs out in the middle of the plan. Without the one, another may not be possible
    either: so it is asked again until all is well.
    """
    dropped = False
    while True:
        stopped = [it for it in wrongs(on, proposal) if it.stops and it.person is not None]
        if not stopped:
            break
        dropped = True
        for wrong in stopped:
            session = proposal.session(wrong.number)
            if session is None or wrong.person not in session.people:
                continue
            left = tuple(person for person in session.people if person != wrong.person)
            proposal = _without_one(proposal, session, left, wrong.sentence)
    # A plan from which somebody was taken is not the one that was proved.
    return replace(proposal, word=FOUND_AND_CUT if dropped else proposal.word)


FOUND_AND_CUT = (
    "Proposed without knowing of places in other sessions: those who cannot come were taken out."
)


def _without_one(proposal: Proposal, session: Planned, left: tuple[int, ...], why: str) -> Proposal:
    gone = set(session.people) - set(left)
    others = tuple(it for it in proposal.sessions if it.number != session.number)
    kept = (*others, replace(session, people=left)) if left else others
    return replace(
        proposal,
        sessions=kept,
        reasons={**proposal.reasons, **{(person, session.induction): why for person in gone}},
    )
