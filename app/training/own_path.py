"""A person's own inductions in order: what they hold, what is open to them, what comes first."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.inductions.order import in_order, open_steps
from app.inductions.published import published
from app.inductions.questions import answered_rightly
from app.inductions.refresher import Path
from app.machines.models import Machine
from app.people.identity import Actor
from app.risk_assessments.in_force import in_force
from app.risk_assessments.models import Revision, RevisionInduction, RevisionMachine
from app.training.signing import signing_facts
from app.training.standing import State


@dataclass(frozen=True, kw_only=True)
class OwnInduction:
    """One induction as it stands to one person."""

    id: int
    title: str
    state: State
    expires_on: date | None  # of what they hold; None: it does not run out, or they hold nothing
    first: tuple[str, ...]  # what they still lack before it, in order; none: it is open to them
    shorter: bool  # the shorter path is open to them
    questions: int  # that it asks
    answered: bool
    machines: tuple[str, ...]  # that ask for it

    @property
    def held(self) -> bool:
        return self.state in (State.CURRENT, State.SUPERVISED)


def own_path(session: Session, me: Actor, *, now: datetime, zone: ZoneInfo) -> list[OwnInduction]:
    """Return every induction that is taught, in the order in which it can be taken.

    Four statements; one more for each induction with questions, and what `published` reads once
    for each publication.
    """
    facts = signing_facts(session, me, me.id, now=now, zone=zone)
    machines = _machines(session, now)
    found = []
    for entry in in_order(facts.taught):
        taught = published(session, entry.id)
        state = facts.state(me.id, entry.id)
        latest = facts.latest.get(entry.id)
        lacking = open_steps(
            facts.taught, entry.id, lambda i: facts.state(me.id, i) is State.CURRENT
        )
        found.append(
            OwnInduction(
                id=entry.id,
                title=entry.title,
                state=state,
                expires_on=latest.expires_on if latest is not None else None,
                first=tuple(each.title for each in lacking),
                shorter=facts.path_open(taught) is Path.REFRESHER,
                questions=len(taught.teaching.questions),
                answered=me.id in answered_rightly(session, taught, [me.id]),
                machines=tuple(machines[entry.id]),
            )
        )
    return found


def _machines(session: Session, now: datetime) -> dict[int, list[str]]:
    """Return the machines whose assessment in force asks for each induction, by name."""
    found: dict[int, list[str]] = defaultdict(list)
    rows = session.execute(
        select(RevisionInduction.induction_id, Machine.name)
        .distinct()
        .join(Revision, Revision.id == RevisionInduction.revision_id)
        .join(RevisionMachine, RevisionMachine.revision_id == Revision.id)
        .join(Machine, Machine.id == RevisionMachine.machine_id)
        .where(in_force(now), Machine.retired_on.is_(None))
        .order_by(Machine.name)
    )
    for induction_id, name in rows:
        found[induction_id].append(name)
    return found
